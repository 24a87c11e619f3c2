"""Habits of a tune: the bars that it is made of, and how its phrases come to rest.

The first levels have few rhythms in all (notes on the beat, pairs of eighths): drawn by chance two
tunes would have most of their bars in common. So each keeps to a few of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from genex.lines.rhythm_cells import Words

_MOST_IN_EIGHT = 4
_OFTEN_ENOUGH = 3
"""So many bars of a tune that keeps to a habit have one rhythm before another of its own takes turns."""


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


def in_turn(words: Words, habit: Habit, before: Sequence[Words], *, first: bool) -> Words:
    """A bar of a habit, or the one that came least where that has come often enough."""
    others = [bar for bar in habit.bars if bar[0][0] == "x" or not first]
    if before.count(words) < _OFTEN_ENOUGH or not others:
        return words
    return min(others, key=before.count)


def too_often(bars: Sequence[Words], new: int, *, share: int) -> int:
    """How often the last ``new`` of some bars make one rhythm come too often: for the third time in a
    row, more than four times in eight bars [common practice], or in more than one bar in ``share``."""
    found = 0
    for index in range(len(bars) - new, len(bars)):
        own = bars[index]
        found += index > 1 and bars[index - 2 : index] == (own, own)
        found += bars[max(0, index - 7) : index + 1].count(own) > _MOST_IN_EIGHT
        found += 3 * (bars[: index + 1].count(own) > max(2, (index + 1) // share))
    return found
