"""Choruses that are alike, told once with a repeat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from genex.exact import Fraction
from genex.score import Bar, Note, Part, Score, TempoMap, Timeline


def folded_timeline(timeline: Timeline) -> tuple[Timeline, int]:
    """The first chorus and how often it is played, where all choruses have the same chart.

    The timeline itself and 1 where there is one chorus, or where chart or tempo differ.
    """
    count = timeline.bars[-1].chorus
    if count < 2 or len({change.tempo_bpm for change in timeline.tempo.changes}) > 1:
        return timeline, 1
    groups = [[bar for bar in timeline.bars if bar.chorus == chorus] for chorus in range(1, count + 1)]
    starts = [group[0].onset_beats for group in groups if group]
    length = timeline.length_beats / count
    if starts != [index * length for index in range(count)]:
        return timeline, 1
    charts = [_chart(timeline, group, start) for group, start in zip(groups, starts, strict=True)]
    if any(chart != charts[0] for chart in charts[1:]):
        return timeline, 1
    first = Timeline(
        timeline.key,
        TempoMap.constant(timeline.tempo.changes[0].tempo_bpm),
        tuple(groups[0]),
        tuple(span for span in timeline.chords if span.onset_beats < length),
        tuple(section for section in timeline.sections if section.onset_beats < length),
        tuple(repeat for repeat in timeline.repeats if repeat.end_beats <= length),
    )
    return first, count


def folded(score: Score, part: Part) -> tuple[Score, Part, int]:
    """Score and part of the first chorus, and how often it is played, where all are alike.

    The same three with 1 where the choruses of the part differ in chart, notes or fingering.
    """
    timeline, count = folded_timeline(score.timeline)
    if count == 1:
        return score, part, 1
    length = timeline.length_beats
    choruses = [
        [on_paper(note, index * length) for note in part.notes if note.onset_beats // length == index]
        for index in range(count)
    ]
    crosses = any(
        note.written_end_beats > (note.onset_beats // length + 1) * length for note in part.notes
    )
    if crosses or any(chorus != choruses[0] for chorus in choruses[1:]):
        return score, part, 1
    once = replace(part, notes=tuple(note for note in part.notes if note.onset_beats < length))
    return replace(score, timeline=timeline, parts=(once,)), once, count


def _chart(timeline: Timeline, bars: Sequence[Bar], start: Fraction) -> list[object]:
    """Meters, sections and chords of a chorus, with times from its start."""
    found: list[object] = [(bar.meter, bar.section) for bar in bars]
    for bar in bars:
        for span in timeline.chords_in(bar):
            found.append((span.onset_beats - start, span.length_beats, span.chord))
    return found


def on_paper(note: Note, start: Fraction) -> tuple[object, ...]:
    """What stands on paper for a note, with its onset from ``start`` of its chorus or pass.

    How the hand comes to the first note differs from the first time to the next and is left out.
    """
    place = note.fretting
    where = (place.string, place.fret, place.finger) if place else None
    return (
        note.onset_beats - start,
        note.duration_beats,
        note.pitch,
        note.articulation,
        note.degree,
        note.slide,
        where,
    )
