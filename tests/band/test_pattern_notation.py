"""Patterns: words are beats, characters share a beat, | is a bar line."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.band.pattern_notation import PatternError, Step, fit, parse_bars, spread

F = Fraction
FOUR = (F(1),) * 4
DRUMS = "123456789"


def onsets(text: str, beats: tuple[Fraction, ...] = FOUR, signs: str = DRUMS) -> list[list[str]]:
    return [
        [f"{step.onset_beats}:{step.sign}+{step.length_beats}" for step in bar]
        for bar in parse_bars(text, beats, signs)
    ]


@pytest.mark.parametrize(
    ("pattern", "expected"),
    [
        ("7 . . .", ["0:7+1"]),
        ("7. .5 . .", ["0:7+1/2", "3/2:5+1/2"]),
        ("7.5 . . .", ["0:7+1/3", "2/3:5+1/3"]),
        ("7..5 . . .", ["0:7+1/4", "3/4:5+1/4"]),
        ("7- - . 5", ["0:7+2", "3:5+1"]),
        ("7 -.  5 -", ["0:7+3/2", "2:5+2"]),
        ("- . 5 .", ["2:5+1"]),
    ],
)
def test_words_are_beats_and_characters_share_them(pattern, expected):
    assert onsets(pattern) == [expected]


def test_a_compound_beat_of_three_characters_is_three_eighths():
    assert onsets("7.5 7", (F(3, 2), F(3, 2))) == [["0:7+1/2", "1:5+1/2", "3/2:7+3/2"]]


def test_bar_lines_part_bars_and_a_hold_may_cross_them():
    assert onsets("7 . . 5 | - 6 . .") == [["0:7+1", "3:5+2"], ["1:6+1"]]


def test_a_hold_after_a_rest_holds_nothing():
    assert onsets("7 . . . | - 6 . .") == [["0:7+1"], ["1:6+1"]]


@pytest.mark.parametrize(
    ("pattern", "offset", "part"),
    [
        ("7 . .", 0, "this bar has 3 beats, the meter has 4"),
        ("7 . . . | 5 .", 10, "this bar has 2 beats"),
        ("7 q . .", 2, "'q' means nothing"),
        ("7 5x . .", 3, "'x' means nothing"),
        ("7 . . . | | 7 . . .", 9, "empty"),
        ("7777777777777 . . .", 0, "divides a beat into 13"),
    ],
)
def test_a_fault_says_what_and_where(pattern, offset, part):
    with pytest.raises(PatternError, match=part.replace("'", ".")) as caught:
        parse_bars(pattern, FOUR, DRUMS)
    assert caught.value.offset == offset
    assert caught.value.hint


@given(st.lists(st.lists(st.sampled_from("7.-5"), min_size=1, max_size=12), min_size=4, max_size=4))
def test_steps_follow_each_other_inside_the_bar(words):
    (bar,) = parse_bars(" ".join("".join(word) for word in words), FOUR, DRUMS)
    end = F(0)
    for step in bar:
        assert step.onset_beats >= end
        end = step.end_beats
    assert end <= 4


def test_a_pattern_is_cut_for_a_shorter_bar_and_repeated_for_a_longer_one():
    (bar,) = parse_bars("7 - 5 6", FOUR, DRUMS)
    assert [str(s.onset_beats) for s in fit(bar, F(4), F(3))] == ["0", "2"]
    assert [str(s.onset_beats) for s in fit(bar, F(4), F(6))] == ["0", "2", "3", "4"]
    assert fit(bar, F(4), F(5))[-1] == Step(F(4), F(1), "7")


def test_two_words_spread_over_any_bar():
    (bar,) = parse_bars("8 6", (F(1), F(1)), DRUMS)
    assert [(s.onset_beats, s.sign) for s in spread(bar, (F(1), F(1), F(3, 2)))] == [
        (0, "8"),
        (1, "6"),
        (2, "6"),
    ]
