"""A length at a place of a bar as the values that are written there.

The same length is written otherwise on another beat: a note must let the reader see the beats
[common practice]. The rules, from the strongest division of a bar to the weakest:

- the middle of 4/4, 2/2 and 12/8 is hidden only by a value that begins the bar (half dotted, whole);
- a group of an odd meter (3+2, 2+2+3), a pulse of a compound one, is hidden only by a value that
  begins and ends with such groups;
- a beat, its half and so on is hidden by a value on the grid of half that length: a quarter on the
  second eighth, and not on the second sixteenth; off the grid, one of them at the most;
- a tuplet's note stays inside the time of its tuplet.

Whatever breaks a rule is split there and tied. Lengths are quarter-note beats.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from genex.exact import Fraction
from genex.export.note_values import VALUES, spell
from genex.score import Meter, NoteValue

_FINEST = Fraction(1, 8)
"""Below it no reader looks for a division."""

_MIDDLES = {(4, 4): Fraction(2), (2, 2): Fraction(2), (12, 8): Fraction(3)}


@dataclass(frozen=True, slots=True)
class _Level:
    """Divisions of one strength: where they lie, and by what rule a value may hide them."""

    edges: tuple[Fraction, ...]
    spacing_beats: Fraction
    rule: str

    def inside(self, start: Fraction, end: Fraction) -> list[Fraction]:
        return [edge for edge in self.edges if start < edge < end]

    def may_hide(self, start: Fraction, end: Fraction, meter: Meter) -> bool:
        if self.rule == "middle":
            return start == 0 and end.denominator == 1
        if self.rule == "groups":
            ends = (*self.edges, Fraction(0), meter.bar_beats)
            return start in ends and end in ends
        half = self.spacing_beats / 2
        on_grid = not (start % half or end % half)
        return on_grid and (not start % self.spacing_beats or len(self.inside(start, end)) == 1)


@lru_cache(maxsize=64)
def _levels(meter: Meter) -> tuple[_Level, ...]:
    length = meter.bar_beats
    found = []
    if middle := _MIDDLES.get((meter.count, meter.unit)):
        found.append(_Level((middle,), middle, "middle"))
    groups = meter.groups
    if meter.is_compound or len(groups) > 1:
        found.append(_Level(groups[1:], meter.pulse_beats, "groups"))
    spacing = Fraction(1, 2) if meter.unit >= 8 else Fraction(1)
    while spacing >= _FINEST:
        count = int(length / spacing)
        edges = tuple(index * spacing for index in range(1, count + 1) if index * spacing < length)
        found.append(_Level(edges, spacing, "grid"))
        spacing /= 2
    return tuple(found)


@lru_cache(maxsize=8192)
def values_at(start_beats: Fraction, length_beats: Fraction, meter: Meter) -> tuple[NoteValue, ...]:
    """The values from ``start_beats`` after the bar line on, in order, to be tied together.

    Empty where no values reach the length. What goes on behind the bar line is not asked here.
    """
    found: list[NoteValue] = []
    for start, end in _pieces(start_beats, start_beats + length_beats, meter):
        values = spell(end - start)
        if not values:
            return spell(length_beats)
        on_beat = start % meter.pulse_beats == 0
        found += values if on_beat else values[::-1]
    return tuple(found)


def _pieces(start: Fraction, end: Fraction, meter: Meter) -> list[tuple[Fraction, Fraction]]:
    value = VALUES.get(end - start)
    levels = [(level, level.inside(start, end)) for level in _levels(meter)]
    if value is not None and value.tuplet > 1 and _keeps_tuplet(value, start):
        return [(start, end)]
    for level, inside in levels:
        if inside and not level.may_hide(start, end, meter):
            # As many whole groups as one value holds come first.
            whole = [e for e in inside if e - start in VALUES and level.may_hide(start, e, meter)]
            edge = whole[-1] if whole and level.rule == "groups" else inside[0]
            return _split(start, edge, end, meter)
    if value is None:
        for level, inside in levels:
            # The longer value first where the note begins on this division.
            on_grid = level.rule != "grid" or not start % level.spacing_beats
            order = inside[::-1] if on_grid else inside
            for edge in order:
                if edge - start in VALUES:
                    return _split(start, edge, end, meter)
    return [(start, end)]


def _split(
    start: Fraction, edge: Fraction, end: Fraction, meter: Meter
) -> list[tuple[Fraction, Fraction]]:
    return [*_pieces(start, edge, meter), *_pieces(edge, end, meter)]


def _keeps_tuplet(value: NoteValue, start: Fraction) -> bool:
    """Whether a tuplet of such values, one of which begins at ``start``, holds the whole value."""
    window = value.beats * value.tuplet
    return not (start % window) % value.beats
