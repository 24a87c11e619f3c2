"""Words above and below the strings of a tab."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from genex.readers.lines.tab_words import (
    are_degrees,
    by_string,
    is_chord,
    length_of,
    meters_of,
    tokens_of,
)
from genex.score import Meter


@pytest.mark.parametrize(
    ("row", "wanted"),
    [
        ("  5 3/4       6      7 4/4 =120", {2: "3/4", 21: "4/4"}),
        ("  (3)     4", {}),
        ("  q 3/4   e", {}),  # note values, of which one has no letter
        ("  Am7  5 3/4", {}),
        ("", {}),
    ],
)
def test_meters_behind_bar_numbers(row, wanted):
    assert {column: str(meter) for column, meter in meters_of(row)} == wanted


def test_what_words_are():
    assert tokens_of("  q   e.") == {2: "q", 6: "e."}
    assert are_degrees(tokens_of("1 b3 #11")) and not are_degrees(tokens_of("1 x"))
    assert is_chord("Am7") and is_chord("N.C.") and not is_chord("Amx")


def test_lengths_in_letters():
    meter = Meter(3, 4)
    lengths = [length_of(value, meter) for value in ("q.", "re", "rest", "h~e", "5/6", "~")]
    assert lengths == [F(3, 2), F(1, 2), 3, F(5, 2), F(5, 6), 0]


def test_fingers_of_a_column():
    assert by_string("13", {5: (3, ""), 4: (5, "")}) == {5: 1, 4: 3}
    assert by_string("11", {1: (5, ""), 2: (5, "")}) == {1: 1, 2: 1}
