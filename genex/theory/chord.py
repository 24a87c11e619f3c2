"""What a chord is. The grammar that reads chord symbols is in ``symbol.py``.

A chord is a root, a tuple of degrees over it in ascending order of the degree's number
(1 3 5 7 9 11 13; 6 and sus degrees in their place), and a bass note. Its spelling follows
from the degrees, so Cdim7 is C Eb Gb Bbb and C7b9 has Db, not C#.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from genex.theory.pitch import Degree, Interval, NoteName
from genex.theory.qualities import QualityReading, read_quality

_ACCIDENTALS = r"(?:[b#♭♯𝄫𝄪♮x]{0,3})"
_ROOT_TEXT = re.compile(rf"[A-G]{_ACCIDENTALS}")
_BASS_TEXT = re.compile(rf"/\s*[A-G]{_ACCIDENTALS}$")
"""A slash before a capital letter at the end; the slash of 6/9 is none."""

_MINOR_MAJOR = re.compile(r"^mmaj(\d+)")
"""Shown as m(maj7): ``Cmmaj7`` reads badly."""


@dataclass(frozen=True)
class Chord:
    """A chord with its spelling.

    symbol   as the chart writes it, for display
    root     spelled root
    degrees  degrees over the root that the symbol asks for, ascending, root first when present
    bass     the slash bass, or the root
    quality  the plain spelling of the quality, such as ``m7b5`` or ``7(b9,#11)``; a key of the
             quality table where the chord is one of its rows, and the same for every spelling

    Two chords are equal when all fields are, the symbol included; ``same_as`` compares content.
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
        """Whether the bass is another note than the root."""
        return self.bass != self.root

    @property
    def plain_symbol(self) -> str:
        """The symbol in plain spelling, one for all spellings of a chord: ``Cm7b5`` for ``Cø``."""
        quality = _MINOR_MAJOR.sub(r"m(maj\1)", self.quality)
        if quality[:1] in ("b", "#"):
            quality = f"({quality})"
        return f"{self.root}{quality}" + (f"/{self.bass}" if self.has_slash else "")

    @property
    def reading(self) -> QualityReading:
        """The row of the quality table and what differs from it: names, other spellings."""
        return read_quality(self.degrees)

    def same_as(self, other: Chord) -> bool:
        """Whether root, degrees and bass agree, however the symbols are written."""
        return (self.root, self.degrees, self.bass) == (other.root, other.degrees, other.bass)

    def same_shapes_as(self, other: Chord) -> bool:
        """Whether root and degrees agree: a slash bass does not change the shapes of a chord."""
        return (self.root, self.degrees) == (other.root, other.degrees)

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

        Third and seventh where there are both [common practice]. For the third stands, in this
        order, the fourth or second of a sus chord, the fifth, the root; for the seventh the
        sixth of a sixth chord, the added ninth, eleventh or thirteenth of an add chord, the fifth
        (altered or not) of a plain triad. A power chord gives root and fifth.
        """
        third = self.find(3) or self.find(4, 2) or self.find(5) or self.degrees[0]
        for number in (7, 6, 9, 11, 13, 5, 1):
            second = self.find(number)
            if number == 7 and Degree(7) in self.degrees:
                second = Degree(7)  # a dim7 chord with added major seventh
            if second is not None and second != third:
                pair = (third, second)
                return pair if third.number == 3 else tuple(sorted(pair, key=lambda d: d.number))
        return self.degrees[:2]

    @property
    def is_minor(self) -> bool:
        """Whether the third is minor."""
        third = self.find(3)
        return third is not None and third.alter == -1

    def transpose(self, interval: Interval) -> Chord:
        """The chord an interval away; root and slash bass of the symbol are respelled with it."""
        root = self.root.transpose(interval)
        bass = self.bass.transpose(interval)
        symbol = _ROOT_TEXT.sub(str(root), self.symbol, count=1)
        symbol = _BASS_TEXT.sub(f"/{bass}", symbol)
        return Chord(symbol, root, self.degrees, bass, self.quality)

    def __str__(self) -> str:
        return self.symbol


def distinct_chords(chords: Iterable[Chord]) -> tuple[Chord, ...]:
    """The chords whose shapes differ, each once and as it is written first."""
    found: list[Chord] = []
    for chord in chords:
        if not any(chord.same_shapes_as(other) for other in found):
            found.append(chord)
    return tuple(found)
