"""Studies of rhythm on one note: the beat divided, accents that move, rhythms against each other.

All are written in even notes and played straight whatever the feel; the click gives the beat.
"""

from __future__ import annotations

import math
from types import MappingProxyType

from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.rhythms import Accents, Polyrhythm, Subdivisions
from genex.lines.counting import syllable
from genex.lines.one_note import Stage, Stroke, even_strokes, one_note_study
from genex.lines.study_plan import StudyPlan
from genex.said import Said
from genex.score import Meter, Timeline

SIMPLE = MappingProxyType(
    {
        1: Said("Quarters"),
        2: Said("Eighths"),
        3: Said("Triplets"),
        4: Said("Sixteenths"),
        5: Said("Quintuplets"),
        6: Said("Sextuplets"),
    }
)
COMPOUND = MappingProxyType(
    {
        1: Said("Dotted quarters"),
        2: Said("Duplets"),
        3: Said("Eighths"),
        4: Said("Quadruplets"),
        6: Said("Sixteenths"),
    }
)
"""Names of the notes that divide a beat; nobody divides a dotted quarter by five."""

_DIVISIONS = MappingProxyType({"eighths": (2, 3), "triplets": (3, 3), "sixteenths": (4, 6)})
"""Notes to a beat in simple and in compound meters."""


def subdivisions(timeline: Timeline, exercise: Subdivisions, player: Player) -> StudyPlan:
    """The ladder of subdivisions, and a last note. Raises LineError for a note off the neck."""
    meter = timeline.meter
    names = COMPOUND if meter.is_compound else SIMPLE
    ladder = [each for each in range(exercise.lowest, exercise.highest + 1) if each in names]
    if exercise.order == "down":
        ladder = ladder[::-1]
    elif exercise.order == "up and down":
        ladder = [*ladder, *ladder[-2::-1]]
    stages = [
        Stage(names[each], exercise.bars, even_strokes(meter, each, exercise.bars)) for each in ladder
    ]
    return one_note_study(timeline, exercise, player, stages, end=Said("End"))


def accents(timeline: Timeline, exercise: Accents, player: Player) -> StudyPlan:
    """Accents on each place of the beat in turn, or on every so many notes until they meet a bar line.

    Raises LineError for a note off the neck.
    """
    meter = timeline.meter
    division = _DIVISIONS[exercise.rhythm][meter.is_compound]
    each = exercise.bars
    if exercise.every is None:
        stages = []
        for place in (*range(division), 0):
            strokes = _accent_in_beat(even_strokes(meter, division, each), meter, division, place)
            told = Said("Accent on note {place} of {count}", place=place + 1, count=division)
            stages.append(Stage(told, each, strokes))
    else:
        in_bar = len(even_strokes(meter, division, 1))
        bars = math.lcm(exercise.every, in_bar) // in_bar
        plain = even_strokes(meter, division, each, accent_every=division)
        crossed = even_strokes(meter, division, bars, accent_every=exercise.every)
        stages = [
            Stage(Said("Accent on the beat"), each, plain),
            Stage(Said("Accent every {count}", count=exercise.every), bars, crossed),
        ]
    return one_note_study(timeline, exercise, player, stages, end=Said("End"))


def _accent_in_beat(
    strokes: tuple[Stroke, ...], meter: Meter, division: int, place: int
) -> tuple[Stroke, ...]:
    """The strokes with an accent at one place of each beat."""
    at = meter.pulse_beats / division * place
    return tuple(
        Stroke(
            stroke.onset,
            stroke.length,
            stroke.count,
            (stroke.onset % meter.bar_beats) % meter.pulse_beats == at,
        )
        for stroke in strokes
    )


def polyrhythm(timeline: Timeline, exercise: Polyrhythm, player: Player) -> StudyPlan:
    """The beats; what divides both rhythms, accented; the one over the beats; both in one line.

    Raises LineError for a note off the neck.
    """
    meter = timeline.meter
    line, beats = map(int, exercise.ratio.split(":"))
    division = math.lcm(line, beats) // beats
    bars = exercise.bars
    length = bars * meter.bar_beats
    step = beats * meter.pulse_beats / line
    against = [index * step for index in range(int(length / step))]
    pulses = [index * meter.pulse_beats for index in range(int(length / meter.pulse_beats))]
    both = sorted({*against, *pulses})
    every = math.lcm(line, beats) // line
    counted = even_strokes(meter, division, bars, accent_every=every, accent_at=0)
    alone = Stage(
        Said("{line} against {beats}", line=line, beats=beats),
        bars,
        _struck(against, length, meter, division),
    )
    stages = [
        Stage(Said("The beats: {count}", count=beats), bars, _struck(pulses, length, meter, division)),
        Stage(Said("Accent every {count}", count=every), bars, counted),
        alone,
        Stage(Said("Both"), bars, _struck(both, length, meter, division)),
        alone,
    ]
    return one_note_study(timeline, exercise, player, stages, end=Said("End"))


def _struck(onsets: list[Fraction], length: Fraction, meter: Meter, division: int) -> tuple[Stroke, ...]:
    """Strokes at onsets on the grid of a division, each held to the next."""
    ends = [*onsets[1:], length]
    found = []
    for onset, end in zip(onsets, ends, strict=True):
        beat, within = divmod(onset % meter.bar_beats, meter.pulse_beats)
        place = int(within * division / meter.pulse_beats)
        found.append(Stroke(onset, end - onset, syllable(int(beat) + 1, division, place)))
    return tuple(found)
