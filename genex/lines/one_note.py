"""What studies of rhythm have in common: one note, stages with a name, a last note that is held.

A stage is a list of strokes within its bars. Each study ends with one bar whose note is held.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from genex.errors import FretboardError, LineError
from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.rhythms import OneNote
from genex.fretboard import Place, Tuning, places
from genex.fretboard.fingering import finger_line
from genex.fretboard.tunings import require_on_instrument
from genex.lines.counting import syllable
from genex.lines.note_slots import VELOCITY, accent
from genex.lines.placement import fretted_part, fretting
from genex.lines.study_plan import CueSpan, PlannedBar, StudyPlan, lay_out
from genex.score import Articulation, Meter, Note, Role, TempoMap, Timeline
from genex.theory import Pitch

MIDDLE_FRET = 5
"""The note lies as near to this fret as it can."""
ACCENT, UNACCENTED = VELOCITY + 24, VELOCITY - 12
"""Velocities of the notes of a study of accents."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A note of a stage: onset from the stage's first bar line and length, in beats.

    count      the syllable to count with
    is_accent  None where the study is not about accents
    """

    onset: Fraction
    length: Fraction
    count: str
    is_accent: bool | None = None


@dataclass(frozen=True, slots=True)
class Stage:
    """Some bars of a study under one name."""

    name: str
    bars: int
    strokes: tuple[Stroke, ...]


def one_note_study(
    timeline: Timeline, exercise: OneNote, player: Player, stages: Sequence[Stage], *, end: str
) -> StudyPlan:
    """The stages one after another, then a bar called ``end`` with a note held, unless it is empty.

    Raises LineError for a note that is not on the neck.
    """
    meter = timeline.meter
    last = Stage(end, 1, (Stroke(Fraction(0), meter.bar_beats, "1"),))
    stages = [*stages, last] if end else list(stages)
    pitch, place = _the_note(exercise, timeline, player.tuning)
    starts = [meter.bar_beats * at for at in accumulate([0, *(stage.bars for stage in stages)])]
    notes = [
        Note(
            start + stroke.onset,
            stroke.length,
            pitch,
            _velocity(stroke, meter),
            Articulation.ACCENT if stroke.is_accent else Articulation.NORMAL,
            syllable=stroke.count,
        )
        for start, stage in zip(starts, stages, strict=False)
        for stroke in stage.strokes
    ]
    (taken,) = finger_line([pitch.midi], player.tuning, fixed=[place])
    # The finger stays: it is told once.
    first = fretting(taken)
    again = replace(first, finger=None)
    shown = [replace(note, fretting=again if index else first) for index, note in enumerate(notes)]
    cues = [
        CueSpan(start, stage.bars * meter.bar_beats, stage.name, "section")
        for start, stage in zip(starts, stages, strict=False)
    ]
    bars = [PlannedBar.of(meter, None, stage.name) for stage in stages for _ in range(stage.bars)]
    tempo = TempoMap.constant(timeline.tempo.tempo_at(Fraction(0)))
    part = fretted_part(player, Role.EXERCISE, shown)
    return StudyPlan(lay_out(bars, timeline.key, tempo), (part,), tuple(cues))


def even_strokes(
    meter: Meter, division: int, bars: int, *, accent_every: int = 0, accent_at: int = 0
) -> tuple[Stroke, ...]:
    """``division`` notes to every beat of some bars; what is left of an odd bar is one more note.

    ``accent_every`` notes one is accented, the one at ``accent_at`` first; 0 for no accents.
    """
    found: list[Stroke] = []
    for bar in range(bars):
        start = bar * meter.bar_beats
        step = meter.pulse_beats / division
        for number, pulse in enumerate(meter.pulses, start=1):
            for place in range(division):
                found.append(
                    Stroke(start + pulse + place * step, step, syllable(number, division, place))
                )
        end = meter.pulses[-1] + meter.pulse_beats
        if end < meter.bar_beats:
            found.append(Stroke(start + end, meter.bar_beats - end, str(len(meter.pulses) + 1)))
    if not accent_every:
        return tuple(found)
    return tuple(
        replace(stroke, is_accent=index % accent_every == accent_at)
        for index, stroke in enumerate(found)
    )


def _velocity(stroke: Stroke, meter: Meter) -> int:
    if stroke.is_accent is None:
        return accent(VELOCITY, stroke.onset % meter.bar_beats, meter)
    return ACCENT if stroke.is_accent else UNACCENTED


def _the_note(exercise: OneNote, timeline: Timeline, tuning: Tuning) -> tuple[Pitch, Place]:
    """The note that is played and its place: the one asked for, or the tonic in the middle."""

    def away(place: Place) -> tuple[bool, int, int]:
        return place.fret == 0, abs(place.fret - MIDDLE_FRET), place.string

    if exercise.note is None:
        tonic = timeline.key.tonic
        middle = sorted(tuning.open_midi)[len(tuning.open_midi) // 2] + MIDDLE_FRET
        compass = range(tuning.lowest_midi, tuning.highest_midi + 1)
        found = [midi for midi in compass if midi % 12 == tonic.pitch_class and places(tuning, midi)]
        pitch = tonic.at_or_above(min(found, key=lambda midi: (abs(midi - middle), midi)))
    else:
        pitch = Pitch.parse(exercise.note)
    try:
        require_on_instrument(tuning, pitch.midi)
    except FretboardError as error:
        raise LineError(error.message, hint=error.hint) from error
    return pitch, min(places(tuning, pitch.midi), key=away)
