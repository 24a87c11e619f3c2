"""No two lessons of a series begin alike, and one that changes moves only those that meet it."""

from itertools import combinations
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.exercises import Player
from genex.exercises.models.over_the_chart import Etude
from genex.lines.etude import phrases_of
from genex.lines.openings import habit_of, openings_of, turn_of
from genex.lines.placement import chords_of, hold_over
from genex.lines.rhythm import notes_wanted
from genex.score import Meter
from tests.lines.etude_tunes import FAMILIES
from tests.lines.line_charts import chart

METERS = {"waltz": "3/4", "six-eight": "12/8"}


def turns(draws, count):
    return [turn_of(draws[: n + 1], count) for n in range(len(draws))]


@given(st.lists(st.integers(0, 2**32 - 1), min_size=1, max_size=40), st.integers(1, 60))
def test_each_place_is_taken_once_before_any_is_taken_again(draws, count):
    found = turns(draws, count)
    for start in range(0, len(found), count):
        round_of = found[start : start + count]
        assert len(set(round_of)) == len(round_of)
    assert all(0 <= place < count for place in found)


@given(
    st.lists(st.integers(0, 2**32 - 1), min_size=3, max_size=12, unique=True), st.integers(0, 2**32 - 1)
)
def test_a_draw_changed_leaves_those_that_do_not_meet_it(draws, other):
    """Where no two numbers come to one place, nobody but the changed one moves."""
    changed = [other, *draws[1:]]
    count = 97
    places = {draw % count for draw in (*draws, other)}
    if len(places) == len(draws) + 1:
        assert turns(draws, count)[1:] == turns(changed, count)[1:]


@pytest.mark.parametrize("level", range(1, 7))
@pytest.mark.parametrize("family", FAMILIES)
def test_openings_are_many_and_as_dense_as_the_level(family, level):
    meter = Meter.parse(METERS.get(family, "4/4"))
    found = openings_of(family, meter, level)
    assert len(set(found)) == len(found)
    # the vocabulary of a waltz's first levels is too small for more
    assert len(found) >= (8 if family == "waltz" and level < 3 else 16)
    aim = notes_wanted(meter, 1, level)
    for bar in found:
        # tunes of the first levels have sparser and fuller bars in turn
        far = 2.4 if level < 3 else max(1.5, aim / 2)
        assert abs(sum(word.count("x") for word in bar) - aim) <= far
        assert bar[0][0] != "-"


@pytest.mark.parametrize("level", range(1, 7))
def test_no_two_etudes_of_a_series_begin_with_the_same_bar(level):
    form = chart("Dm7 | G7 | Cmaj7 | A7")
    begun = set()
    for number in range(16):
        draws = tuple(Random(f"draw {n}").randrange(2**32) for n in range(number + 1))
        player = Player(title=f"Tune {number}", family="swing", draws=draws)
        hold = hold_over(chords_of(form, "play"), Etude(level=level), player)
        begun.add(phrases_of(form, hold, Etude(level=level), player)[0].rhythm.words[0])
    assert len(begun) == 16


@pytest.mark.parametrize("level", [1, 2])
@pytest.mark.parametrize("meter", ["4/4", "3/4", "12/8"])
def test_two_lessons_of_a_term_have_one_bar_of_their_habits_in_common_at_the_most(level, meter):
    signature = Meter.parse(meter)
    family = "swing" if meter == "4/4" else None
    count = len(openings_of(family, signature, level))
    habits = [habit_of(family, signature, level, tuple(range(n + 1))) for n in range(min(count, 40))]
    for one, other in combinations(habits, 2):
        # bars of three beats on the beat are too few for that
        assert len(set(one.bars) & set(other.bars)) <= (2 if meter == "3/4" and level == 1 else 1)


def test_later_levels_have_no_habits():
    assert habit_of("swing", Meter.parse("4/4"), 3, (1,)) is None


def test_the_order_of_openings_is_that_of_no_series():
    one = openings_of("swing", Meter.parse("4/4"), 1)
    assert one == openings_of("swing", Meter.parse("4/4"), 1)
    assert list(one) != sorted(one)
