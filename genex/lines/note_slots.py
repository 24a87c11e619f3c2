"""Rhythm grids: the slots that a line of equal note values fills, bar by bar.

A grid starts anew in every bar. Each slot belongs to one chord span, so a note never has two
chords under it. Compound meters (6/8, 9/8, 12/8) count dotted quarters: there "quarters" are
the pulses, "eighths" and "triplets" are both the natural eighths [common practice].
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import cycle, groupby

from genex.errors import LineError
from genex.exact import Fraction
from genex.score import Bar, ChordSpan, Meter, Timeline

VELOCITY = 80
"""MIDI velocity of an even line, before accents."""

_CELLS: dict[str, tuple[tuple[Fraction, ...], tuple[Fraction, ...]]] = {
    # name: (cell in simple meters, cell in compound meters), in beats
    "quarters": ((Fraction(1),), (Fraction(3, 2),)),
    "eighths": ((Fraction(1, 2),), (Fraction(1, 2),)),
    "triplets": ((Fraction(1, 3),), (Fraction(1, 2),)),
    "sixteenths": ((Fraction(1, 4),), (Fraction(1, 4),)),
    "dotted": ((Fraction(3, 4), Fraction(1, 4)), (Fraction(1), Fraction(1, 2))),
}
RHYTHMS = tuple(_CELLS)

_SHORTEST = Fraction(1, 4)
"""A piece of a slot shorter than this, cut off by a bar line or chord, joins its neighbour."""


@dataclass(frozen=True, slots=True)
class Slot:
    """A place for one note. ``span`` is the merged chord span it lies in."""

    onset_beats: Fraction
    length_beats: Fraction
    span: ChordSpan
    is_rest: bool = False

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


def cell_of(rhythm: str, *, compound: bool) -> tuple[Fraction, ...]:
    """The note lengths that a rhythm repeats, in beats. Raises LineError."""
    if rhythm not in _CELLS:
        raise LineError(f"'{rhythm}' is not a rhythm", hint=f"choose one of {', '.join(RHYTHMS)}")
    return _CELLS[rhythm][compound]


def slots(timeline: Timeline, rhythm: str, *, rest_every: int = 0) -> tuple[Slot, ...]:
    """The slots of a rhythm over a whole timeline, in order and without gaps.

    rest_every   every n-th slot of a bar is a rest; 0 for none. 4 gives three notes and a rest.
    Raises LineError for an unknown rhythm or ``rest_every`` of 1 or less than 0.
    """
    require_rests(rest_every)
    spans = timeline.merged_chords
    found: list[Slot] = []
    index = 0
    for bar in timeline.bars:
        for count, cell in enumerate(cells_of_bar(bar.meter, rhythm), start=1):
            onset, end = bar.onset_beats + cell[0], bar.onset_beats + cell[1]
            is_rest = rest_every > 0 and count % rest_every == 0
            while spans[index].end_beats <= onset:
                index += 1
            while min((cut := spans[index].end_beats) - onset, end - cut) >= _SHORTEST:
                found.append(Slot(onset, cut - onset, spans[index], is_rest))
                index += 1
                onset = cut
            found.append(Slot(onset, end - onset, spans[index], is_rest))
    return tuple(found)


def slots_by_span(all_slots: tuple[Slot, ...]) -> Iterator[tuple[ChordSpan, tuple[Slot, ...]]]:
    """Each chord span with its sounding slots; a span without any is left out."""
    sounding = (slot for slot in all_slots if not slot.is_rest)
    for _, group in groupby(sounding, key=lambda slot: slot.span.onset_beats):
        together = tuple(group)
        yield together[0].span, together


def accented(velocity: int, slot: Slot, timeline: Timeline) -> int:
    """As ``accent``; the first note of a chord counts like the first of a bar."""
    bar = timeline.bar_at(slot.onset_beats)
    if slot.onset_beats == slot.span.onset_beats:
        return accent(velocity, Fraction(0), bar.meter)
    return accent(velocity, slot.onset_beats - bar.onset_beats, bar.meter)


def bars_under(timeline: Timeline, span: ChordSpan) -> tuple[Bar, ...]:
    """The bars that a chord span sounds in, wholly or in part."""
    found = []
    for bar in timeline.bars[timeline.bar_at(span.onset_beats).number - 1 :]:
        if bar.onset_beats >= span.end_beats:
            break
        found.append(bar)
    return tuple(found)


def cells_of_bar(meter: Meter, rhythm: str) -> tuple[tuple[Fraction, Fraction], ...]:
    """``(onset, end)`` of each slot of a bar, in beats from the bar line. Raises LineError."""
    found = []
    onset = Fraction(0)
    for length in cycle(cell_of(rhythm, compound=meter.is_compound)):
        end = onset + length
        if meter.bar_beats - end < _SHORTEST:
            end = meter.bar_beats
        found.append((onset, end))
        onset = end
        if onset == meter.bar_beats:
            break
    return tuple(found)


def require_rests(rest_every: int) -> None:
    """Raise LineError unless a rest on every slot of that number leaves a line."""
    if rest_every < 0 or rest_every == 1:
        raise LineError(
            f"a rest on every slot number {rest_every} leaves no line",
            hint="write 0 for no rests, or 2 or more: 4 gives three notes and a rest",
        )


def accent(velocity: int, onset: Fraction, meter: Meter) -> int:
    """A little more on the first of a bar, a little less between the pulses."""
    if onset == 0:
        return min(127, velocity + 8)
    return velocity if onset % meter.pulse_beats == 0 else max(1, velocity - 5)
