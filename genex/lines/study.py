"""Exercises over shapes: the practice path, sequences, and the tour of all positions.

Every pass over a shape begins on a bar line and ends with a note held to the end of its bar.
Fingers are the shape's own, the same up and down. The chart under an exercise is the chord of
each shape, for the band to lay a quiet bed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from genex.errors import FretboardError, LineError
from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.families import OverShapes, Strings
from genex.exercises.models.over_shapes import Shapes, ShapeSequence, Tour
from genex.fretboard.hand import move_between
from genex.fretboard.sequences import fingered_sequence, pattern
from genex.fretboard.shape import Shape, ShapeNote
from genex.fretboard.shapes import along_strings, shape, shapes
from genex.fretboard.tunings import Tuning
from genex.lines.note_slots import VELOCITY, accent, cells_of_bar, require_rests
from genex.lines.placement import chords_of, fretted_part
from genex.lines.study_plan import CueSpan, PlannedBar, StudyPlan, lay_out
from genex.score import Fretting, Meter, Note, Role, TempoMap, Timeline
from genex.theory import Chord, distinct_chords, find_scale, key_cycle, transpose_chord

Walk = Callable[[Shape], Iterable[ShapeNote]]


def practice_path(timeline: Timeline, exercise: Shapes | Tour, player: Player) -> StudyPlan:
    """The practice path of each chord's shapes: lowest root, up, down, back to the lowest root.

    With bars of rest between the shapes it is the tour of all positions, the demonstration take of
    a lesson; the last bar is a rest too.
    """

    def walk(found: Shape) -> list[ShapeNote]:
        return [step.note for step in found.path]

    return over_shapes(timeline, exercise, player, walk)


def sequence_study(timeline: Timeline, exercise: ShapeSequence, player: Player) -> StudyPlan:
    """A sequence (``genex.fretboard.sequences``) over each chord's shapes, or along its strings.

    Shapes that do not hold the sequence are left out unless they were asked for by form.
    Raises LineError for an unknown sequence, or one that no shape asked for can hold.
    """
    try:
        row = pattern(exercise.pattern)
    except FretboardError as error:
        raise LineError(error.message, hint=error.hint) from error
    if row.strings and len(set(exercise.strings)) != row.strings:
        count = "one string" if row.strings == 1 else "two strings"
        raise LineError(
            f"'{row.name}' is played along {count}, not {len(set(exercise.strings))}",
            hint="name the strings by number, 1 being the highest",
        )

    def walk(found: Shape) -> list[ShapeNote]:
        return [step.note for step in fingered_sequence(row.name, found, player.tuning)]

    return over_shapes(timeline, exercise, player, walk, along=exercise.strings if row.strings else ())


def over_shapes(
    timeline: Timeline,
    exercise: OverShapes,
    player: Player,
    walk: Walk,
    *,
    along: Strings = (),
) -> StudyPlan:
    """An exercise that walks over the shapes of each chord of a timeline, in its meter and tempo.

    ``along`` takes the shape along some strings instead of the forms.

    Raises LineError for a chart without chords, a form that does not exist or a chord that the
    instrument cannot hold.
    """
    chords = distinct_chords(chords_of(timeline, "make shapes of"))
    if exercise.cycle is not None:
        keys = key_cycle(timeline.key, exercise.cycle)
        chords = tuple(transpose_chord(chords[0], timeline.key, key) for key in keys)
    require_rests(exercise.rest_every)
    meter = timeline.meter
    bars: list[PlannedBar] = []
    notes: list[Note] = []
    walked: list[ShapeNote] = []
    cues: list[CueSpan] = []
    for chord in chords:
        for found, path in _walked(chord, walk, exercise, player.tuning, along):
            onset = len(bars) * meter.bar_beats
            label = _label(chord, found, is_along=bool(along))
            for _ in range(exercise.times):
                written, used = _write(path, len(bars) * meter.bar_beats, exercise, meter)
                notes += written
                walked += path
                bars += [PlannedBar.of(meter, chord, label)] * used
            end = len(bars) * meter.bar_beats
            cues.append(CueSpan(onset, end - onset, label, "section"))
            bars += [PlannedBar.of(meter, chord, label)] * exercise.rest_bars
    part = fretted_part(player, Role.EXERCISE, _fretted(notes, walked))
    tempo = TempoMap.constant(timeline.tempo.tempo_at(Fraction(0)))
    return StudyPlan(lay_out(bars, timeline.key, tempo), (part,), tuple(cues))


def _walked(
    chord: Chord, walk: Walk, exercise: OverShapes, tuning: Tuning, along: Strings
) -> list[tuple[Shape, tuple[ShapeNote, ...]]]:
    """The shapes of a chord that the exercise is played over, each with its walk."""
    degrees = chord.degrees if exercise.scale is None else find_scale(exercise.scale).degrees
    try:
        if along:
            found: tuple[Shape, ...] = (along_strings(degrees, chord.root, tuning, along),)
        elif exercise.forms is None:
            found = shapes(degrees, chord.root, tuning)
        else:
            found = tuple(shape(degrees, chord.root, tuning, form) for form in exercise.forms)
    except FretboardError as error:
        raise LineError(error.message, hint=error.hint) from error
    walked: list[tuple[Shape, tuple[ShapeNote, ...]]] = []
    refusal: FretboardError | None = None
    for one in found:
        try:
            walked.append((one, tuple(walk(one))))
        except FretboardError as error:
            refusal = error
            if exercise.forms is not None:
                break
    if refusal is not None and (exercise.forms is not None or not walked):
        raise LineError(refusal.message, hint=refusal.hint) from refusal
    return walked


def _label(chord: Chord, found: Shape, *, is_along: bool) -> str:
    if is_along:
        return f"{chord}, {found.form}"
    form = f"form {found.form}" if found.form.isdecimal() else f"{found.form} form"
    return f"{chord}, {form}, position {found.position}"


def _write(
    path: Sequence[ShapeNote], start: Fraction, exercise: OverShapes, meter: Meter
) -> tuple[list[Note], int]:
    """The notes of one pass from a bar line on, not yet fretted, and how many bars it takes."""
    notes: list[Note] = []
    bar = 0
    while True:
        bar_onset = start + bar * meter.bar_beats
        for place, (onset, end) in enumerate(cells_of_bar(meter, exercise.rhythm), start=1):
            if exercise.rest_every and place % exercise.rest_every == 0:
                continue
            step = path[len(notes)]
            is_last = len(notes) == len(path) - 1
            length = (meter.bar_beats if is_last else end) - onset
            velocity = accent(VELOCITY, onset, meter)
            notes.append(Note(bar_onset + onset, length, step.pitch, velocity, degree=step.degree))
            if is_last:
                return notes, bar + 1
        bar += 1


def _fretted(notes: Sequence[Note], walked: Sequence[ShapeNote]) -> list[Note]:
    """The notes with the shapes' fingers and the moves between them, from shape to shape too."""
    states = [(step.string, step.fret, step.finger, step.position) for step in walked]
    moves = [move_between(a, b) for a, b in zip([None, *states[:-1]], states, strict=True)]
    return [
        replace(note, fretting=Fretting(step.string, step.fret, step.finger, move))
        for note, step, move in zip(notes, walked, moves, strict=True)
    ]
