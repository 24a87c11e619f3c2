from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.lines.search import FORBIDDEN, cheapest_path, connect

layers_of_states = st.lists(
    st.lists(st.tuples(st.integers(0, 9)), min_size=1, max_size=4, unique=True), min_size=1, max_size=5
)


@given(layers_of_states, st.integers(1, 7), st.integers(0, 5))
def test_the_path_is_the_cheapest_and_the_smallest_of_the_cheapest(layers, weight, wished):
    def own(layer, state):
        return abs(state[0] - wished - layer)

    def change(layer, before, after):
        return weight * abs(after[0] - before[0])

    def total(path):
        steps = sum(change(n + 1, a, b) for n, (a, b) in enumerate(pairwise(path)))
        return sum(own(n, state) for n, state in enumerate(path)) + steps

    cost, path = cheapest_path(layers, own, change)
    expected = min((total(way), list(way)) for way in product(*layers))
    assert (cost, path) == expected


def test_forbidden_ways_are_refused():
    with pytest.raises(LineError, match="no line meets"):
        cheapest_path([[(1,)], [(2,)]], lambda layer, s: 0, lambda layer, a, b: FORBIDDEN)
    assert cheapest_path([], lambda layer, s: 0, lambda layer, a, b: 0) == (0, [])


ladders = st.lists(st.integers(48, 72), min_size=3, max_size=8, unique=True)


@given(st.lists(ladders, min_size=1, max_size=6), st.integers(48, 72), st.integers(48, 72))
def test_connecting_never_repeats_a_pitch_where_there_is_another_way(layers, start, goal):
    path = connect(layers, start, goal)
    assert len(path) == len(layers)
    assert all(midi in layer for midi, layer in zip(path, layers, strict=True))
    assert all(a != b for a, b in pairwise([start, *path, goal]))


rungs = st.lists(st.integers(48, 66), min_size=3, max_size=5, unique=True)


@given(
    st.lists(rungs, min_size=1, max_size=4),
    st.integers(48, 66),
    st.integers(48, 66),
    st.dictionaries(st.tuples(st.integers(0, 3), st.integers(48, 66)), st.integers(0, 90)),
)
@settings(max_examples=150)
def test_connecting_leaps_and_turns_as_little_as_can_be(layers, start, goal, tastes):
    """Held against all lines that there are. A leap is wider than a major third, four semitones
    [common practice]; a turn weighs less than one semitone more of it."""

    def cost(path):
        moves = [b - a for a, b in pairwise([start, *path, goal])]
        leaps = sum(abs(move) - 4 for move in moves if abs(move) > 4)
        turns = sum((a > 0) != (b > 0) for a, b in pairwise(moves))
        return 40 * leaps + 30 * turns + sum(tastes.get(wish, 0) for wish in enumerate(path))

    def repeats(path):
        return any(a == b for a, b in pairwise([start, *path, goal]))

    ways = [list(way) for way in product(*layers) if not repeats(way)]
    found = connect(layers, start, goal, lambda layer, midi: tastes.get((layer, midi), 0))
    assert found == min(ways, key=lambda way: (cost(way), way))


def test_connecting_without_an_end_costs_nothing_there():
    ladder = (48, 50, 60, 72)
    assert connect([ladder] * 2, None, None) == [48, 50]
    assert connect([ladder] * 2, None, 74) == [60, 72]  # a leap of an octave, then steps to the end
    assert connect([ladder] * 2, 74, None) == [72, 60]


def test_connecting_runs_straight_where_there_is_room():
    ladder = (48, 52, 55, 60, 64, 67, 72)
    assert connect([ladder] * 3, 48, 64) == [52, 55, 60]
    assert connect([ladder] * 1, 48, 55) == [52]
    assert connect([], 48, 55) == []


def test_connecting_repeats_where_there_is_nothing_else():
    assert connect([(60,), (60,)], 60, 60) == [60, 60]
