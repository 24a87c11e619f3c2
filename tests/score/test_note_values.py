"""Note values and their letters [common practice]."""

from __future__ import annotations

from fractions import Fraction as F
from itertools import pairwise

import pytest

from genex.score import BASE_VALUES, TUPLETS, NoteValue


def test_a_base_is_half_of_the_one_before():
    assert all(a.beats == 2 * b.beats for a, b in pairwise(BASE_VALUES))


@pytest.mark.parametrize(
    ("letters", "beats"),
    [("q", F(1)), ("h.", F(3)), ("q..", F(7, 4)), ("e3", F(1, 3)), ("s5", F(1, 5)), ("e.3", F(1, 2))],
)
def test_letters_are_read(letters, beats):
    assert NoteValue.of_letters(letters).beats == beats


def test_letters_are_read_as_they_are_written():
    values = [
        NoteValue(base, dots, tuplet)
        for base in BASE_VALUES
        for dots in (0, 1, 2)
        for tuplet in (1, *TUPLETS)
    ]
    assert [NoteValue.of_letters(value.letters) for value in values] == values
