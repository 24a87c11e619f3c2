"""Etudes over charts that nobody chose, to be read as a player: every note with its place on the neck.

    python -m tests.bench.read_etudes [FIRST] [COUNT]

A row a bar: its chords, and of each note the beat it is struck on, the pitch as it sounds, the degree of
the chord, the length in beats, and string, fret and finger. Levels take turns. ``>`` is a shift of the
hand within a phrase, ``~`` a roll, ``/`` a slide, ``|`` a rest before the note. At last what
``tests/lines/read_as_a_player.py`` counts over all of them, a row a level.
"""

from __future__ import annotations

import sys
from collections import Counter
from itertools import pairwise

from genex import compose_recipe, parse_recipe
from genex.exact import Fraction
from genex.fretboard.hand import HandMove
from genex.lines.measures import figures_of
from genex.score import Note, Score
from tests.lines.drawn_charts import drawn_lesson, drawn_phrases
from tests.lines.read_as_a_player import faults_of

_MOVES = {HandMove.SHIFT: ">", HandMove.ROLL: "~"}


def main(first: int, count: int) -> None:
    found: dict[int, Counter[str]] = {}
    for number in range(first, first + count):
        level = 1 + number % 6
        text = drawn_lesson(number, level)
        score = compose_recipe(parse_recipe(text)).score
        timeline = score.timeline
        bpm = float(timeline.tempo.tempo_at(Fraction(0)))
        feel = text.splitlines()[1]
        print(f"# {number}, level {level}, {feel}, {timeline.key}, {timeline.meter}, {bpm:.0f} bpm")
        print_line(score)
        found.setdefault(level, Counter()).update(faults_of(*drawn_phrases(number, level), level))
    for level, faults in sorted(found.items()):
        print(f"level {level}:", ", ".join(f"{name} {times}" for name, times in faults.items()))


def print_line(score: Score) -> None:
    timeline = score.timeline
    (part,) = (part for part in score.parts if part.name == "exercise")
    found = figures_of(timeline, part.notes)
    print(f"   {found}, leaps up to {found.largest_leap}")
    before = {id(b): a for a, b in pairwise(part.notes)}
    for bar in timeline.bars:
        chords = " ".join(timeline.chord_label(span) for span in timeline.chords_in(bar))
        own = [n for n in part.notes if bar.onset_beats <= n.onset_beats < bar.end_beats]
        told = " ".join(_note(n, before.get(id(n)), n.onset_beats - bar.onset_beats) for n in own)
        print(f"{bar.number:4}{bar.section[:1]} {chords:14} {told}")
    print()


def _note(note: Note, before: Note | None, into: Fraction) -> str:
    rest = "| " if before is not None and before.written_end_beats < note.onset_beats else ""
    off = into % 1
    at = f"{into // 1 + 1}" + {Fraction(0): "", Fraction(1, 2): "&"}.get(off, f"+{off}")
    place = note.fretting
    where = f"{place.string}/{place.fret}.{place.finger}" if place else ""
    move = _MOVES.get(place.move, "") if place else ""
    slide = "/" if note.slide is not None else ""
    length = note.duration_beats
    long = f"{length}" if length.denominator == 1 else f"{float(length):.2f}".rstrip("0")
    return f"{rest}{at}:{note.pitch}({note.degree}){long}@{move}{slide}{where}"


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:] or ("0", "6")))
