"""Habits of a tune: rhythms that take turns."""

from genex.lines.habits import Habit, in_turn, struck_last, too_often

A, B, C = ("x", "x"), ("xx", "x"), (".", "x")


def test_a_bar_that_has_come_three_times_makes_room_for_the_one_that_came_least():
    habit = Habit((A, B, C), ())
    assert in_turn(A, habit, (A, B, A), first=False) == A
    assert in_turn(A, habit, (A, B, A, A), first=False) == C
    assert in_turn(A, habit, (A, B, A, A), first=True) == B  # a phrase begins with a stroke


def test_how_often_bars_come_too_often():
    assert too_often((A, B, A, B), 2, share=2) == 0
    assert too_often((A, A, A, B), 2, share=2) == 1 + 3  # three in a row, and more than half
    assert too_often((A, B, A, B, A, C, A, A), 1, share=1) == 1  # five of eight
    assert too_often((A, A, A, B, C), 1, share=2) == 0  # what was there before is not counted again


def test_the_last_beat_that_is_struck():
    assert struck_last(("x", "xx", "-", ".")) == 1
