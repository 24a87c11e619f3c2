"""A phrase in every position: one that a MIDI file holds, or one that is written."""

from __future__ import annotations

from dataclasses import replace

from genex.exercises import Player
from genex.exercises.models.over_shapes import Positions
from genex.exercises.models.over_the_chart import Etude
from genex.lines.etude import etude
from genex.lines.every_position import every_position
from genex.lines.study_plan import StudyPlan, bars_of, lay_out
from genex.readers.midi_file import read_phrase
from genex.score import Timeline


def phrase_in_every_position(timeline: Timeline, exercise: Positions, player: Player) -> StudyPlan:
    """The phrase of a MIDI file, or one written at a level, in every position. Raises InputError."""
    if exercise.phrase is not None:
        score = read_phrase(player.folder / exercise.phrase, player.tuning)
        (part,) = score.parts
        return every_position(part.notes, _under(score.timeline, timeline), player)
    written = etude(timeline, Etude(level=exercise.level, slides=False), player)
    return every_position(written.notes, timeline, player)


def _under(phrase: Timeline, chart: Timeline) -> Timeline:
    """A phrase's bars with the chart's chords, key and tempo under them, as far as bars agree.

    A chart that is shorter than the phrase begins again; in another meter the phrase has no chords.
    """
    if phrase.meter != chart.meter:
        return replace(phrase, tempo=chart.tempo)
    bars = bars_of(chart)
    planned = [bars[index % len(bars)] for index in range(len(phrase.bars))]
    return lay_out([replace(bar, section="") for bar in planned], chart.key, chart.tempo)
