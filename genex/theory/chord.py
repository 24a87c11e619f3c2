"""What a chord is. The grammar that reads chord symbols is in ``symbol.py``.

A chord is a root, a tuple of degrees over it in ascending order of the degree's number
(1 3 5 7 9 11 13; 6 and sus degrees in their place), and a bass note. Its spelling follows
from the degrees, so Cdim7 is C Eb Gb Bbb and C7b9 has Db, not C#.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from genex.theory.pitch import Degree, Interval, NoteName


@dataclass(frozen=True)
class Chord:
    """A chord with its spelling.

    symbol   as the chart writes it, for display
    root     spelled root
    degrees  degrees over the root that the symbol asks for, ascending, root first when present
    bass     the slash bass, or the root
    quality  the key of the quality table that the symbol was read as, such as ``m7b5``
    """

    symbol: str
    root: NoteName
    degrees: tuple[Degree, ...]
    bass: NoteName
    quality: str

    @cached_property
    def notes(self) -> tuple[NoteName, ...]:
        """Spelled notes in the order of ``degrees`` (a foreign slash bass is not among them)."""
        return tuple(self.root.degree(degree) for degree in self.degrees)

    @cached_property
    def pitch_classes(self) -> frozenset[int]:
        """Pitch classes of the chord tones, without a foreign slash bass."""
        return frozenset(note.pitch_class for note in self.notes)

    @cached_property
    def by_pitch_class(self) -> dict[int, Degree]:
        """Degree of each chord tone's pitch class; the lower number wins where two coincide."""
        found: dict[int, Degree] = {}
        for degree, note in zip(self.degrees, self.notes, strict=True):
            found.setdefault(note.pitch_class, degree)
        return found

    @property
    def has_slash(self) -> bool:
        return self.bass != self.root

    def degree_of(self, pitch_class: int) -> Degree | None:
        """The chord's degree at a pitch class, or None where it is not a chord tone."""
        return self.by_pitch_class.get(pitch_class % 12)

    def find(self, *numbers: int) -> Degree | None:
        """The first degree present whose number is one of ``numbers``, tried in that order."""
        for number in numbers:
            for degree in self.degrees:
                if degree.number == number:
                    return degree
        return None

    @cached_property
    def guide_tones(self) -> tuple[Degree, ...]:
        """The two degrees that carry the chord's colour, the third-like one first.

        Third and seventh where there are both [common practice]. Substitutes: the fourth or
        second of a sus chord for the third; the sixth of a sixth chord for the seventh; in a
        plain triad the fifth (altered or not) stands beside the third.
        """
        third = self.find(3) or self.find(4, 11) or self.find(2, 9)
        seventh = self.find(7) or self.find(6) or self.find(5)
        return tuple(dict.fromkeys(d for d in (third, seventh) if d is not None)) or self.degrees[:2]

    @property
    def is_minor(self) -> bool:
        """Whether the third is minor."""
        third = self.find(3)
        return third is not None and third.alter == -1

    def transpose(self, interval: Interval) -> Chord:
        """The chord an interval away; the symbol is respelled with it."""
        root = self.root.transpose(interval)
        bass = self.bass.transpose(interval)
        symbol = str(root) + self.symbol[_root_length(self.symbol) :]
        if self.has_slash:
            symbol = symbol[: symbol.rindex("/") + 1] + str(bass)
        return Chord(symbol, root, self.degrees, bass, self.quality)

    def __str__(self) -> str:
        return self.symbol


def _root_length(symbol: str) -> int:
    length = 1
    while length < len(symbol) and symbol[length] in "b#♭♯𝄫𝄪":
        length += 1
    return length
