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
    ends  the bars in which its phrases come to rest
    """

    bars: tuple[Words, ...]
    ends: tuple[Words, ...]


def struck_last(words: Words) -> int:
    """The beat of a bar, from 0, that its last note is struck on."""
    return max(index for index, word in enumerate(words) if "x" in word)
