"""What a player would not practise in a line: hovering, leaps on leaps, and one note over and over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from genex.exact import Fraction

_LARGE, _SECOND_LARGE, _SEVENTHS, _OUT_AND_BACK = 7, 5, (10, 11), 9
"""Semitones: a leap that is followed by a step or turns back, one that stacks on it, those that are hard
to hear, as an octave is not, and what is out of reach there and back again [common practice]."""
_WINDOW, _MOST_ALIKE, _FEWEST_PITCHES = 8, 4, 4
"""Of so many notes in a row no more are one pitch, and no fewer pitches are there."""

Times = Sequence[tuple[Fraction, Fraction]]
"""(onset, length) of notes, in beats."""


def awkward_places(midis: Sequence[int], times: Times = (), *, few_tones: bool = False) -> list[int]:
    """The notes that make a line awkward, as indices; ``midis`` are its notes in order.

    The last of two notes in turn twice over (a b a b), of a large leap that goes on leaping the same
    way, of a sixth or more out and back, of three times the same note, of a leap of a seventh, and of
    eight notes that circle about one. Where ``times`` are known also a short note struck twice, and a
    short one that a large leap leads to from another short one, or that is left alone after it. With
    ``few_tones`` there is nothing but to circle [common practice].
    """
    found = []
    for index in range(1, len(midis)):
        *before, b, c = midis[max(0, index - 3) : index + 1]
        bad = abs(c - b) in _SEVENTHS or _circles(
            midis[max(0, index + 1 - _WINDOW) : index + 1], few_tones
        )
        if before:
            a = before[-1]
            stacks = abs(b - a) >= _LARGE and abs(c - b) >= _SECOND_LARGE and (b - a) * (c - b) > 0
            springs = min(abs(b - a), abs(c - b)) >= _OUT_AND_BACK
            bad = bad or stacks or springs or a == b == c
        bad = bad or (len(before) == 2 and before == [b, c] and b != c)
        if not bad and times and (b == c or abs(c - b) > _LARGE):
            bad = _is_hasty(index, b == c, times)
        if bad:
            found.append(index)
    return found


def _circles(window: Sequence[int], few_tones: bool) -> bool:
    if len(window) < _WINDOW:
        return False
    counts = Counter(window)
    return counts[window[-1]] > _MOST_ALIKE or (not few_tones and len(counts) < _FEWEST_PITCHES)


def _is_hasty(index: int, again: bool, times: Times) -> bool:
    """Whether a short note comes hastily after a leap or is struck again."""
    (before, length), (onset, own) = times[index - 1], times[index]
    if own >= 1 or (again and onset - before >= 1):
        return False
    if again or onset > before + length:
        return again
    left_alone = index + 1 < len(times) and times[index + 1][0] > onset + own
    return length < 1 or left_alone
