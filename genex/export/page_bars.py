"""A part as the bars of a written page: notes, rests and ties, in written time.

Tab and notation both read this, so that they break notes and set rests alike.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from genex.exact import Fraction
from genex.export.note_values import VALUES, spell
from genex.score import Bar, Note, Part, Timeline


@dataclass(frozen=True, slots=True)
class Event:
    """What stands at one time in one bar: a note (or notes struck together), or a rest.

    onset_beats  from the start of the piece
    notes        empty for a rest
    tied_from    the notes began in the bar before
    tied_to      the notes go on in the bar after
    fills_bar    a rest that is the whole bar
    """

    onset_beats: Fraction
    duration_beats: Fraction
    notes: tuple[Note, ...] = ()
    tied_from: bool = False
    tied_to: bool = False
    fills_bar: bool = False

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.duration_beats


@dataclass(frozen=True, slots=True)
class Measure:
    """A bar and its events, without gaps."""

    bar: Bar
    events: tuple[Event, ...]


def measures(part: Part, timeline: Timeline) -> tuple[Measure, ...]:
    """The part bar by bar, the pickup first, if there is one.

    Notes struck together end together, at the latest at the next onset.
    """
    sounding = list(_struck(part, timeline.length_beats))
    found = []
    first = 0
    pickup = timeline.pickup_bar
    for bar in (*([pickup] if pickup else []), *timeline.bars):
        while first < len(sounding) and sounding[first].end_beats <= bar.onset_beats:
            first += 1
        found.append(Measure(bar, tuple(_fill(bar, sounding, first))))
    return tuple(found)


def _struck(part: Part, length_beats: Fraction) -> Iterator[Event]:
    groups = [tuple(notes) for _, notes in groupby(part.notes, key=lambda note: note.onset_beats)]
    onsets = [group[0].onset_beats for group in groups]
    for index, (group, onset) in enumerate(zip(groups, onsets, strict=True)):
        after = onsets[index + 1] if index + 1 < len(onsets) else length_beats
        end = min(after, max(note.written_end_beats for note in group))
        yield Event(onset, end - onset, group)


def _fill(bar: Bar, sounding: list[Event], first: int) -> Iterator[Event]:
    at = bar.onset_beats
    for event in sounding[first:]:
        if event.onset_beats >= bar.end_beats:
            break
        start, end = max(event.onset_beats, bar.onset_beats), min(event.end_beats, bar.end_beats)
        yield from rests(bar, at, start)
        yield Event(
            start,
            end - start,
            event.notes,
            tied_from=event.onset_beats < start,
            tied_to=event.end_beats > end,
        )
        at = end
    yield from rests(bar, at, bar.end_beats)


def rests(bar: Bar, start: Fraction, end: Fraction) -> Iterator[Event]:
    """Rests from ``start`` to ``end`` inside a bar that show its pulses [common practice]."""
    if (start, end) == (bar.onset_beats, bar.end_beats) and not bar.is_pickup:
        yield Event(start, end - start, fills_bar=True)
        return
    pulse = bar.meter.pulse_beats
    while start < end:
        within = (start - bar.counted_from) % pulse
        stop = min(end, start + pulse - within)
        if within == 0:
            for pulses in (4, 2):
                length = pulses * pulse
                aligned = (start - bar.counted_from) % length == 0
                if aligned and start + length <= end and length in VALUES:
                    stop = start + length
                    break
        # The short rests of a broken pulse come first when it fills up to the next pulse.
        pieces = [value.beats for value in spell(stop - start)] or [stop - start]
        for piece in pieces[::-1] if within else pieces:
            yield Event(start, piece)
            start += piece


def signs_of(note: Note) -> tuple[object, ...]:
    """What stands at a note beside its head, its value and its place."""
    return (
        note.articulation,
        note.degree,
        note.slide,
        note.syllable,
        note.stroke,
        note.legato,
        note.bend,
        note.vibrato,
        note.rings,
    )
