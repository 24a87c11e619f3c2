"""Rhythms to recognise: one note over a beat, a bar or two at a time.

A rhythm is written as cells are (``rhythm_cells.py``): a word a beat, ``x`` strikes, ``-`` holds,
``.`` rests, as many letters in a word as the beat is divided into.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from random import Random
from string import ascii_uppercase

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.asking import Drill
from genex.lines.drill_track import Question, drill_track
from genex.lines.rhythm import PhraseRhythm, Times, left_over
from genex.lines.study_plan import Choice, StudyPlan
from genex.said import Said
from genex.score import Meter, Timeline

RHYTHMS = {
    # (compound, beats of the bar): rhythms asked for unless others are chosen [common practice]
    (False, 2): ("x x", "x xx", "xx x", "xx xx", "x -x", ".x x"),
    (False, 3): ("x x x", "x - x", "x xx x", "xx x x", "x -x x", "xx xx x"),
    (False, 4): ("x x x -", "x xx x x", "xx x xx x", "x -x x x", "x . xx x", "xx -x x -"),
    (True, 2): ("x x", "x x-x", "x-x x", "xxx x", "x xxx", "x-x xxx"),
    (True, 3): ("x x x", "x - x-x", "x-x x x", "xxx x x", "x xxx x", "x-x x-x x"),
    (True, 4): ("x x x -", "x x-x x x", "x-x x x-x x", "xxx x xxx x", "x xxx x -", "x . xxx x"),
}
_WORD = re.compile(r"[x.-]{1,4}")


def rhythm_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Name the rhythm, by the letter that a sheet gives it. Raises LineError for what is none."""
    meter, key = timeline.meter, timeline.key
    items = exercise.items if exercise.items is not None else usual_rhythms(meter)
    if len(items) > len(ascii_uppercase):
        raise LineError(f"{len(items)} rhythms are too many to have a letter each", hint="name fewer")
    choices = {
        item: Choice(letter, times_of(item, meter))
        for letter, item in zip(ascii_uppercase, items, strict=False)
    }

    def question(item: str, allowed: Sequence[int], rng: Random) -> Question:
        middle = allowed[len(allowed) // 2]
        homes = [midi for midi in allowed if midi % 12 == key.tonic.pitch_class]
        pitch = key.tonic.at_or_above(min(homes, key=lambda midi: abs(midi - middle)))
        return Question(
            f"{choices[item].text}: {item}",
            asked=(pitch,),
            root=key.tonic,
            rhythm=choices[item].rhythm,
        )

    return drill_track(
        "rhythm", Said("Which rhythm?"), items, question, timeline, exercise, player,
        pulse=True, choices=tuple(choices.values()),
    )  # fmt: skip


def usual_rhythms(meter: Meter) -> tuple[str, ...]:
    """The rhythms asked for in a meter, a bar each."""
    pulses = len(meter.pulses)
    known = RHYTHMS.get((meter.is_compound, pulses))
    if known is not None:
        return known
    plain = ["x"] * pulses
    divided = "x-x" if meter.is_compound else "xx"
    return tuple(" ".join([*plain[:at], divided, *plain[at + 1 :]]) for at in range(min(pulses, 6)))


def times_of(text: str, meter: Meter) -> Times:
    """Onset and length of each note of a rhythm, in beats from its first bar line.

    Raises LineError for what is no rhythm, or does not fill bars of the meter.
    """
    words = text.split()
    pulses = len(meter.pulses)
    hint = f"write a word a beat, {pulses} a bar, for example {usual_rhythms(meter)[1]}"
    wrong = next((word for word in words if not _WORD.fullmatch(word)), None)
    if wrong is not None:
        raise LineError(f"'{wrong}' is not the rhythm of a beat", hint=hint)
    if not words or len(words) % pulses or len(words) > 2 * pulses:
        raise LineError(f"'{text}' does not fill one bar of {meter} or two", hint=hint)
    bars = tuple((*words[at : at + pulses], *left_over(meter)) for at in range(0, len(words), pulses))
    rhythm = PhraseRhythm(bars, (None,) * len(bars), meter)
    found = tuple(
        (number * meter.bar_beats + onset, length)
        for number, notes in enumerate(rhythm.bars)
        for onset, length in notes
    )
    if not found:
        raise LineError(f"'{text}' strikes nothing", hint=hint)
    return found
