"""Ideas that come back changed."""

import pytest

from genex.lines.ideas import readable, turned
from genex.score import Meter

THREE, FOUR, TWELVE = Meter.parse("3/4"), Meter.parse("4/4"), Meter.parse("12/8")


@pytest.mark.parametrize(
    ("words", "turn", "meter", "expected"),
    [
        ("x xx x -", "same", FOUR, "x xx x -"),
        ("x xx x -", "later", FOUR, ". x xx x"),
        ("x xx x -", "cut", FOUR, "x xx . ."),
        ("x x x -", "cut", FOUR, "x x - ."),
        (". xx x", "cut", THREE, ". xx x"),  # nothing would be left
        (". . x", "later", THREE, ". . x"),
        ("x xx x -", "divided", FOUR, "xx xx x -"),
        ("x x x x", "divided", TWELVE, "x-x x-x x-x x-x"),
        ("x x x -", "half later", FOUR, ".x -x -x -"),
        ("x--x x x -", "half later", FOUR, ".x -xx- -x -"),
    ],
)
def test_a_bar_changed_by_hand(words, turn, meter, expected):
    found = turned(tuple(words.split()), turn, meter)
    assert " ".join(found) == expected


def test_no_tie_leads_from_a_triplet_into_another_division():
    bars = [("x", "xxx", "-x", "x"), ("xxx", "-", "x", "-")]
    assert readable(bars, [FOUR] * 2) == (("x", "xxx", ".x", "x"), ("xxx", ".", "x", "-"))
    assert readable(bars, [TWELVE] * 2) == tuple(bars)
