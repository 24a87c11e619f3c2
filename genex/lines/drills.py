"""Recognition drills: a question in sound, silence to name it, and a confirmation in sound.

interval      two notes; then the way from one to the other, step by step of the scale
chord         a chord struck as one; then its arpeggio from the root up
degree        a note over a drone of the tonic; then its way home to the tonic by step
progression   chords; then the same chords with their roots picked out by the lead

Every item comes equally often, in an order drawn from the seed, never twice in a row where
there are two items or more. The chart of a drill is N.C. throughout, so that no chord symbol
gives an answer away.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import count
from random import Random

from genex.errors import ChordSymbolError, LineError, NotationError
from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.asking import Drill
from genex.lines.ladders import degree_over
from genex.lines.note_slots import cells_of_bar
from genex.lines.phrase import VELOCITY
from genex.lines.placement import fingered, fretted_part, in_position, off_open_strings
from genex.lines.study_plan import Answer, CueSpan, PlannedBar, StudyPlan, lay_out
from genex.score import Meter, Note, Part, Role, TempoMap, Timeline
from genex.theory import (
    Chord,
    Degree,
    Key,
    NoteName,
    Pitch,
    chord_from_numeral,
    describe,
    parse_chord,
    smoothest_path,
)

INTERVALS: dict[str, Degree] = {
    # name: the degree that it lies above a root
    "minor second": Degree(2, -1),
    "major second": Degree(2),
    "minor third": Degree(3, -1),
    "major third": Degree(3),
    "perfect fourth": Degree(4),
    "tritone": Degree(4, 1),
    "perfect fifth": Degree(5),
    "minor sixth": Degree(6, -1),
    "major sixth": Degree(6),
    "minor seventh": Degree(7, -1),
    "major seventh": Degree(7),
    "octave": Degree(8),
}

CHORDS = ("", "m", "dim", "aug", "7", "maj7", "m7", "m7b5")
"""Chord-symbol suffixes asked for unless others are chosen."""

PROGRESSIONS = {
    "major": ("I IV V I", "I vi ii V", "ii7 V7 Imaj7", "I V vi IV", "I IV I V"),
    "minor": ("i iv V i", "i bVI bVII i", "iim7b5 V7 im7", "i bVII bVI V", "i iv i V"),
}
"""Roman numerals asked for unless others are chosen, by mode."""

DRONE_PROGRAM, CHORD_PROGRAM = 89, 4

LOWEST_CHORD_MIDI = 52
"""Close chords lie from E3 up, where thirds are still clear [common practice]."""


@dataclass(frozen=True)
class _Question:
    """A question with its sound: chords are struck by another part than the lead.

    asked, asked_chords   (pitches) one after another, sharing the question's bars evenly
    confirmed             pitches of the confirmation
    again                 the chords are struck again with it, a bar each
    root                  what the degrees of the lead's notes are counted from; None: each is one
    """

    text: str
    asked: tuple[Pitch, ...] = ()
    asked_chords: tuple[tuple[Pitch, ...], ...] = ()
    confirmed: tuple[Pitch, ...] = ()
    again: bool = False
    root: NoteName | None = None


def drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """The track of a drill in a timeline's key, meter and tempo; its chords are not heard.

    Raises LineError for what cannot be asked, or not in the position.
    """
    asking = {
        "interval": interval_drill,
        "chord": chord_drill,
        "degree": degree_drill,
        "progression": progression_drill,
    }
    return asking[exercise.ask](timeline, exercise, player)


def interval_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Name the interval. Raises LineError for an interval that has no name here."""
    items = exercise.items if exercise.items is not None else tuple(INTERVALS)
    for item in items:
        if item not in INTERVALS:
            raise LineError(f"'{item}' is not an interval", hint=f"choose from {', '.join(INTERVALS)}")

    def question(item: str, allowed: Sequence[int], rng: Random) -> _Question:
        degree = INTERVALS[item]
        below = [Degree(n, min(0, degree.alter) if n in (3, 6) else 0) for n in range(1, degree.number)]
        low = _root(allowed, [*below, degree], rng, item)
        high = low.transpose(degree.interval)
        steps = _steps_to(low, degree)
        if exercise.direction == "descending":
            text, asked, way = f"{item} down: {high} {low}", (high, low), steps[::-1]
        else:
            text, asked, way = f"{item} up: {low} {high}", (low, high), steps
        if exercise.direction == "together":
            return _Question(f"{item}: {low} {high}", (), ((low, high),), way, root=low.name)
        return _Question(text, asked, (), way, root=low.name)

    return _drill("interval", "Which interval?", items, question, timeline, exercise, player)


def chord_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Name the chord's quality. Raises LineError for a suffix that is no chord."""
    items = exercise.items if exercise.items is not None else CHORDS
    for item in items:
        _chord(NoteName(0), item)

    def question(item: str, allowed: Sequence[int], rng: Random) -> _Question:
        degrees = _chord(NoteName(0), item).degrees
        root = _root(allowed, degrees, rng, item or "major triad")
        chord = _chord(root.name, item)
        tones = tuple(root.transpose(degree.interval) for degree in chord.degrees)
        text = f"{describe(chord).names[0]}: {chord} ({' '.join(map(str, chord.notes))})"
        return _Question(text, (), (tones,), tones, root=root.name)

    return _drill("chord", "Which chord?", items, question, timeline, exercise, player)


def degree_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Name the degree over a drone of the tonic. Raises LineError for what is not a degree."""
    key = timeline.key
    sevenths = list(key.degrees)
    items = exercise.items if exercise.items is not None else tuple(map(str, sevenths))
    for item in items:
        _degree(item)

    def question(item: str, allowed: Sequence[int], rng: Random) -> _Question:
        degree = _degree(item).simple
        homes = [m for m in allowed if m % 12 == key.tonic.pitch_class and m + 12 <= allowed[-1]]
        if not homes:
            raise LineError(
                f"position {exercise.position} holds no octave of {key.tonic}",
                hint=_positions_with_an_octave(key.tonic, player),
            )
        tonic = key.tonic.at_or_above(rng.choice(homes))
        note = tonic.transpose(degree.interval)
        way = _steps_home(tonic, degree, key)
        return _Question(f"{degree} in {key}: {note}", (note,), (), way, root=key.tonic)

    return _drill(
        "degree", "Which degree?", items, question, timeline, exercise, player, drone=key.tonic
    )


def progression_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Write down the progression. Raises LineError for what is not a Roman numeral."""
    key = timeline.key
    items = exercise.items if exercise.items is not None else PROGRESSIONS[key.plain_mode]
    for item in items:
        _progression(item, key)

    def question(item: str, allowed: Sequence[int], rng: Random) -> _Question:
        chords = _progression(item, key)
        voicings = smoothest_path([_close_voicings(chord) for chord in chords])
        roots = tuple(_near_middle(chord.root, allowed) for chord in chords)
        symbols = " ".join(str(chord) for chord in chords)
        return _Question(f"{item}: {symbols}", (), tuple(voicings), roots, True)

    return _drill("progression", "Which progression?", items, question, timeline, exercise, player)


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


def _drill(
    name: str,
    prompt: str,
    items: Sequence[str],
    question: Callable[[str, Sequence[int], Random], _Question],
    timeline: Timeline,
    exercise: Drill,
    player: Player,
    *,
    drone: NoteName | None = None,
) -> StudyPlan:
    """The track of a drill: question, silence and confirmation of each item in turn."""
    if not items or len(set(items)) != len(items):
        raise LineError("a drill asks for one item or more, each named once", hint="name the items")
    allowed = in_position(player.tuning, exercise.position)
    order = balanced(items, exercise.rounds, Random(f"{player.seed}/{name}/order"))
    asked = [
        question(item, allowed, Random(f"{player.seed}/{name}/{number}"))
        for number, item in enumerate(order)
    ]
    meter = timeline.meter
    bar = meter.bar_beats
    ask_bars = max(len(one.asked_chords) for one in asked) or 1
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
        lead += _one_after_another(one, start, ask_bars * bar)
        chords += _struck(one.asked_chords, start, bar)
        lead += _confirmation(one, confirm, meter)
        if one.again:
            chords += _struck(one.asked_chords, confirm, bar)
        cues += [
            CueSpan(start, think - start, f"{number + 1}. Listen", "listen"),
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
    track = lay_out(
        [PlannedBar.of(meter, None, f"question {index // each + 1}") for index in range(bars)],
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
    return StudyPlan(track, tuple(parts), tuple(cues), answers)


def _positions_with_an_octave(tonic: NoteName, player: Player) -> str:
    """The hint that says where an octave of the tonic can be had."""
    found = []
    for position in range(1, player.tuning.last_fret + 1):
        reach = in_position(player.tuning, position)
        if any(midi % 12 == tonic.pitch_class and midi + 12 <= reach[-1] for midi in reach):
            found.append(str(position))
    if not found:
        return "no position of this instrument has one: take another key or tuning"
    return f"position {', '.join(found)} {'has' if len(found) == 1 else 'have'} one"


def _root(allowed: Sequence[int], degrees: Sequence[Degree], rng: Random, item: str) -> Pitch:
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


def _steps_to(low: Pitch, degree: Degree) -> tuple[Pitch, ...]:
    """From a note up to a degree over it, by the steps of the scale that has it."""
    between = [
        Degree(n, -1 if degree.alter < 0 and n in (3, 6, 7) else 0) for n in range(1, degree.number)
    ]
    ladder = [low.transpose(d.interval) for d in between]
    top = low.transpose(degree.interval)
    return (*(pitch for pitch in ladder if pitch.midi < top.midi), top)


def _steps_home(tonic: Pitch, degree: Degree, key: Key) -> tuple[Pitch, ...]:
    """From a degree to the tonic by the steps of the key: up to the fourth down, from there on up."""
    start = tonic.transpose(degree.interval)
    if degree.number <= 4:
        below = [tonic.transpose(own.interval) for own in key.degrees[: degree.number - 1]]
        return (start, *(pitch for pitch in reversed(below) if pitch.midi < start.midi))
    above = [tonic.transpose(own.interval) for own in key.degrees[degree.number :]]
    home = tonic.transpose(Degree(8).interval)
    return (start, *(pitch for pitch in above if start.midi < pitch.midi), home)


def _chord(root: NoteName, suffix: str) -> Chord:
    try:
        return parse_chord(f"{root}{suffix}")
    except ChordSymbolError as error:
        raise LineError(
            f"'{suffix}' is not the quality of a chord", hint="write what follows the root: m7, dim"
        ) from error


def _degree(text: str) -> Degree:
    try:
        return Degree.parse(text)
    except NotationError as error:
        raise LineError(error.message, hint=error.hint) from error


def _progression(text: str, key: Key) -> list[Chord]:
    try:
        chords = [chord_from_numeral(numeral, key) for numeral in text.split()]
    except NotationError as error:
        raise LineError(error.message, hint=error.hint) from error
    if not chords:
        raise LineError("a progression of no chords", hint="write for example ii7 V7 Imaj7")
    return chords


def _close_voicings(chord: Chord) -> list[tuple[Pitch, ...]]:
    """The chord and its inversions in close position in the middle register."""
    found = []
    names = chord.notes
    for turn in range(len(names)):
        lowest = names[turn].at_or_above(LOWEST_CHORD_MIDI)
        tones = [lowest]
        for name in (*names[turn + 1 :], *names[:turn]):
            tones.append(name.at_or_above(tones[-1].midi + 1))
        found.append(tuple(tones))
    return found


def _near_middle(name: NoteName, allowed: Sequence[int]) -> Pitch:
    """The pitch of a name that lies nearest to the lower third of what the lead may play."""
    aim = allowed[len(allowed) // 3]
    found = [midi for midi in allowed if midi % 12 == name.pitch_class]
    if not found:
        raise LineError(f"the position holds no {name}", hint="choose another position")
    return name.at_or_above(min(found, key=lambda midi: (abs(midi - aim), midi)))


def _one_after_another(one: _Question, start: Fraction, length: Fraction) -> list[Note]:
    """The notes asked for; they share the time evenly."""
    each = length / max(1, len(one.asked))
    return [
        Note(start + each * i, each, pitch, VELOCITY, degree=_degree_of(one, pitch))
        for i, pitch in enumerate(one.asked)
    ]


def _degree_of(one: _Question, pitch: Pitch) -> Degree:
    return degree_over(pitch.name if one.root is None else one.root, pitch.name)


def _struck(chords: Sequence[Sequence[Pitch]], start: Fraction, bar: Fraction) -> list[Note]:
    """Chords of a bar each."""
    return [
        Note(start + bar * index, bar, pitch, 72)
        for index, tones in enumerate(chords)
        for pitch in tones
    ]


def _confirmation(one: _Question, start: Fraction, meter: Meter) -> list[Note]:
    """The confirming notes: a bar each beside chords, else eighths, the last one held to the bar."""
    bar = meter.bar_beats
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


def _bars_to_confirm(one: _Question, meter: Meter) -> int:
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
