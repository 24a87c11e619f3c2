"""Habits of a tune: the bars that it is made of, and how its phrases come to rest.

The first levels have few rhythms in all (notes on the beat, pairs of eighths): drawn by chance two
tunes would have most of their bars in common. So each keeps to a few of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

from genex.lines.rhythm_cells import Words


@dataclass(frozen=True)
class Habit:
    """bars  the bars that ideas are drawn from
    ends  how its phrases come to rest: the beat, from 0, that the last note is struck on, and how
          many more it lasts
    """

    bars: tuple[Words, ...]
    ends: tuple[tuple[int, int], ...]
