"""Two voices under one hand: both notes of each pair are held together, as double stops.

A pair lies on two strings, the upper voice on the thinner one, at most one string between them,
within the reach of the hand. The hand goes from pair to pair as little as it can, and a note that
stays keeps its place and finger: the least sum is found by dynamic programming. The costs are
common practice: a shift is dearer than anything within a position, neighbouring strings are
plucked more easily than distant ones, a held note is a guide for the other finger.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise, product
from typing import NamedTuple

from genex.errors import LineError
from genex.fretboard import HandMove, Tuning
from genex.lines.search import cheapest_path
from genex.score import Fretting, Note

HIGHEST_FRET = 14
"""Pairs lie below the frets that the body covers."""
HOME_FRET = 4
_FARTHEST_STRINGS = 2
_SPAN_FRETS = 3
_SHIFT, _SHIFT_A_FRET, _SKIPPED, _OTHER_STRING, _HELD, _AWAY = 40, 10, 12, 15, -25, 1
_ONE_FINGER_ELSEWHERE, _LITTLE, _DRAWN_IN, _THICK = 30, 3, 4, 4


class Pair(NamedTuple):
    """Both notes' places: the fret of the first finger, then string, fret, finger of each voice.

    Finger 0 and ``position`` 0 are open strings.
    """

    position: int
    upper: tuple[int, int, int]
    lower: tuple[int, int, int]


def pairs_of(
    upper: int,
    lower: int,
    tuning: Tuning,
    strings: Collection[int] | None = None,
    *,
    closed: bool = True,
) -> list[Pair]:
    """Every way to hold two pitches (MIDI numbers) together. ``closed`` leaves out open strings."""
    own = [s for s in range(1, len(tuning.strings) + 1) if strings is None or s in strings]
    first = 1 if closed else 0
    found = []
    for high, low in product(own, own):
        frets = upper - tuning.open_midi[high - 1], lower - tuning.open_midi[low - 1]
        gap = low - high
        if not (1 <= gap <= _FARTHEST_STRINGS and first <= min(frets)):
            continue
        if max(frets) <= min(tuning.last_fret, HIGHEST_FRET):
            found += list(_fingers(high, low, *frets, tuning))
    return found


def _fingers(high: int, low: int, high_fret: int, low_fret: int, tuning: Tuning) -> Iterator[Pair]:
    """The fingers for two places: one a fret, or drawn in by one; on equal frets the higher finger
    takes the thinner string."""
    stopped = [fret for fret in (high_fret, low_fret) if fret]
    if len(stopped) < 2:
        position = stopped[0] if stopped else 0
        yield Pair(position, (high, high_fret, bool(high_fret)), (low, low_fret, bool(low_fret)))
        return
    span = abs(high_fret - low_fret)
    near, far = min(stopped), max(stopped)
    if span > _SPAN_FRETS or tuning.fret_mm(far) - tuning.fret_mm(near) > tuning.hand.reach_mm:
        return
    least = max(span, 1)
    for first, second in combinations(range(1, 5), 2):
        position = near - first + 1
        if position < 1 or second - first not in (least, least + 1):
            continue
        on_high = second if high_fret >= low_fret else first
        yield Pair(position, (high, high_fret, on_high), (low, low_fret, first + second - on_high))


def finger_together(
    upper: Sequence[Note],
    lower: Sequence[Note],
    tuning: Tuning,
    *,
    position: int | None = None,
    strings: Collection[int] | None = None,
) -> tuple[list[Note], list[Note]]:
    """Two voices of equal rhythm with their frettings. Raises LineError for a pair out of reach.

    ``position`` (the fret of the first finger) keeps the hand near there.
    """
    closed = position != 1
    layers = []
    for high, low in zip(upper, lower, strict=True):
        pairs = pairs_of(high.midi, low.midi, tuning, strings, closed=closed)
        pairs = pairs or pairs_of(high.midi, low.midi, tuning, strings, closed=False)
        if not pairs:
            raise LineError(
                f"{high.pitch} over {low.pitch} cannot be held by one hand",
                hint="write 'voices: 1', or give the line more strings or another range",
            )
        layers.append(pairs)
    home = HOME_FRET if position is None else position
    weight = 1 if position is None else 20

    def own(layer: int, pair: Pair) -> int:
        skipped = pair.lower[0] - pair.upper[0] - 1
        little = 4 in (pair.upper[2], pair.lower[2])
        frets, fingers = abs(pair.upper[1] - pair.lower[1]), abs(pair.upper[2] - pair.lower[2])
        drawn_in = max(0, fingers - max(frets, 1))
        thick = max(0, pair.lower[0] - 4)
        return (
            _SKIPPED * skipped
            + _AWAY * weight * abs(pair.position - home)
            + _LITTLE * little
            + _DRAWN_IN * drawn_in
            + _THICK * thick
        )

    way = cheapest_path(layers, own, lambda layer, before, after: _change(before, after))[1]
    shifts = [False, *(a.position != b.position for a, b in pairwise(way))]
    voices = (
        [
            replace(note, fretting=Fretting(*place, HandMove.SHIFT if shift else HandMove.NONE))
            for note, place, shift in zip(notes, places, shifts, strict=True)
        ]
        for notes, places in ((upper, [p.upper for p in way]), (lower, [p.lower for p in way]))
    )
    above, below = voices
    return above, below


def _change(before: Pair, after: Pair) -> int:
    travel = abs(after.position - before.position)
    cost = _SHIFT * bool(travel) + _SHIFT_A_FRET * travel
    for a, b in ((before.upper, after.upper), (before.lower, after.lower)):
        if a == b:
            cost += _HELD
        elif a[0] != b[0]:
            cost += _OTHER_STRING
    for a, b in product((before.upper, before.lower), (after.upper, after.lower)):
        if a[2] == b[2] != 0 and a[0] != b[0]:
            cost += _ONE_FINGER_ELSEWHERE
    return cost
