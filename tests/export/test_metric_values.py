"""What is written at a place of a bar [common practice]."""

from __future__ import annotations

from fractions import Fraction as F
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.export.metric_values import values_at
from genex.export.note_values import letters
from genex.score import Meter


@pytest.mark.parametrize(
    ("meter", "at", "length", "written"),
    [
        # 4/4: the third beat is seen, unless a value begins with the bar
        ("4/4", "0", "4", "w"), ("4/4", "0", "3", "h."), ("4/4", "0", "5/2", "h~e"),
        ("4/4", "0", "7/2", "h~q."), ("4/4", "1", "3", "q~h"), ("4/4", "1", "3/2", "q~e"),
        ("4/4", "1", "2", "q~q"), ("4/4", "3/2", "1", "e~e"), ("4/4", "3/2", "3/2", "e~q"),
        ("4/4", "3/2", "5/2", "e~h"), ("4/4", "1/2", "7/2", "q.~h"), ("4/4", "1/2", "2", "q.~e"),
        # and inside of a half bar the usual syncopations stay whole
        ("4/4", "1/2", "1", "q"), ("4/4", "1/2", "3/2", "q."), ("4/4", "5/2", "1", "q"),
        ("4/4", "0", "3/2", "q."), ("4/4", "2", "2", "h"), ("4/4", "5/2", "3/2", "q."),
        # off the eighths every beat is seen
        ("4/4", "1/4", "1", "e.~s"), ("4/4", "3/4", "1/2", "s~s"), ("4/4", "3/4", "1", "s~e."),
        ("4/4", "1/4", "1/2", "e"), ("4/4", "0", "5/4", "q~s"), ("4/4", "0", "3/4", "e."),
        ("4/4", "0", "7/4", "q~e."), ("4/4", "3/4", "5/4", "s~q"),
        # triplets: a quarter triplet keeps its half bar, what is held from one is tied
        ("4/4", "2/3", "2/3", "q3"), ("4/4", "2/3", "1/3", "e3"), ("4/4", "2/3", "4/3", "e3~q"),
        ("4/4", "5/3", "4/3", "e3~q"), ("4/4", "0", "4/3", "h3"), ("4/4", "4/3", "4/3", "h3"),
        ("4/4", "0", "1/5", "s5"), ("4/4", "1", "2/5", "e5"),
        # 2/2 as 4/4
        ("2/2", "0", "4", "w"), ("2/2", "1", "2", "q~q"),
        # 3/4
        ("3/4", "0", "3", "h."), ("3/4", "1", "2", "h"), ("3/4", "0", "5/2", "h~e"),
        ("3/4", "1/2", "5/2", "e~h"), ("3/4", "0", "3/2", "q."), ("3/4", "3/2", "3/2", "q."),
        ("3/4", "1/2", "2", "e~q."),
        # compound meters
        ("6/8", "0", "3", "h."), ("6/8", "0", "2", "q.~e"), ("6/8", "1", "1", "e~e"),
        ("6/8", "1/2", "1", "q"), ("6/8", "1/2", "5/2", "q~q."), ("6/8", "0", "3/2", "q."),
        ("9/8", "0", "9/2", "h.~q."), ("9/8", "3/2", "3", "h."), ("9/8", "0", "4", "h.~q"),
        ("12/8", "0", "6", "w."), ("12/8", "3/2", "3", "q.~q."), ("12/8", "3", "3", "h."),
        # odd meters by their groups
        ("5/4", "0", "5", "h.~h"), ("5/4", "0", "4", "h.~q"), ("5/4", "3", "2", "h"),
        ("5/4", "2", "2", "q~q"), ("7/8", "0", "7/2", "h~q."), ("7/8", "0", "3", "h~q"),
        ("7/8", "0", "2", "h"), ("7/8", "1/2", "1", "e~e"), ("7/8", "2", "3/2", "q."),
        ("5/8", "0", "5/2", "q.~q"), ("6/4", "0", "6", "w."), ("6/4", "2", "2", "q~q"),
        ("7/4", "0", "7", "w~h."), ("11/8", "0", "11/2", "h.~q.~q"),
        ("3/8", "0", "3/2", "q."), ("2/4", "1/2", "3/2", "q."), ("3/2", "0", "6", "w."),
    ],
)  # fmt: skip
def test_lengths_at_their_places(meter, at, length, written):
    assert letters(values_at(F(at), F(length), Meter.parse(meter)), F(length)) == written


def test_a_length_that_no_values_reach_stays_a_number():
    values = values_at(F(0), F(1, 11), Meter(4, 4))
    assert values == ()
    assert letters(values, F(1, 11)) == "1/11"


METERS = [
    Meter.parse(m)
    for m in "2/4 3/4 4/4 2/2 3/2 5/4 6/4 7/4 3/8 5/8 6/8 7/8 9/8 11/8 12/8 13/8 3/16".split()
]


@given(st.sampled_from(METERS), st.data())
def test_values_add_up_and_the_middle_and_the_groups_are_seen(meter, data):
    grid = 16
    cells = int(meter.bar_beats * grid)
    first = data.draw(st.integers(0, cells - 1))
    last = data.draw(st.integers(first + 1, cells))
    start, end = F(first, grid), F(last, grid)
    values = values_at(start, end - start, meter)
    assert sum(value.beats for value in values) == end - start
    edges = [start]
    for value in values:
        edges.append(edges[-1] + value.beats)
    hard = set(meter.groups) - {F(0)}
    if meter in (Meter(4, 4), Meter(2, 2)):
        hard |= {F(2)}
    if meter == Meter(12, 8):
        hard |= {F(3)}
    ends = {*meter.groups, F(0), meter.bar_beats}
    for a, b in pairwise(edges):
        for edge in hard:
            if a < edge < b:
                assert a == 0 or {a, b} <= ends
                assert b.denominator == 1 or b in ends


@given(st.sampled_from(METERS), st.data())
def test_fewer_values_would_hide_something(meter, data):
    """On the grid of eighths no more than four values are ever tied."""
    cells = int(meter.bar_beats * 2)
    if not cells:
        return
    first = data.draw(st.integers(0, cells - 1))
    last = data.draw(st.integers(first + 1, cells))
    values = values_at(F(first, 2), F(last - first, 2), meter)
    assert 1 <= len(values) <= 1 + len(meter.groups) + 2
