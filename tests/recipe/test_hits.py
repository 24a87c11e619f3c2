"""Hits in a chart: what is read, and what is refused with the place of the count."""

from fractions import Fraction as F

import pytest

from genex.errors import InputError
from genex.recipe import parse_recipe
from genex.recipe.hits import HitError, read_hits
from genex.score import Meter, written_hits


@pytest.mark.parametrize(
    ("meter", "text", "onsets"),
    [
        ("4/4", "1 2& 4", [0, F(3, 2), 3]),
        ("4/4", "1 & 3 e", [0, F(1, 2), 2, F(9, 4)]),
        ("4/4", "1a 2la 2+", [F(3, 4), F(4, 3), F(3, 2)]),
        ("6/8", "1 & a 2", [0, F(1, 2), 1, F(3, 2)]),
        ("7/8", "1 3&", [0, F(5, 2)]),
        ("4/4", "", []),
    ],
)
def test_counts(meter, text, onsets):
    assert [hit.onset_beats for hit in read_hits(text, Meter.parse(meter))] == onsets


@pytest.mark.parametrize("text", ["5", "x", "1 1", "3 2", "&", "0", "1--", "1e&", "99", "2& 2e"])
def test_what_is_no_count(text):
    with pytest.raises(HitError) as caught:
        read_hits(text, Meter(4, 4))
    assert "1 2&" in caught.value.hint


def bars_of(chart):
    return parse_recipe(f"chords: {chart}").form[0].bars


def test_a_bar_has_them_behind_its_chords():
    bars = bars_of("C7{1 2& 4} | % | %% | F7 G7 {1- 3-} | % {} | C")
    told = [None if bar.hits is None else written_hits(bar.hits) for bar in bars]
    assert told == ["{1 2& 4}"] * 4 + ["{1- 3-}", "{}", None]


def test_a_change_of_meter_is_counted_in_it():
    assert [hit.onset_beats for hit in bars_of("C | (6/8) F {2}")[1].hits] == [F(3, 2)]


@pytest.mark.parametrize(
    ("chart", "place", "message"),
    [
        ("C | F {1 5}", "1:18", "'5' is no count of a bar of 4/4"),
        ("C | F {1 3 2}", "1:20", "does not come after"),
        ("C | {1} F", "1:13", "before the chords"),
        ("C | F {1} {2}", "1:19", "hits twice"),
        ("C | F {1} G", "1:19", "behind hits that end its bar"),
        ("C | F {1 2", "1:15", "'{' stands alone"),
        ("C | F | %% {1}", "1:20", "behind two bars"),
        ("C | F {1 & 4&&}", "1:20", "'4&&' is no count"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(chart, place, message):
    with pytest.raises(InputError) as caught:
        parse_recipe(f"chords: {chart}")
    assert message in caught.value.message
    assert str(caught.value.place) == f"recipe.yaml:{place}"
    assert caught.value.hint
