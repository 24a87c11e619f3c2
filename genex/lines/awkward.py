"""What a player would not practise in a line: hovering, leaps on leaps, and one note over and over."""

from __future__ import annotations

from collections.abc import Sequence

_LARGE, _SECOND_LARGE, _WIDEST = 7, 5, 9
"""Semitones: a leap that is followed by a step or turns back, one that stacks on it, and the widest
that a line needs no reason for [common practice]."""


def awkward_places(midis: Sequence[int]) -> list[int]:
    """The notes that make a line awkward, as indices; ``midis`` are its notes in order.

    The last of two notes in turn twice over (a b a b), of a large leap that goes on leaping the same
    way, of three times the same note, and of a leap wider than a major sixth [common practice].
    """
    found = []
    for index in range(1, len(midis)):
        *before, b, c = midis[max(0, index - 3) : index + 1]
        bad = abs(c - b) > _WIDEST
        if before:
            a = before[-1]
            stacks = abs(b - a) >= _LARGE and abs(c - b) >= _SECOND_LARGE and (b - a) * (c - b) > 0
            bad = bad or stacks or a == b == c
        if bad or (len(before) == 2 and before == [b, c] and b != c):
            found.append(index)
    return found
