"""The rhythms that lines are made of: cells by the family of a feel and by level.

A cell is written a word a pulse. The letters of a word divide the pulse evenly: ``x`` strikes, ``-``
holds what sounds (after a rest it rests), ``.`` rests. ``x -x`` is a dotted quarter and an eighth,
``xxx`` a triplet, in compound meters three eighths. A cell that begins with ``-`` ties over the
beat, and at the beginning of a bar over the bar line.

Every row says the levels that draw the cell, how often, and the cell. The cells are common practice
of their styles [common practice]; what each level brings is told in ``RHYTHMS_OF_LEVELS``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from genex.exercises import LineFamily
from genex.score import Meter

Words = tuple[str, ...]
"""A rhythm, a word a pulse."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A rhythm of some pulses, and how often it is drawn."""

    words: Words
    weight: int

    @property
    def is_tied(self) -> bool:
        """Whether it holds what was struck before it."""
        return self.words[0][0] == "-"


LATE_LEVEL = 2
"""From this level on a phrase may begin after its first beat."""
OFF_BEAT_LEVEL = 3
"""From this level on notes are struck off the beat and held over it."""
TIES_LEVEL = 4
"""From this level on notes are held over bar lines, and ideas come back a beat later."""
HALF_PULSE_LEVEL = 5
"""From this level on ideas come back half a beat later."""

RHYTHMS_OF_LEVELS = {
    1: "on the beat; pairs of eighths",
    2: "dotted notes; a phrase may begin after the beat",
    3: "off the beat; pickups; ideas cut short or divided",
    4: "ties over bar lines into the next chord; triplets; ideas a beat later",
    5: "ideas half a beat later; phrases of up to eight bars",
    6: "the longest runs, in all cells of the feel",
}
"""What each level adds to the one before, as the documentation tells it."""

_SIMPLE = """
    1-2 5  x
    3-6 3  x
    1-3 2  x -
    1-2 1  x - -
    1-2 1  x - - -
    1-2 1  . .
    1-6 2  .
    1-6 3  xx
    1-2 2  x x
    3-3 2  xx x
    3-3 2  x xx
    3-3 2  x -x x
    3-4 1  x . x
    3-4 1  xx xx
    3-6 1  x.
    5-6 2  xx -x xx
    5-6 2  -x xx
    6-6 4  -x xx
    6-6 5  -x -x
    1-2 3  xx x
    1-2 2  x xx
    1-2 2  x - xx
    1-2 1  x x xx
    2-2 2  xx xx
    2-2 3  x -x
    3-6 2  x -x
    2-2 2  x -x x
    2-2 2  x x -x
"""
_TABLE: MappingProxyType[LineFamily, str] = MappingProxyType(
    {
        "swing": f"""{_SIMPLE}
            3-6 2  xx x
            3-6 3  .x
            3-6 3  xx -x
            3-6 2  .x -
            3-6 2  x .x
            4-6 3  -x
            4-6 2  -x -x
            6-6 5  -x -x
            4-6 2  .x -x
            4-6 3  xx xx
            4-6 2  xxx
            5-6 2  xxx x
            5-6 2  .x xx
            6-6 2  .xx
            6-6 1  xxx xx
            6-6 4  -x xx
            6-6 3  xx xx xx
        """,
        "bossa": f"""{_SIMPLE}
            3-6 2  x x.
            3-6 3  .x -x
            3-6 2  xx -x
            3-6 2  .x x
            3-6 2  .x
            4-6 4  -x
            4-6 3  -x -x
            4-6 3  x -x -x
            4-6 2  x -x - x
            4-6 2  -x x
            5-6 2  x-x -x-
            5-6 3  .x xx
            5-6 3  xx xx
            6-6 2  .x -x -x
            6-6 3  xx .x -x
        """,
        "funk": f"""{_SIMPLE}
            2-6 3  x--x
            3-6 3  x-xx
            3-6 2  ..xx
            3-6 2  .x
            3-6 2  x--x -x
            4-6 2  xxx-
            4-6 3  xx-x
            4-6 3  -xx-
            4-6 2  .x-x
            5-6 3  xxxx
            5-6 2  .xxx
            5-6 2  xx.x
            5-6 2  x--x --x-
            6-6 2  -x-x
            6-6 1  .x.x
            6-6 2  xxxx x-xx
        """,
        "shuffle": f"""{_SIMPLE}
            3-6 2  x x.
            3-6 3  .x
            3-6 2  .x x
            3-6 2  xxx
            3-6 2  .x -
            4-6 3  -x
            4-6 3  xxx x
            4-6 2  .x -x
            4-6 2  .xx
            5-6 2  xxx xxx
            5-6 3  xx -x
            6-6 2  .xx xxx
            6-6 2  -x xxx
            6-6 2  xx xx
        """,
        "waltz": f"""{_SIMPLE}
            1-6 3  x - x
            1-4 2  x x -
            2-6 3  x -x x
            2-3 2  x - -x
            1-2 2  x.
            3-6 3  x -x -
            3-6 2  .x x
            3-6 2  xx x x
            3-6 2  xx -x
            3-6 2  .x
            3-6 2  x . xx
            3-6 2  x. x x
            3-6 2  x -x xx
            3-6 2  xx x -x
            3-6 2  x x. xx
            3-6 2  . xx x
            4-6 3  -x
            4-6 2  -x xx
            4-6 2  -x -x x
            4-6 2  .x x -x
            4-6 2  xxx x -
            4-6 2  .x -x -
            4-6 2  xx -x xx
            4-6 2  xx xx x
            5-6 2  xxx
            5-6 2  .x xx xx
            5-6 2  -x -x
            5-6 2  x -x .x
            5-6 2  xx xxx x
            5-6 2  .x -x xx
            6-6 2  x xxx xx
            6-6 2  xx -x -x
            6-6 4  -x -x
            6-6 3  xx xx xx
            6-6 2  .xx
            6-6 2  xxx x
        """,
        "six-eight": """
            1-2 4  x
            3-6 2  x
            1-3 2  x -
            1-6 2  .
            1-6 4  x-x
            1-6 2  xxx
            2-6 2  x- -x-
            3-6 2  ..x
            3-6 2  .xx
            3-6 2  xx-
            3-6 2  x-x x
            4-6 3  --x
            4-6 2  -xx
            4-6 2  x-x --x
            5-6 2  x-xxx-
            5-6 2  x---xx
            5-6 2  .x-
            5-6 3  xxx xxx
            6-6 2  xxxxx-
            6-6 3  -x-
            6-6 4  -xx
            6-6 3  xxx x-xxx-
        """,
        "straight": f"""{_SIMPLE}
            3-6 2  x x.
            3-6 3  xx -x
            3-6 2  .x
            3-6 2  .x -
            4-6 3  -x
            4-6 3  x -x -x
            4-6 2  .x xx
            4-6 2  x--x
            5-6 2  x-xx
            5-6 2  ..xx
            5-6 3  xx xx
            5-6 2  .x -x
            6-6 1  xxxx
            6-6 2  -xx-
            6-6 2  xxx-
            6-6 2  xx xx xx
        """,
    }
)

_PICKUPS: MappingProxyType[LineFamily, tuple[str, ...]] = MappingProxyType(
    {
        "swing": ("3 .x", "3 xx", "4 .xx", "5 .x xx"),
        "bossa": ("3 .x", "3 xx", "5 .x xx"),
        "funk": ("3 .x", "3 ..xx", "4 .xxx", "5 ...x"),
        "shuffle": ("3 .x", "3 .xx", "4 xx", "5 xxx"),
        "waltz": ("3 .x", "3 xx", "3 x", "5 .x xx"),
        "six-eight": ("3 ..x", "3 .xx", "4 xxx", "5 ..xxxx"),
        "straight": ("3 .x", "3 xx", "5 ..xx", "5 .x xx"),
    }
)
"""What leads up to a bar line: the level that brings it, and its words."""


@lru_cache(maxsize=64)
def cells_of(family: LineFamily, level: int) -> tuple[Cell, ...]:
    """The cells that a level has in a family; its own row stands before what all have in common."""
    rows = {cell.words: cell for low, high, cell in _rows(family) if low <= level <= high}
    return tuple(rows.values())


def pickups_of(family: LineFamily, level: int) -> tuple[Words, ...]:
    """The pickups that a level has in a family; none below level 3."""
    rows = (row.split() for row in _PICKUPS[family])
    return tuple(tuple(words) for lowest, *words in rows if int(lowest) <= level)


def is_quick(words: Words, meter: Meter) -> bool:
    """Whether notes are shorter than eighths: at 200 quarter notes a minute triplets are ten notes a
    second, which a plectrum does not play in time [common practice]."""
    return any("x" in word and len(word) > (3 if meter.is_compound else 2) for word in words)


def _rows(family: LineFamily) -> Iterator[tuple[int, int, Cell]]:
    for row in _TABLE[family].strip().splitlines():
        if row.split():
            levels, weight, *words = row.split()
            lowest, _, highest = levels.partition("-")
            yield int(lowest), int(highest), Cell(tuple(words), int(weight))
