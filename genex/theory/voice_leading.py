"""How far the voices move from one chord to the next, and the ways that move least.

A voice leading here covers both chords: every tone of the first moves somewhere, every tone of
the second is reached. Several voices may share a tone, so chords of different size lead into
each other. Its size is the sum of the movements in semitones (the taxicab norm).

Source: D. Tymoczko, The geometry of musical chords, Science 313, 2006, and its supplement, whose
figure S12 gives Cmaj7 to Emaj7 as 3 semitones [published].
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from genex.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class Move:
    """One voice: from ``source`` by ``semitones`` (up positive) to ``target``."""

    source: int
    target: int
    semitones: int


@dataclass(frozen=True, slots=True)
class VoiceLeading:
    """The moves of all voices, by source."""

    moves: tuple[Move, ...]

    @property
    def size(self) -> int:
        """Sum of the movements in semitones."""
        return sum(abs(move.semitones) for move in self.moves)


def smallest_leading(
    source_pitch_classes: Sequence[int] | frozenset[int],
    target_pitch_classes: Sequence[int] | frozenset[int],
) -> VoiceLeading:
    """A smallest voice leading between two sets of pitch classes, octaves being free.

    Each voice takes the shorter way round the circle of twelve; a tritone goes up. Raises
    ValueError for an empty set.
    """
    source = sorted({pitch % 12 for pitch in source_pitch_classes})
    target = sorted({pitch % 12 for pitch in target_pitch_classes})
    return _smallest_cover(source, target, _shorter_way)


def movement(first: Sequence[Pitch], second: Sequence[Pitch]) -> int:
    """Size in semitones of the smallest voice leading between two voicings in register."""
    return _size_in_register(_keys_of(first), _keys_of(second))


def smoothest_path(choices: Sequence[Sequence[tuple[Pitch, ...]]]) -> list[tuple[Pitch, ...]]:
    """One voicing for each chord so that the whole progression moves least.

    ``choices`` holds the possible voicings of each chord in turn. Exact, by dynamic programming;
    among equals the top voice moves least, then the earlier voicings win. Raises ValueError where a
    chord has no voicing.
    """
    if not choices:
        return []
    if not all(choices):
        raise ValueError("every chord needs at least one voicing")
    totals: list[tuple[int, int]] = [(0, 0)] * len(choices[0])
    backward: list[list[int]] = []
    for before, after in pairwise(choices):
        arrivals = []
        for candidate in after:
            ways = [_sum(totals[i], _cost(previous, candidate)) for i, previous in enumerate(before)]
            best = min(range(len(ways)), key=ways.__getitem__)
            arrivals.append((ways[best], best))
        totals = [total for total, _ in arrivals]
        backward.append([best for _, best in arrivals])
    at = min(range(len(totals)), key=totals.__getitem__)
    path = [choices[-1][at]]
    for index in range(len(backward) - 1, -1, -1):
        at = backward[index][at]
        path.append(choices[index][at])
    return path[::-1]


def _keys_of(voicing: Sequence[Pitch]) -> tuple[int, ...]:
    return tuple(sorted({pitch.midi for pitch in voicing}))


@lru_cache(maxsize=65536)
def _size_in_register(first: tuple[int, ...], second: tuple[int, ...]) -> int:
    return _smallest_cover(first, second, _straight_way).size


def _cost(first: Sequence[Pitch], second: Sequence[Pitch]) -> tuple[int, int]:
    top = abs(max(pitch.midi for pitch in first) - max(pitch.midi for pitch in second))
    return movement(first, second), top


def _sum(one: tuple[int, int], other: tuple[int, int]) -> tuple[int, int]:
    return one[0] + other[0], one[1] + other[1]


def _shorter_way(source: int, target: int) -> int:
    up = (target - source) % 12
    return up if up <= 6 else up - 12


def _straight_way(source: int, target: int) -> int:
    return target - source


def _smallest_cover(
    source: Sequence[int], target: Sequence[int], way: Callable[[int, int], int]
) -> VoiceLeading:
    """A cheapest set of moves that touches every source and every target.

    Each source takes one target; targets left over are reached from their nearest source. Over
    all choices of the first kind that is a minimum edge cover of the bipartite graph, found here
    by dynamic programming over the set of targets taken.
    """
    if not source or not target:
        raise ValueError("a voice leading needs tones on both sides")
    nearest = [min((abs(way(tone, goal)), tone) for tone in source)[1] for goal in target]
    paths: dict[int, tuple[int, tuple[int, ...]]] = {0: (0, ())}
    for tone in source:
        following: dict[int, tuple[int, tuple[int, ...]]] = {}
        for taken, (cost, chosen) in paths.items():
            for index, goal in enumerate(target):
                option = cost + abs(way(tone, goal)), (*chosen, index)
                mask = taken | 1 << index
                if mask not in following or option < following[mask]:
                    following[mask] = option
        paths = following

    def whole(entry: tuple[int, tuple[int, tuple[int, ...]]]) -> tuple[int, tuple[int, ...]]:
        taken, (cost, chosen) = entry
        left = [i for i in range(len(target)) if not taken >> i & 1]
        return cost + sum(abs(way(nearest[i], target[i])) for i in left), chosen

    taken, (_, chosen) = min(paths.items(), key=whole)
    pairs = [(tone, target[index]) for tone, index in zip(source, chosen, strict=True)]
    pairs += [(nearest[i], target[i]) for i in range(len(target)) if not taken >> i & 1]
    return VoiceLeading(tuple(Move(s, t, way(s, t)) for s, t in sorted(pairs)))
