"""The least sum over tied choices, against trying every choice."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.lines import tied_search
from genex.lines.tied_search import cheapest_choices


@st.composite
def problems(draw):
    """Places with a few choices each, and costs of some pairs of them, in rings and knots."""
    count = draw(st.integers(1, 5))
    sizes = [draw(st.integers(1, 4)) for _ in range(count)]
    costs = st.integers(-30, 90)
    own = {p: np.array([draw(costs) for _ in range(size)]) for p, size in enumerate(sizes)}
    possible = [(a, b) for a in range(count) for b in range(count) if a != b]
    chosen = draw(st.lists(st.sampled_from(possible), unique=True, max_size=8)) if possible else []
    pairs = {
        (a, b): np.array([[draw(costs) for _ in range(sizes[b])] for _ in range(sizes[a])])
        for a, b in chosen
    }
    return own, pairs


def total(own, pairs, chosen) -> int:
    return int(
        sum(costs[chosen[p]] for p, costs in own.items())
        + sum(costs[chosen[a], chosen[b]] for (a, b), costs in pairs.items())
    )


@settings(max_examples=150, deadline=None)
@given(problems())
def test_nothing_is_cheaper(problem) -> None:
    own, pairs = problem
    least, chosen = cheapest_choices(own, pairs)
    every = product(*(range(len(costs)) for costs in own.values()))
    assert least == min(total(own, pairs, dict(enumerate(each))) for each in every)
    assert least == total(own, pairs, chosen)


def test_of_equals_the_first_is_taken_and_nothing_is_nothing() -> None:
    assert cheapest_choices({"a": [0, 0], "b": [1, 1]}, {}) == (1, {"a": 0, "b": 0})
    assert cheapest_choices({}, {}) == (0, {})


def test_tables_that_grow_too_large_are_made_of_fewer_choices(monkeypatch) -> None:
    rng = np.random.default_rng(1)
    own = {place: rng.integers(0, 9, 6) for place in "abcd"}
    pairs = {(a, b): rng.integers(0, 9, (6, 6)) for a in "abcd" for b in "abcd" if a < b}
    best, _ = cheapest_choices(own, pairs)
    monkeypatch.setattr(tied_search, "LARGEST_TABLE", 200)
    least, chosen = cheapest_choices(own, pairs)
    assert least == total(own, pairs, chosen) >= best


@pytest.mark.parametrize("sections", ["aaba", "abacabadabaca", "abcabdacbd"])
def test_a_song_form_keeps_its_tables_small(sections: str) -> None:
    """Sections of eight chords, thirty grips each, that come again in any order."""
    rng = np.random.default_rng(2)
    places = [(name, index) for name in sections for index in range(8)]
    own = {place: rng.integers(0, 90, 30) for place in places}
    around = zip(places, [*places[1:], places[0]], strict=True)
    pairs = {(a, b): rng.integers(0, 90, (30, 30)) for a, b in around}
    least, chosen = cheapest_choices(own, pairs)
    assert least == total(own, pairs, chosen)
