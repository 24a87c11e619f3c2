"""Signs of tab as the trade writes them [common practice]."""

from fractions import Fraction as F

import pytest

from genex.export.tab_signs import after_fret
from genex.score import Bend, Note
from genex.theory import Pitch


@pytest.mark.parametrize(
    ("how", "sign"),
    [
        ({}, ""),
        ({"bend": Bend(1)}, "b8"),
        ({"bend": Bend(2)}, "b9"),
        ({"bend": Bend(2, releases=True)}, "b9r7"),
        ({"vibrato": True}, "~"),
        ({"bend": Bend(2), "vibrato": True}, "b9~"),
    ],
)
def test_what_stands_behind_a_fret(how, sign):
    assert after_fret(Note(F(0), F(1), Pitch.parse("D4"), **how), 7) == sign
