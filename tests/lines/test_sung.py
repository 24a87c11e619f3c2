"""Phrases that can be sung, by hand. [common practice: vocal writing and melodic dictation]"""

from fractions import Fraction

import pytest

from genex.lines.phrase import Phrase
from genex.lines.rhythm import PhraseRhythm
from genex.lines.sung import can_be_sung
from genex.lines.vocabulary import Kind
from genex.score import Meter, Note
from genex.theory import Pitch


def phrase(names, foreign=()):
    notes = tuple(
        Note(Fraction(n), Fraction(1), Pitch.parse(name), 80) for n, name in enumerate(names.split())
    )
    kinds = tuple(Kind.SCALE if n in foreign else Kind.CHORD for n in range(len(notes)))
    return Phrase(notes, kinds, PhraseRhythm((), (), Meter(4, 4)), Fraction(0))


@pytest.mark.parametrize(
    ("names", "foreign", "sung"),
    [
        ("C4 E4 G4 E4", (), True),
        ("C4 E5", (), True),  # a tenth, one leap
        ("C4 F5", (), False),  # an eleventh
        ("C4 C5 G4 C4 C5", (), False),  # two octaves leapt
        ("C4 A4 G4", (1,), True),  # a sixth that goes on by step
        ("C4 A4 E4", (1,), False),  # and one that does not
        ("C4 D4", (1,), False),  # ends off the chord
        ("C4 G4 C4 G4 C4", (), True),  # fifths are no leaps beyond a fifth
    ],
)
def test_what_can_be_sung(names, foreign, sung):
    assert can_be_sung(phrase(names, foreign)) == sung
