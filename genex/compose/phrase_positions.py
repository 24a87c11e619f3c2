"""A phrase in every position: one of the teacher's own, or one that is written."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from genex.compose.own_lines import in_key, typed_line
from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_shapes import Positions
from genex.exercises.models.over_the_chart import Etude
from genex.lines.etude import etude
from genex.lines.every_position import every_position
from genex.lines.study_plan import PlannedBar, StudyPlan, bars_of, lay_out
from genex.readers.lines import TypedLine
from genex.score import Timeline


def phrase_in_every_position(timeline: Timeline, exercise: Positions, player: Player) -> StudyPlan:
    """A phrase of the teacher's, or one written at a level, in every position. Raises InputError."""
    if exercise.phrase is None and exercise.abc is None and exercise.tab is None:
        written = etude(timeline, Etude(level=exercise.level, slides=False), player)
        return every_position(written.notes, timeline, player)
    meters = [bar.meter for bar in timeline.bars]
    line = typed_line(timeline, exercise, exercise.phrase, player, meters=meters, in_its_own_meter=True)
    notes = in_key(line, exercise, timeline.key, player.tuning)
    if line.pickup_beats:
        raise LineError(
            "the phrase begins inside of a bar", hint="write rests before its first note, to a whole bar"
        )
    if any(a.onset_beats == b.onset_beats for a, b in pairwise(notes)):
        raise LineError(
            "notes of the phrase are struck together", hint="write single notes, or 'kind: line'"
        )
    return every_position(notes, _under(line, timeline), player)


def _under(line: TypedLine, chart: Timeline) -> Timeline:
    """The phrase's bars with the chart's chords, key and tempo under them, as far as bars agree.

    A chart that is shorter than the phrase begins again; in other meters the phrase has no chords.
    """
    bars = bars_of(chart)
    planned = [bars[index % len(bars)] for index in range(line.bars)]
    if tuple(bar.meter for bar in planned) != line.meters:
        planned = [PlannedBar.of(meter, None) for meter in line.meters]
        return lay_out(planned, line.key or chart.key, chart.tempo)
    return lay_out([replace(bar, section="") for bar in planned], chart.key, chart.tempo)
