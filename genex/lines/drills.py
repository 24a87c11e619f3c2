"""Recognition drills: a question in sound, silence to name it, and a confirmation in sound.

interval      two notes; then the way from one to the other, step by step of the scale
chord         a chord struck as one; then its arpeggio from the root up
inversion     a chord struck as one; then its tones from the lowest up
degree        a note over a drone of the tonic; then its way home to the tonic by step
cadence       a cadence and a note; then the note's way home
progression   chords; then the same chords with their roots picked out by the lead
bass          chords; then the same chords with their bass line played by the lead
rhythm        a rhythm on one note over a beat; then the same once more

How a drill runs stands in ``drill_track.py``; those of several chords in ``chord_drills.py``.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from genex.errors import ChordSymbolError, LineError, NotationError
from genex.exercises import Player
from genex.exercises.models.asking import Drill
from genex.lines.chord_drills import (
    CADENCES,
    bass_drill,
    inversion_drill,
    progression_drill,
    voiced,
)
from genex.lines.drill_track import Question, drawn_root, drill_track
from genex.lines.placement import in_position
from genex.lines.rhythm_drill import rhythm_drill
from genex.lines.study_plan import Choice, StudyPlan
from genex.said import Row, Said
from genex.score import Timeline
from genex.theory import Chord, Degree, Key, NoteName, Pitch, TypeName, parse_chord, without_clash

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


def drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """The track of a drill in a timeline's key, meter and tempo; its chords are not heard.

    Raises LineError for what cannot be asked, or not in the position.
    """
    asking = {
        "interval": interval_drill,
        "chord": chord_drill,
        "inversion": inversion_drill,
        "degree": degree_drill,
        "cadence": cadence_drill,
        "progression": progression_drill,
        "bass": bass_drill,
        "rhythm": rhythm_drill,
    }
    return asking[exercise.ask](timeline, exercise, player)


def interval_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Name the interval. Raises LineError for an interval that has no name here."""
    items = exercise.items if exercise.items is not None else tuple(INTERVALS)
    for item in items:
        if item not in INTERVALS:
            raise LineError(f"'{item}' is not an interval", hint=f"choose from {', '.join(INTERVALS)}")

    def question(item: str, allowed: Sequence[int], rng: Random) -> Question:
        degree = INTERVALS[item]
        below = [Degree(n, min(0, degree.alter) if n in (3, 6) else 0) for n in range(1, degree.number)]
        low = drawn_root(allowed, [*below, degree], rng, item)
        high = low.transpose(degree.interval)
        steps = _steps_to(low, degree)
        if exercise.direction == "descending":
            phrase, asked, way = "{interval} down: {notes}", (high, low), steps[::-1]
        elif exercise.direction == "together":
            phrase, asked, way = "{interval}: {notes}", (low, high), steps
        else:
            phrase, asked, way = "{interval} up: {notes}", (low, high), steps
        text = Said(phrase, interval=Said(item), notes=Row(asked))
        if exercise.direction == "together":
            return Question(text, asked_chords=((low, high),), confirmed=way, root=low.name)
        return Question(text, asked=asked, confirmed=way, root=low.name)

    choices = [Choice(Said(item)) for item in items]
    return drill_track(
        "interval", Said("Which interval?"), items, question, timeline, exercise, player, choices=choices
    )


def chord_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Name the chord's quality. Raises LineError for a suffix that is no chord."""
    items = exercise.items if exercise.items is not None else CHORDS
    for item in items:
        _chord(NoteName(0), item)

    def question(item: str, allowed: Sequence[int], rng: Random) -> Question:
        degrees = without_clash(_chord(NoteName(0), item).degrees)
        root = drawn_root(allowed, degrees, rng, item or "major triad")
        chord = _chord(root.name, item)
        tones = tuple(root.transpose(degree.interval) for degree in degrees)
        names = Row(root.name.degree(degree) for degree in degrees)
        text = Said("{type}: {chord} ({notes})", type=TypeName(chord), chord=chord, notes=names)
        return Question(text, asked_chords=(tones,), confirmed=tones, root=root.name)

    return drill_track("chord", Said("Which chord?"), items, question, timeline, exercise, player)


def degree_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Name the degree over a drone of the tonic. Raises LineError for what is not a degree."""
    return _degrees_asked("degree", timeline, exercise, player, drone=timeline.key.tonic)


def cadence_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Name the degree after a cadence. Raises LineError for what is not a degree."""
    key = timeline.key
    return _degrees_asked(
        "cadence", timeline, exercise, player, before=voiced(CADENCES[key.plain_mode], key)
    )


def _degrees_asked(
    name: str,
    timeline: Timeline,
    exercise: Drill,
    player: Player,
    *,
    before: tuple[tuple[Pitch, ...], ...] = (),
    drone: NoteName | None = None,
) -> StudyPlan:
    key = timeline.key
    items = exercise.items if exercise.items is not None else tuple(map(str, key.degrees))
    for item in items:
        _degree(item)

    def question(item: str, allowed: Sequence[int], rng: Random) -> Question:
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
        text = Said("{degree} in {key}: {note}", degree=degree, key=key, note=note)
        return Question(text, before=before, asked=(note,), confirmed=way, root=key.tonic)

    return drill_track(
        name, Said("Which degree?"), items, question, timeline, exercise, player, drone=drone
    )


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
