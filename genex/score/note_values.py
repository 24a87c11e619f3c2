"""Note values: a base value, dots and tuplets, and the letters that tab writes them with.

Lengths are quarter-note beats. A tuplet of 3 puts three in the time of two, 5 and 7 in the time
of four [common practice].
"""

from __future__ import annotations

from dataclasses import dataclass

from genex.exact import Fraction


@dataclass(frozen=True, slots=True)
class BaseValue:
    """A plain note value: its length, the letter tab writes, and its MusicXML type."""

    beats: Fraction
    letter: str
    type_name: str


BASE_VALUES = (
    BaseValue(Fraction(4), "w", "whole"),
    BaseValue(Fraction(2), "h", "half"),
    BaseValue(Fraction(1), "q", "quarter"),
    BaseValue(Fraction(1, 2), "e", "eighth"),
    BaseValue(Fraction(1, 4), "s", "16th"),
    BaseValue(Fraction(1, 8), "t", "32nd"),
    BaseValue(Fraction(1, 16), "x", "64th"),
)

_BY_LETTER = {base.letter: base for base in BASE_VALUES}
TUPLETS = {3: 2, 5: 4, 7: 4}
"""Notes of a tuplet, and how many plain ones they take the time of."""


@dataclass(frozen=True, slots=True)
class NoteValue:
    """One written value. ``tuplet`` is 1 for a plain value."""

    base: BaseValue
    dots: int = 0
    tuplet: int = 1

    @classmethod
    def of_letters(cls, letters: str) -> NoteValue:
        """``q``, ``e.``, ``e3``. Raises KeyError for another letter."""
        tuplet = letters[1:].lstrip(".")
        return cls(_BY_LETTER[letters[0]], letters.count("."), int(tuplet or 1))

    @property
    def beats(self) -> Fraction:
        length = self.base.beats * (2 - Fraction(1, 2**self.dots))
        return length * Fraction(TUPLETS.get(self.tuplet, 1), self.tuplet)

    @property
    def normal_notes(self) -> int:
        """How many plain values ``tuplet`` of these take the time of."""
        return TUPLETS.get(self.tuplet, 1)

    @property
    def letters(self) -> str:
        """``q``, ``e.``, ``e3``."""
        return self.base.letter + "." * self.dots + (str(self.tuplet) if self.tuplet > 1 else "")
