"""Guide tones that resolve over a change: what a phrase through the changes is about.

When the chord changes, a third or seventh of the old chord moves by a semitone or a whole tone to
a third or seventh of the new one; in ii-V-I the seventh of each chord falls to the third of the
next [common practice]. Between chords whose guide tones lie further apart (or are held over, as
from C7 to Gb7), a guide tone moves by step to another tone of the new chord.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from genex.lines.vocabulary import degrees_at
from genex.theory import Chord, Degree

CHANGES_LEVEL = 6
"""The level that goes through the changes."""


@dataclass(frozen=True, slots=True)
class Resolution:
    """The ways over a change: (from, to) as pitch classes, a step of one or two semitones apart."""

    ways: frozenset[tuple[int, int]]

    def is_made_by(self, before: int, after: int) -> bool:
        """Whether two MIDI numbers, the last over a chord and the first over the next, resolve."""
        return 1 <= abs(after - before) <= 2 and (before % 12, after % 12) in self.ways


@lru_cache(maxsize=512)
def resolution(before: Chord, after: Chord) -> Resolution | None:
    """How a guide tone of one chord resolves into the next; None if none lies by a step."""
    leaving = _classes(before, before.guide_tones)
    for degrees in (after.guide_tones, degrees_at(after, CHANGES_LEVEL)):
        arriving = _classes(after, degrees)
        ways = frozenset((a, b) for a in leaving for b in arriving if (b - a) % 12 in (1, 2, 10, 11))
        if ways:
            return Resolution(ways)
    return None


def _classes(chord: Chord, degrees: Iterable[Degree]) -> frozenset[int]:
    return frozenset(chord.root.degree(degree).pitch_class for degree in degrees)
