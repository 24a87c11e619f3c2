"""What a player would not practise in a line: hovering, leaps on leaps, and one note over and over."""

from __future__ import annotations

from collections.abc import Sequence

_LARGE, _SECOND_LARGE, _SEVENTHS, _OUT_AND_BACK = 7, 5, (10, 11), 9
"""Semitones: a leap that is followed by a step or turns back, one that stacks on it, those that are hard
to hear, as an octave is not, and what is out of reach there and back again [common practice]."""


def awkward_places(midis: Sequence[int]) -> list[int]:
    """The notes that make a line awkward, as indices; ``midis`` are its notes in order.

    The last of two notes in turn twice over (a b a b), of a large leap that goes on leaping the same
    way, of a sixth or more out and back, of three times the same note, and of a leap of a seventh
    [common practice].
    """
    found = []
    for index in range(1, len(midis)):
        *before, b, c = midis[max(0, index - 3) : index + 1]
        bad = abs(c - b) in _SEVENTHS
        if before:
            a = before[-1]
            stacks = abs(b - a) >= _LARGE and abs(c - b) >= _SECOND_LARGE and (b - a) * (c - b) > 0
            springs = min(abs(b - a), abs(c - b)) >= _OUT_AND_BACK
            bad = bad or stacks or springs or a == b == c
        if bad or (len(before) == 2 and before == [b, c] and b != c):
            found.append(index)
    return found
