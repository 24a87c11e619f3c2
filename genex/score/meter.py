"""Meters, and how their bars are counted and felt."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from genex.errors import NotationError
from genex.exact import Fraction

_QUARTER, _DOTTED_QUARTER = Fraction(1), Fraction(3, 2)


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature.

    ``pulse_beats`` is the note value that is counted and that a tempo refers to: the dotted
    quarter in 3/8, 6/8, 9/8 and 12/8 (compound meters), the quarter in all others
    [common practice].
    """

    count: int
    unit: int

    def __post_init__(self) -> None:
        if self.unit not in (2, 4, 8, 16) or not 1 <= self.count <= 32:
            raise NotationError(f"{self} is not a meter", hint="write for example 4/4, 3/4 or 12/8")

    @classmethod
    def parse(cls, text: str) -> Meter:
        """Read ``4/4``. Raises NotationError."""
        count, _, unit = text.partition("/")
        if not (count.strip().isdecimal() and unit.strip().isdecimal()):
            raise NotationError(f"'{text}' is not a meter", hint="write for example 4/4, 3/4 or 12/8")
        return cls(int(count), int(unit))

    @property
    def is_compound(self) -> bool:
        return self.unit == 8 and self.count in (3, 6, 9, 12)

    @property
    def bar_beats(self) -> Fraction:
        """Length of a bar."""
        return Fraction(4 * self.count, self.unit)

    @property
    def pulse_beats(self) -> Fraction:
        """Length of the counted pulse."""
        return _DOTTED_QUARTER if self.is_compound else _QUARTER

    @property
    def mark_beats(self) -> Fraction:
        """The note value that a metronome mark on paper names: the half note in 2/2 and 3/2."""
        return Fraction(2) if self.unit == 2 else self.pulse_beats

    @property
    def pulses(self) -> tuple[Fraction, ...]:
        """Onsets of the pulses inside a bar; 7/8 counts 1, 2, 3 and a pulse and a half."""
        return _pulses(self)

    @property
    def groups(self) -> tuple[Fraction, ...]:
        """Onsets of the groups in which a bar is felt, written and beamed.

        Those of compound meters are their pulses. Odd meters are felt in twos and threes, ``GROUPS``;
        other bars are one group.
        """
        if self.is_compound:
            return self.pulses
        unit, at, found = Fraction(4, self.unit), Fraction(0), []
        for size in GROUPS.get((self.count, self.unit), (self.count,)):
            found.append(at)
            at += size * unit
        return tuple(found)

    def __str__(self) -> str:
        return f"{self.count}/{self.unit}"


GROUPS: dict[tuple[int, int], tuple[int, ...]] = {
    (5, 4): (3, 2),
    (6, 4): (3, 3),
    (7, 4): (4, 3),
    (9, 4): (3, 3, 3),
    (11, 4): (4, 4, 3),
    (5, 8): (3, 2),
    (7, 8): (2, 2, 3),
    (8, 8): (3, 3, 2),
    (10, 8): (3, 3, 2, 2),
    (11, 8): (3, 3, 3, 2),
    (13, 8): (3, 3, 3, 2, 2),
    (15, 8): (3, 3, 3, 3, 3),
}
"""Meters and the groups that they are read in when nothing else is said [common practice]."""


COMMON_TIME = Meter(4, 4)
"""What a piece is in unless something says otherwise."""


@cache
def _pulses(meter: Meter) -> tuple[Fraction, ...]:
    """They are asked for note by note."""
    count = max(1, int(meter.bar_beats / meter.pulse_beats))
    return tuple(index * meter.pulse_beats for index in range(count))
