"""A walk over a shape in time: which slot of a rhythm each of its notes takes.

A walk begins on a bar line and ends on a beat, on a note that is held to the end of its bar, or of the
next one where that would be no longer than the notes before. What goes in groups runs on through
the beats, as groups of three in eighths do; where one note of a group is held, every group begins
where a beat does, or a half of one [common practice].
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from typing import Literal, NamedTuple

from genex.exact import Fraction
from genex.lines.note_slots import cells_of_bar
from genex.score import Meter

HELD_SLOTS = 2
"""Slots that the last note lasts at least."""


class Times(NamedTuple):
    """(onset, length) of each note in beats from the first bar line, and how many bars it takes."""

    notes: list[tuple[Fraction, Fraction]]
    bars: int


class _Slot(NamedTuple):
    onset: Fraction
    end: Fraction
    is_rest: bool
    is_beat: bool


def walk_times(
    length: int,
    rhythm: str,
    meter: Meter,
    *,
    group: int = 1,
    held: Literal["first", "last"] | None = None,
    rest_every: int = 0,
) -> Times:
    """The times of ``length`` notes: whole groups of ``group`` and a last note.

    held        the note of each group that is held, so that the next begins with a beat; with rests
                none is
    rest_every  every n-th slot of a bar is a rest; 0 for none

    Raises LineError for an unknown rhythm.
    """
    slots = _slots(rhythm, meter, rest_every)
    a_bar = len(cells_of_bar(meter, rhythm))
    per_beat = max(1, a_bar // len(meter.pulses))
    room = group
    if held is not None and not rest_every:
        room = slots_of_group(group, per_beat, a_bar)
    found: list[tuple[Fraction, Fraction]] = []
    spare = room - group
    for index in range(length - 1):
        slot = next(slot for slot in slots if not slot.is_rest)
        end = slot.end
        if spare and index % group == (0 if held == "first" else group - 1):
            for _ in range(spare):
                end = next(slots).end
        found.append((slot.onset, end - slot.onset))
    last = next(slots)
    while last.is_rest or not last.is_beat:
        # The note before waits for the beat, unless a rest comes between.
        onset, lasting = found[-1]
        if not last.is_rest and onset + lasting == last.onset:
            found[-1] = onset, last.end - onset
        last = next(slots)
    bars = int(last.onset // meter.bar_beats) + 1
    if bars * meter.bar_beats - last.onset < HELD_SLOTS * meter.pulse_beats / per_beat:
        bars += 1
    found.append((last.onset, bars * meter.bar_beats - last.onset))
    return Times(found, bars)


def slots_of_group(group: int, per_beat: int, a_bar: int) -> int:
    """How many slots a group takes, one of its notes held, so that it ends with a beat or half of one.

    ``per_beat`` and ``a_bar`` are the slots of a beat and of a bar. What also divides the bar is
    taken if it is not more than twice as long as the group.
    """
    fitting = [
        room
        for room in range(group, group + per_beat * a_bar + 1)
        if room % per_beat == 0 or per_beat % room == 0
    ]
    even = (room for room in fitting if room <= 2 * group and (a_bar % room == 0 or room % a_bar == 0))
    return next(even, fitting[0])


def _slots(rhythm: str, meter: Meter, rest_every: int) -> Iterator[_Slot]:
    cells = cells_of_bar(meter, rhythm)
    for bar in count():
        start = bar * meter.bar_beats
        for place, (onset, end) in enumerate(cells, start=1):
            is_rest = rest_every > 0 and place % rest_every == 0
            yield _Slot(start + onset, start + end, is_rest, onset in meter.pulses)
