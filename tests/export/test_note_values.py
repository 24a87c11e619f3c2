"""Lengths as note values [common practice]."""

from __future__ import annotations

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.export.note_values import VALUES, is_counted, letters, spell


@pytest.mark.parametrize(
    ("beats", "written"),
    [
        ("4", "w"), ("2", "h"), ("1", "q"), ("1/2", "e"), ("1/4", "s"), ("1/8", "t"), ("1/16", "x"),
        ("3", "h."), ("3/2", "q."), ("6", "w."),
        ("1/3", "e3"), ("2/3", "q3"), ("1/5", "s5"), ("1/7", "s7"),
        ("5/2", "h~e"), ("5/4", "q~s"), ("7/2", "h.~e"), ("5", "w~q"),
    ],
)  # fmt: skip
def test_lengths(beats, written):
    assert letters(spell(F(beats)), F(beats)) == written


def test_a_length_that_no_four_values_reach_stays_a_number():
    assert spell(F(1, 11)) == ()
    assert letters((), F(1, 11)) == "1/11"


@given(st.sampled_from(sorted(VALUES)), st.sampled_from(sorted(VALUES)))
def test_values_add_up_the_longest_first(one, other):
    length = one + other
    found = spell(length)
    if found:
        assert sum(value.beats for value in found) == length
        assert [v.beats for v in found] == sorted((v.beats for v in found), reverse=True)
        assert len(found) <= 4


def test_tuplets_take_part_only_where_the_length_asks_for_them():
    assert all(value.tuplet == 1 for value in spell(F(7, 4)))
    assert {value.tuplet for value in spell(F(4, 3))} <= {1, 3}
    (third,) = spell(F(1, 3))
    assert (third.tuplet, third.normal_notes) == (3, 2)
    (fifth,) = spell(F(1, 5))
    assert (fifth.tuplet, fifth.normal_notes) == (5, 4)


def test_counts_and_words():
    assert all(map(is_counted, ["1", "&", "e", "a", "la", "li", "12"]))
    assert not any(map(is_counted, ["rain", "la-la", "1st", ""]))
