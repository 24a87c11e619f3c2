"""Exercises over shapes: the practice path, sequences, and the tour of all positions.

Every pass over a shape begins on a bar line and ends on a beat, with a note held to the end of a
bar (``walk_times.py``). Fingers are the shape's own, the same up and down. The chart under an
exercise is the chord of each shape, for the band to lay a quiet bed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from genex.errors import FretboardError, LineError
from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.families import OverShapes, Rhythm, Strings
from genex.exercises.models.over_shapes import Shapes, ShapeSequence, Tour
from genex.fretboard import Pattern
from genex.fretboard.hand import move_between
from genex.fretboard.sequences import fingered_sequence, group_of, pattern
from genex.fretboard.shape import Shape, ShapeNote
from genex.fretboard.shapes import along_strings, shape, shapes
from genex.fretboard.tunings import Tuning
from genex.lines.approached import approached
from genex.lines.note_slots import VELOCITY, accent, require_rests
from genex.lines.placement import chords_of, fretted_part
from genex.lines.study_plan import CueSpan, PlannedBar, StudyPlan, lay_out
from genex.lines.walk_times import walk_times
from genex.said import Said
from genex.score import Fretting, Note, Role, TempoMap, Timeline
from genex.theory import (
    Chord,
    Degree,
    Scale,
    distinct_chords,
    find_scale,
    key_cycle,
    parse_chord,
    transpose_chord,
    triad_pair,
)


@dataclass(frozen=True)
class _Course:
    """What is practised over a chord.

    degrees  over the chord's root, whose shapes are taken
    said     what labels say of it beside the chord
    walk     the notes over a shape; raises FretboardError where it does not hold them
    group    notes in a group of that walk
    """

    degrees: tuple[Degree, ...]
    said: str
    walk: Callable[[Shape], Sequence[ShapeNote]]
    group: Callable[[Shape], int] = lambda found: 1


Courses = Callable[[Chord, Scale | None], _Course]
"""The course over a chord, with the scale that it is read in."""
HeldNote = Literal["first", "last"] | None


def practice_path(timeline: Timeline, exercise: Shapes | Tour, player: Player) -> StudyPlan:
    """The practice path of each chord's shapes: lowest root, up, down, back to the lowest root.

    With bars of rest between the shapes it is the tour of all positions, the demonstration take of
    a lesson; the last bar is a rest too.
    """

    def course(chord: Chord, read: Scale | None) -> _Course:
        degrees = chord.degrees if exercise.scale is None else find_scale(exercise.scale).degrees
        return _Course(degrees, "", lambda found: [step.note for step in found.path])

    return _over_shapes(timeline, exercise, player, course, exercise.rhythm)


def sequence_study(timeline: Timeline, exercise: ShapeSequence, player: Player) -> StudyPlan:
    """A sequence (``genex.fretboard.sequences``) over each chord's shapes, or along its strings.

    A sequence that needs a scale takes the one that the chord is read in, if none is named. Shapes
    that do not hold the sequence are left out unless they were asked for by form. Raises LineError
    for an unknown sequence, or one that no shape asked for can hold.
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
    wished = None if exercise.scale is None else find_scale(exercise.scale)

    def course(chord: Chord, read: Scale | None) -> _Course:
        return _course(row, chord, wished, read, player.tuning)

    rhythm = exercise.rhythm or usual_rhythm(row)
    along = exercise.strings if row.strings else ()
    return _over_shapes(timeline, exercise, player, course, rhythm, held=row.held, along=along)


def usual_rhythm(row: Pattern) -> Rhythm:
    """The rhythm of a sequence that names none: its groups begin with a beat, or a half of one."""
    return "triplets" if row.group == 3 else "eighths"


def _course(
    row: Pattern, chord: Chord, wished: Scale | None, read: Scale | None, tuning: Tuning
) -> _Course:
    """A sequence over a chord: in its tones, in a scale, or in two triads of one."""
    scale = wished or read
    assert scale is not None, "every chord is read in a scale"
    if row.approach:

        def led(found: Shape) -> Sequence[ShapeNote]:
            return approached(row, found, chord, scale, tuning)

        return _Course(chord.degrees, "", led, lambda found: row.group)
    degrees, is_scale = chord.degrees, False
    said: str = ""
    if row.tones == "triad pair":
        pair = triad_pair(chord, scale)
        if pair is None:
            raise LineError(
                f"{scale} has no two triads without a common tone",
                hint="write a scale of six tones or more, such as dorian",
            )
        one, other = (name if name.endswith("?") else parse_chord(name) for name in pair.names)
        degrees, said, is_scale = pair.degrees, Said("{one} and {other}", one=one, other=other), True
    elif row.tones == "scale" or (wished is not None and row.tones == "any"):
        degrees, is_scale = scale.degrees, True
        said = "" if wished is not None else Said("{scale}", scale=scale)

    def walk(found: Shape) -> Sequence[ShapeNote]:
        steps = fingered_sequence(row.name, found, tuning, is_scale=is_scale)
        return [step.note for step in steps]

    return _Course(degrees, said, walk, lambda found: group_of(row, found))


def _over_shapes(
    timeline: Timeline,
    exercise: OverShapes,
    player: Player,
    courses: Courses,
    rhythm: Rhythm,
    *,
    held: HeldNote = None,
    along: Strings = (),
) -> StudyPlan:
    """An exercise that walks over the shapes of each chord of a timeline, in its meter and tempo.

    ``held`` is the note of each group that may be held. ``along`` takes the shape along some strings
    instead of the forms.

    Raises LineError for a chart without chords, a form that does not exist or a chord that the
    instrument cannot hold.
    """
    chords = distinct_chords(chords_of(timeline, "make shapes of"))
    read = {span.chord: timeline.reading_of(span).scale for span in reversed(timeline.merged_chords)}
    scales = [read[chord] for chord in chords]
    if exercise.cycle is not None:
        keys = key_cycle(timeline.key, exercise.cycle)
        chords = tuple(transpose_chord(chords[0], timeline.key, key) for key in keys)
        scales = scales[:1] * len(chords)
    require_rests(exercise.rest_every)
    meter = timeline.meter
    bars: list[PlannedBar] = []
    notes: list[Note] = []
    walked: list[ShapeNote] = []
    cues: list[CueSpan] = []
    for chord, scale in zip(chords, scales, strict=True):
        course = courses(chord, scale)
        for found, path in _walked(chord, course, exercise, player.tuning, along):
            onset = len(bars) * meter.bar_beats
            label = _label(chord, course, found, is_along=bool(along))
            times = walk_times(
                len(path),
                rhythm,
                meter,
                group=course.group(found),
                held=held,
                rest_every=exercise.rest_every,
            )
            for _ in range(exercise.times):
                start = len(bars) * meter.bar_beats
                notes += [
                    Note(
                        start + at,
                        length,
                        step.pitch,
                        accent(VELOCITY, at % meter.bar_beats, meter),
                        degree=step.degree,
                    )
                    for step, (at, length) in zip(path, times.notes, strict=True)
                ]
                walked += path
                bars += [PlannedBar.of(meter, chord, label)] * times.bars
            end = len(bars) * meter.bar_beats
            cues.append(CueSpan(onset, end - onset, label, "section"))
            bars += [PlannedBar.of(meter, chord, label)] * exercise.rest_bars
    part = fretted_part(player, Role.EXERCISE, _fretted(notes, walked))
    tempo = TempoMap.constant(timeline.tempo.tempo_at(Fraction(0)))
    return StudyPlan(lay_out(bars, timeline.key, tempo), (part,), tuple(cues))


def _walked(
    chord: Chord, course: _Course, exercise: OverShapes, tuning: Tuning, along: Strings
) -> list[tuple[Shape, Sequence[ShapeNote]]]:
    """The shapes of a chord that the exercise is played over, each with its walk."""
    degrees = course.degrees
    try:
        if along:
            found: tuple[Shape, ...] = (along_strings(degrees, chord.root, tuning, along),)
        elif exercise.forms is None:
            found = shapes(degrees, chord.root, tuning)
        else:
            found = tuple(shape(degrees, chord.root, tuning, form) for form in exercise.forms)
    except FretboardError as error:
        raise LineError(error.message, hint=error.hint) from error
    walked: list[tuple[Shape, Sequence[ShapeNote]]] = []
    refusal: FretboardError | None = None
    for one in found:
        try:
            walked.append((one, course.walk(one)))
        except FretboardError as error:
            refusal = error
            if exercise.forms is not None:
                break
    if refusal is not None and (exercise.forms is not None or not walked):
        raise LineError(refusal.message, hint=refusal.hint) from refusal
    return walked


def _label(chord: Chord, course: _Course, found: Shape, *, is_along: bool) -> Said:
    name = Said("{chord}, {what}", chord=chord, what=course.said) if course.said else chord
    if is_along:
        word, _, strings = found.form.partition(" ")
        phrase = "{name}, string {strings}" if word == "string" else "{name}, strings {strings}"
        return Said(phrase, name=name, strings=strings)
    if found.form.isdecimal():
        phrase = "{name}, form {form}, position {position}"
    else:
        phrase = "{name}, {form} form, position {position}"
    return Said(phrase, name=name, form=found.form, position=found.position)


def _fretted(notes: Sequence[Note], walked: Sequence[ShapeNote]) -> list[Note]:
    """The notes with the shapes' fingers and the moves between them, from shape to shape too."""
    states = [(step.string, step.fret, step.finger, step.position) for step in walked]
    moves = [move_between(a, b) for a, b in zip([None, *states[:-1]], states, strict=True)]
    return [
        replace(note, fretting=Fretting(step.string, step.fret, step.finger, move))
        for note, step, move in zip(notes, walked, moves, strict=True)
    ]
