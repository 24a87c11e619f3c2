"""How every drill runs: question, silence to name it, confirmation, item after item.

Every item comes equally often, in an order drawn from seed and title, never twice in a row where
there are two items or more. The chart of a drill is N.C. throughout, so that no chord symbol gives an
answer away.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import count
from random import Random

from genex.errors import LineError
from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.asking import Drill
from genex.lines.ladders import degree_over
from genex.lines.note_slots import cells_of_bar
from genex.lines.phrase import VELOCITY
from genex.lines.placement import fingered, fretted_part, in_position, off_open_strings
from genex.lines.rhythm import Times
from genex.lines.study_plan import Answer, Choice, CueSpan, PlannedBar, StudyPlan, lay_out
from genex.said import Said
from genex.score import KITS, PERCUSSION, Meter, Mix, Note, Part, Role, TempoMap, Timeline
from genex.theory import Degree, NoteName, Pitch

DRONE_PROGRAM, CHORD_PROGRAM = 89, 4
PULSE_VELOCITIES = 92, 72
"""Of the first beat of a bar, and of the others."""


@dataclass(frozen=True)
class Question:
    """A question with its sound: chords are struck by another part than the lead.

    before                what is heard first, to set the key: chords of half a bar each
    asked, asked_chords   (pitches) one after another, sharing the question's bars evenly
    confirmed             pitches of the confirmation
    again                 the chords are struck again with it, a bar each
    root                  what the degrees of the lead's notes are counted from; None: each is one
    rhythm                when the one note that is asked is struck, from the bar line
    """

    text: str
    before: tuple[tuple[Pitch, ...], ...] = ()
    asked: tuple[Pitch, ...] = ()
    asked_chords: tuple[tuple[Pitch, ...], ...] = ()
    confirmed: tuple[Pitch, ...] = ()
    again: bool = False
    root: NoteName | None = None
    rhythm: Times = ()


def balanced(items: Sequence[str], rounds: int, rng: Random) -> list[str]:
    """Every item ``rounds`` times, each round in a new order, no item twice in a row if avoidable."""
    order: list[str] = []
    for _ in range(rounds):
        turn = list(items)
        rng.shuffle(turn)
        if order and len(turn) > 1 and turn[0] == order[-1]:
            swap = rng.randrange(1, len(turn))
            turn[0], turn[swap] = turn[swap], turn[0]
        order += turn
    return order


def drill_track(
    name: str,
    prompt: str,
    items: Sequence[str],
    question: Callable[[str, Sequence[int], Random], Question],
    timeline: Timeline,
    exercise: Drill,
    player: Player,
    *,
    drone: NoteName | None = None,
    pulse: bool = False,
    choices: Sequence[Choice] | None = None,
) -> StudyPlan:
    """The track of a drill: question, silence and confirmation of each item in turn.

    name     of the drill, which draws and parts have
    drone    the tonic that sounds below all of it
    pulse    wood blocks beat time throughout
    choices  what a sheet prints to choose from, if that is not the items themselves

    Raises LineError for no items, or one that is named twice.
    """
    if not items or len(set(items)) != len(items):
        raise LineError("a drill asks for one item or more, each named once", hint="name the items")
    allowed = in_position(player.tuning, exercise.position)
    order = balanced(items, exercise.rounds, Random(f"{player.seed}/{player.title}/{name}/order"))
    asked = [
        question(item, allowed, Random(f"{player.seed}/{player.title}/{name}/{number}"))
        for number, item in enumerate(order)
    ]
    meter = timeline.meter
    bar = meter.bar_beats
    before_bars = max(-(-len(one.before) // _chords_a_bar(meter)) for one in asked)
    ask_bars = before_bars + max(_bars_to_ask(one, bar) for one in asked)
    confirm_bars = max(_bars_to_confirm(one, meter) for one in asked)
    lead: list[Note] = []
    chords: list[Note] = []
    cues: list[CueSpan] = []
    starts: list[Fraction] = []
    each = ask_bars + exercise.think_bars + confirm_bars
    for number, one in enumerate(asked):
        start = each * number * bar
        think = start + ask_bars * bar
        confirm = think + exercise.think_bars * bar
        end = start + each * bar
        starts.append(start)
        chords += _struck(one.before, start, bar / _chords_a_bar(meter))
        question_start = start + before_bars * bar
        lead += _one_after_another(one, question_start, think - question_start)
        chords += _struck(one.asked_chords, question_start, bar)
        lead += _confirmation(one, confirm, meter)
        if one.again:
            chords += _struck(one.asked_chords, confirm, bar)
        cues += [
            CueSpan(start, think - start, Said("{number}. Listen", number=number + 1), "listen"),
            CueSpan(think, confirm - think, prompt, "play"),
            CueSpan(confirm, end - confirm, one.text, "answer"),
        ]
    played = fingered(lead, player.tuning, off_open_strings(exercise.position))
    parts = [fretted_part(player, Role.LEAD, played, f"{name}-drill")]
    if chords:
        parts.append(Part.of("question", Role.CUE, CHORD_PROGRAM, chords))
    bars = each * len(asked)
    if drone is not None:
        parts.append(Part.of("drone", Role.CUE, DRONE_PROGRAM, _drone(drone, bars, each, bar)))
    if pulse:
        parts.append(_pulse(bars, meter))
    track = lay_out(
        [
            PlannedBar.of(meter, None, Said("question {number}", number=index // each + 1))
            for index in range(bars)
        ],
        timeline.key,
        TempoMap.constant(timeline.tempo.tempo_at(Fraction(0))),
    )
    answers = tuple(
        Answer(
            number + 1,
            start,
            one.text,
            tuple(note for note in played if start <= note.onset_beats < start + each * bar),
        )
        for number, (start, one) in enumerate(zip(starts, asked, strict=True))
    )
    offered = [Choice(item) for item in items] if choices is None else choices
    return StudyPlan(track, tuple(parts), tuple(cues), answers, tuple(offered))


def drawn_root(allowed: Sequence[int], degrees: Sequence[Degree], rng: Random, item: str) -> Pitch:
    """A root that leaves room for its degrees above it, spelled with the fewest accidentals."""
    span = max(degree.semitones for degree in degrees)
    within = frozenset(allowed)
    roots = [midi for midi in allowed if midi + span in within]
    if not roots:
        raise LineError(f"the position has no room for a {item}", hint="choose another position")
    midi = rng.choice(roots)
    spellings = [Pitch.from_midi(midi, flats=flats) for flats in (True, False)]
    return min(
        spellings,
        key=lambda root: sum(abs(root.transpose(d.interval).name.alter) for d in degrees),
    )


def _one_after_another(one: Question, start: Fraction, length: Fraction) -> list[Note]:
    """The notes asked for; they share the time evenly, or have a rhythm."""
    if one.rhythm:
        return _in_rhythm(one, start)
    each = length / max(1, len(one.asked))
    return [
        Note(start + each * i, each, pitch, VELOCITY, degree=_degree_of(one, pitch))
        for i, pitch in enumerate(one.asked)
    ]


def _in_rhythm(one: Question, start: Fraction) -> list[Note]:
    (pitch,) = one.asked
    return [
        Note(start + onset, length, pitch, VELOCITY, degree=_degree_of(one, pitch))
        for onset, length in one.rhythm
    ]


def _degree_of(one: Question, pitch: Pitch) -> Degree:
    return degree_over(pitch.name if one.root is None else one.root, pitch.name)


def _struck(chords: Sequence[Sequence[Pitch]], start: Fraction, bar: Fraction) -> list[Note]:
    """Chords of ``bar`` beats each."""
    return [
        Note(start + bar * index, bar, pitch, 72)
        for index, tones in enumerate(chords)
        for pitch in tones
    ]


def _confirmation(one: Question, start: Fraction, meter: Meter) -> list[Note]:
    """The confirming notes: a bar each beside chords, else eighths, the last one held to the bar."""
    bar = meter.bar_beats
    if one.rhythm:
        return _in_rhythm(one, start)
    if one.again:
        return [
            Note(start + bar * i, bar, pitch, VELOCITY, degree=_degree_of(one, pitch))
            for i, pitch in enumerate(one.confirmed)
        ]
    times: list[tuple[Fraction, Fraction]] = []
    for used in count():
        for onset, end in cells_of_bar(meter, "eighths"):
            times.append((start + used * bar + onset, start + used * bar + end))
        if len(times) >= len(one.confirmed):
            break
    onsets = [onset for onset, _ in times[: len(one.confirmed)]]
    ends = [*onsets[1:], times[-1][1]]
    return [
        Note(onset, end - onset, pitch, VELOCITY, degree=_degree_of(one, pitch))
        for onset, end, pitch in zip(onsets, ends, one.confirmed, strict=True)
    ]


def _bars_to_confirm(one: Question, meter: Meter) -> int:
    if one.rhythm:
        return _bars_to_ask(one, meter.bar_beats)
    if one.again:
        return len(one.confirmed)
    return -(-len(one.confirmed) // len(cells_of_bar(meter, "eighths")))


def _drone(tonic: NoteName, bars: int, each: int, bar: Fraction) -> list[Note]:
    """The tonic and its fifth, low, struck anew with every question."""
    low = tonic.at_or_above(40)
    tones = (low, low.transpose(Degree(5).interval))
    return [
        Note(start * bar, each * bar, pitch, 55) for start in range(0, bars, each) for pitch in tones
    ]


def _bars_to_ask(one: Question, bar: Fraction) -> int:
    if one.rhythm:
        onset, length = one.rhythm[-1]
        return int(-(-(onset + length) // bar))
    return len(one.asked_chords) or 1


def _chords_a_bar(meter: Meter) -> int:
    """Chords of half a bar where a bar can be halved on a beat."""
    return 1 if len(meter.pulses) % 2 else 2


def _pulse(bars: int, meter: Meter) -> Part:
    """Wood blocks on every beat: without them nobody hears what is off it."""
    high, low = (Pitch.from_midi(PERCUSSION[f"{word} wood block"]) for word in ("high", "low"))
    accent, beat = PULSE_VELOCITIES
    notes = [
        Note(
            number * meter.bar_beats + onset,
            Fraction(1, 8),
            low if onset else high,
            beat if onset else accent,
        )
        for number in range(bars)
        for onset in meter.pulses
    ]
    return Part.of("pulse", Role.CLICK, KITS["standard"], notes, mix=Mix(level_db=-6.0, room=0.0))
