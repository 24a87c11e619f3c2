"""The cheapest way through keys: its parts. That it is the cheapest: ``test_analysis.py``."""

from __future__ import annotations

import random

import pytest

from genex.theory import Key, Place, all_keys, parse_chord
from genex.theory.key_search import Costs, Search, State, state_of
from genex.theory.places import events_of


def _search(chart: str, key: str, *, closed: bool = True) -> Search:
    chords = [Place(parse_chord(symbol)) for symbol in chart.split()]
    return Search(events_of(chords, closed=closed)[0], Key.parse(key), closed=closed)


def _names(search: Search) -> list[str]:
    return [f"{state.tonic} {state.mode}" for state in search.best()]


def test_states_are_keys_by_sound() -> None:
    assert state_of(Key.parse("F#")) == state_of(Key.parse("Gb")) == State(6, "major")


def test_a_mode_stands_in_for_the_plain_key_with_its_notes() -> None:
    plain = _search("C", "C").states
    assert len(plain) == 24
    assert State(0, "ionian") in _search("C", "C ionian").states
    assert State(0, "major") not in _search("C", "C ionian").states
    assert set(_search("Dm", "D dorian").states) == {*plain, State(2, "dorian")}


def test_what_stays_at_home_and_is_diatonic_costs_nothing() -> None:
    search = _search("Dm7 G7 Cmaj7 Am7", "C")
    assert search.least == 0
    assert set(search.best()) == {State(0, "major")}


def test_a_two_five_one_is_left_for_and_come_back_from() -> None:
    search = _search("Cmaj7 Ebm7 Ab7 Dbmaj7 G7", "C")
    assert _names(search) == ["0 major", "1 major", "1 major", "1 major", "0 major"]


def test_home_is_what_the_section_says() -> None:
    first = [Place(parse_chord("C"))]
    second = [Place(parse_chord(s), key=Key.parse("E"), starts=s == "E") for s in ("E", "A", "B7")]
    search = Search(events_of(first + second, closed=True)[0], Key.parse("C"))
    assert search.homes == (State(0, "major"), *[State(4, "major")] * 3)
    assert search.best() == search.homes
    assert [search.starts_at(index) for index in range(4)] == [True, True, False, False]


def test_a_blues_is_one_in_its_home_only() -> None:
    search = _search("C7 F7 C7 G7", "C")
    assert search.blues_in(0, State(0, "major"))
    assert not search.blues_in(0, State(5, "major"))
    assert search.least < 100


def test_shared_costs_are_those_of_each_event() -> None:
    """Alike events are weighed once; the columns are as long as the chart."""
    chart = "Dm7 G7 Cmaj7 A7 " * 5
    events, _ = events_of([Place(parse_chord(symbol)) for symbol in chart.split()], closed=True)
    costs = Costs(events)
    for state in (State(0, "major"), State(2, "minor"), State(7, "minor")):
        column = costs.column(state)
        assert len(column) == 20
        assert column == column[:4] * 5
        alone = [Search(events, Key.parse("C")).cost([state] * 20)]
        assert alone == [Search(events, Key.parse("C"), costs=costs).cost([state] * 20)]


@pytest.mark.parametrize("closed", [True, False])
def test_no_reading_is_cheaper_than_the_bound(closed: bool) -> None:
    rng = random.Random(8)
    for _ in range(40):
        chart = " ".join(
            rng.choice("C Db D Eb E F F# G Ab A Bb B".split())
            + rng.choice(["", "m", "7", "m7", "maj7", "m7b5", "dim7"])
            for _ in range(rng.randint(1, 12))
        )
        search = _search(chart, str(rng.choice(all_keys())), closed=closed)
        assert search.bound <= search.least == search.cost(search.best())


def test_nothing_to_search() -> None:
    search = Search((), Key.parse("C"))
    assert (search.best(), search.least, search.bound) == ((), 0, 0)
