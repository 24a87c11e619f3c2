"""A player's own shapes and tastes, as data: what a shape holds, and where it lies for a root.

An own shape is written for one root and serves all twelve: it is moved along the neck until its
roots sound the root asked for, as low as it can lie. With an open string in it, it stays where
it is. It belongs to necks with the same intervals between their strings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from genex.theory import Degree


@dataclass(frozen=True, slots=True)
class Taste:
    """What a player prefers where genex computes a fingering.

    fewer        of what there shall be fewer, at the price of the other
    root_finger  the finger that begins a shape on its lowest root, where the hand can do that
    all_tones    ninths and more in order of pitch, not stacked in thirds
    """

    fewer: Literal["rolls", "shifts"] | None = None
    root_finger: int | None = None
    all_tones: bool = False


NO_TASTE = Taste()


@dataclass(frozen=True, slots=True)
class OwnStep:
    """A note: ``finger`` 0 is an open string, None is left to be computed."""

    string: int
    fret: int
    finger: int | None = None


@dataclass(frozen=True)
class OwnShape:
    """A shape as its player wrote it.

    form       the form it takes the place of, or a name of its own
    degrees    degrees of the chord or scale that it is for
    intervals  semitones between neighbouring strings, from string 1 down
    path       every note in the order of practice
    root       index in ``path`` of the first root
    """

    form: str
    degrees: frozenset[Degree]
    intervals: tuple[int, ...]
    path: tuple[OwnStep, ...]
    root: int

    def at(
        self, root_pitch_class: int, open_midi: Sequence[int], last_fret: int
    ) -> tuple[OwnStep, ...] | None:
        """The path for a root on a neck; None where it does not lie there."""
        if intervals_of(open_midi) != self.intervals:
            return None
        anchor = self.path[self.root]
        up = (root_pitch_class - open_midi[anchor.string - 1] - anchor.fret) % 12
        frets = [step.fret for step in self.path]
        for way in (up - 12, up):
            is_open = min(frets) == 0
            if (is_open and way != 0) or min(frets) + way < (0 if is_open else 1):
                continue
            if max(frets) + way <= last_fret:
                return tuple(OwnStep(s.string, s.fret + way, s.finger) for s in self.path)
        return None


def intervals_of(open_midi: Sequence[int]) -> tuple[int, ...]:
    """Semitones between neighbouring strings, from string 1 down."""
    return tuple(a - b for a, b in pairwise(open_midi))
