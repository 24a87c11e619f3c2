"""Exercises over shapes: the practice path, sequences, and the tour of all positions.

Every pass over a shape begins on a bar line and ends with a note held to the end of its bar.
Fingers are the shape's own, the same up and down. The chart under an exercise is the chord of
each shape, for the band to lay a quiet bed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from genex.errors import FretboardError, LineError
from genex.exact import Fraction
from genex.fretboard.hand import move_between
from genex.fretboard.sequences import fingered_sequence, pattern
from genex.fretboard.shape import Shape, ShapeNote
from genex.fretboard.shapes import along_strings, shape, shapes
from genex.fretboard.tunings import STANDARD, Tuning
from genex.lines.note_slots import Rhythm, accent, cells_of_bar, require_rests
from genex.lines.study_plan import CueSpan, PlannedBar, StudyPlan, lay_out
from genex.score import Fretting, Meter, Move, Note, Part, Role, TempoMap
from genex.theory import Chord, Degree, Key, Scale, key_cycle, transpose_chord
from genex.theory.key import spelled_key

FOUR_FOUR = Meter(4, 4)
MODERATE = Fraction(80)

Walk = Callable[[Shape], Iterable[ShapeNote]]


@dataclass(frozen=True)
class StudySettings:
    """What an exercise over shapes shall be like.

    forms        names of the forms, in the order played (C A G E D in standard tuning, numbers
                 elsewhere); None for all that hold the exercise, up the neck
    strings      for exercises along strings: which ones, one or two
    scale        notes of this scale on the chord's root instead of the chord's own
    rhythm       see ``grid.RHYTHMS``
    rest_every   every n-th slot of a bar is a rest, 0 for none
    times        how often each shape is played
    rest_bars    bars of rest after each shape
    tempo_bpm    pulses a minute (dotted quarters in 6/8, 9/8 and 12/8)
    program      General MIDI program, 0-based
    """

    forms: tuple[str, ...] | None = None
    strings: tuple[int, ...] = ()
    scale: Scale | None = None
    rhythm: Rhythm = "eighths"
    rest_every: int = 0
    times: int = 1
    rest_bars: int = 0
    meter: Meter = FOUR_FOUR
    key: Key | None = None
    tempo_bpm: Fraction = MODERATE
    tuning: Tuning = STANDARD
    program: int = 25
    velocity: int = 80
    name: str = "shapes"


def practice_path(chords: Sequence[Chord], settings: StudySettings | None = None) -> StudyPlan:
    """The practice path of each chord's shapes: lowest root, up, down, back to the lowest root."""
    settings = settings or StudySettings()
    return over_shapes(chords, _path, settings)


def sequence_study(
    chords: Sequence[Chord], name: str, settings: StudySettings | None = None
) -> StudyPlan:
    """A sequence (``genex.fretboard.sequences``) over each chord's shapes, or along its strings.

    Shapes that do not hold the sequence are left out unless they were asked for by form.
    Raises LineError for an unknown sequence, or one that no shape asked for can hold.
    """
    settings = settings or StudySettings(name="sequence")
    try:
        row = pattern(name)
    except FretboardError as error:
        raise LineError(error.message, hint=error.hint) from error
    if row.strings and len(set(settings.strings)) != row.strings:
        count = "one string" if row.strings == 1 else "two strings"
        raise LineError(
            f"'{row.name}' is played along {count}, not {len(set(settings.strings))}",
            hint="name the strings by number, 1 being the highest",
        )

    def walk(found: Shape) -> list[ShapeNote]:
        return [step.note for step in fingered_sequence(row.name, found, settings.tuning)]

    return over_shapes(chords, walk, settings, along_strings_only=bool(row.strings))


def tour(chord: Chord, settings: StudySettings | None = None) -> StudyPlan:
    """All positions of a chord one after another up the neck, each up and down, a bar of rest
    between: the demonstration take of a lesson. The last bar is a rest too."""
    settings = settings or StudySettings(rest_bars=1, name="tour")
    return over_shapes([chord], _path, settings)


def _path(found: Shape) -> list[ShapeNote]:
    return [step.note for step in found.path]


def in_keys(chord: Chord, key: Key, cycle: str) -> tuple[Chord, ...]:
    """A chord of ``key`` in all twelve keys of a cycle. Raises NotationError for an unknown cycle."""
    return tuple(transpose_chord(chord, key, other) for other in key_cycle(key, cycle))


def over_shapes(
    chords: Sequence[Chord], walk: Walk, settings: StudySettings, *, along_strings_only: bool = False
) -> StudyPlan:
    """An exercise that walks over the shapes of each chord in turn.

    ``along_strings_only`` takes the shape along ``settings.strings`` instead of the forms.

    Raises LineError for a form that does not exist, a chord that the instrument cannot hold, or
    settings that are not ones.
    """
    if not chords:
        raise LineError("no chord was given to make an exercise from", hint="name a chord")
    if settings.times < 1 or settings.rest_bars < 0:
        raise LineError(
            "an exercise is played once or more, with no bars of rest or some",
            hint="write times 1 or more and rest bars 0 or more",
        )
    require_rests(settings.rest_every)
    meter = settings.meter
    bars: list[PlannedBar] = []
    notes: list[Note] = []
    walked: list[ShapeNote] = []
    cues: list[CueSpan] = []
    for chord in chords:
        for found, path in _walked(chord, walk, settings, along_strings_only):
            onset = len(bars) * meter.bar_beats
            label = _label(chord, found, along_strings_only)
            for _ in range(settings.times):
                written, used = _write(path, len(bars) * meter.bar_beats, settings)
                notes += written
                walked += path
                bars += [PlannedBar.of(meter, chord, label)] * used
            end = len(bars) * meter.bar_beats
            cues.append(CueSpan(onset, end - onset, label, "section"))
            bars += [PlannedBar.of(meter, chord, label)] * settings.rest_bars
    part = Part.of(
        settings.name,
        Role.EXERCISE,
        settings.program,
        _fretted(notes, walked),
        strings=settings.tuning.strings,
        capo=settings.tuning.capo,
    )
    tempo = TempoMap.constant(settings.tempo_bpm * meter.pulse_beats)
    timeline = lay_out(bars, settings.key or key_of(chords[0]), tempo)
    return StudyPlan(timeline, (part,), tuple(cues))


def key_of(chord: Chord) -> Key:
    """The key a chord is at home in: dominant sevenths in the key they lead to, others in their own."""
    if chord.find(3) == Degree(3) and chord.find(7) == Degree(7, -1):
        return spelled_key(chord.root.degree(Degree(4)), "major")
    return spelled_key(chord.root, "minor" if chord.is_minor else "major")


def _walked(
    chord: Chord, walk: Walk, settings: StudySettings, along: bool
) -> list[tuple[Shape, tuple[ShapeNote, ...]]]:
    """The shapes of a chord that the exercise is played over, each with its walk."""
    degrees = settings.scale.degrees if settings.scale else chord.degrees
    try:
        if along:
            found: tuple[Shape, ...] = (
                along_strings(degrees, chord.root, settings.tuning, settings.strings),
            )
        elif settings.forms is None:
            found = shapes(degrees, chord.root, settings.tuning)
        else:
            found = tuple(shape(degrees, chord.root, settings.tuning, form) for form in settings.forms)
    except FretboardError as error:
        raise LineError(error.message, hint=error.hint) from error
    walked: list[tuple[Shape, tuple[ShapeNote, ...]]] = []
    refusal: FretboardError | None = None
    for one in found:
        try:
            walked.append((one, tuple(walk(one))))
        except FretboardError as error:
            refusal = error
            if settings.forms is not None:
                break
    if refusal is not None and (settings.forms is not None or not walked):
        raise LineError(refusal.message, hint=refusal.hint) from refusal
    return walked


def _label(chord: Chord, found: Shape, along: bool) -> str:
    if along:
        return f"{chord}, {found.form}"
    form = f"form {found.form}" if found.form.isdecimal() else f"{found.form} form"
    return f"{chord}, {form}, position {found.position}"


def _write(
    path: Sequence[ShapeNote], start: Fraction, settings: StudySettings
) -> tuple[list[Note], int]:
    """The notes of one pass from a bar line on, not yet fretted, and how many bars it takes."""
    meter = settings.meter
    notes: list[Note] = []
    bar = 0
    while True:
        bar_onset = start + bar * meter.bar_beats
        for place, (onset, end) in enumerate(cells_of_bar(meter, settings.rhythm), start=1):
            if settings.rest_every and place % settings.rest_every == 0:
                continue
            step = path[len(notes)]
            is_last = len(notes) == len(path) - 1
            length = (meter.bar_beats if is_last else end) - onset
            velocity = accent(settings.velocity, onset, meter)
            notes.append(Note(bar_onset + onset, length, step.pitch, velocity, degree=step.degree))
            if is_last:
                return notes, bar + 1
        bar += 1


def _fretted(notes: Sequence[Note], walked: Sequence[ShapeNote]) -> list[Note]:
    """The notes with the shapes' fingers and the moves between them, from shape to shape too."""
    states = [(step.string, step.fret, step.finger, step.position) for step in walked]
    moves = [move_between(a, b) for a, b in zip([None, *states[:-1]], states, strict=True)]
    return [
        replace(note, fretting=Fretting(step.string, step.fret, step.finger, Move(move.value)))
        for note, step, move in zip(notes, walked, moves, strict=True)
    ]
