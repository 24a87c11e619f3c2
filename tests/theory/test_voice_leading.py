"""Least movement between chords, against worked values and brute force."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.theory import (
    Pitch,
    movement,
    parse_chord,
    smallest_leading,
    smoothest_path,
    voicings,
)


def voicing(text: str) -> tuple[Pitch, ...]:
    return tuple(Pitch.parse(word) for word in text.split())


# [computed: by exhaustive search] except the last: [published: Tymoczko 2006, supplement, fig. S12]
@pytest.mark.parametrize(
    ("first", "second", "size"),
    [
        ("C", "Em", 1),
        ("C", "Am", 2),
        ("C", "F", 3),
        ("Dm7", "G7", 3),
        ("G7", "Cmaj7", 3),
        ("G7", "Db7", 2),
        ("Bdim7", "G7", 1),
        ("Cmaj7", "Emaj7", 3),
    ],
)
def test_worked_sizes(first: str, second: str, size: int) -> None:
    there = smallest_leading(parse_chord(first).pitch_classes, parse_chord(second).pitch_classes)
    back = smallest_leading(parse_chord(second).pitch_classes, parse_chord(first).pitch_classes)
    assert there.size == back.size == size


def test_moves_name_the_voices() -> None:
    leading = smallest_leading(parse_chord("C").pitch_classes, parse_chord("Em").pitch_classes)
    assert [(move.source, move.target, move.semitones) for move in leading.moves] == [
        (0, 11, -1),
        (4, 4, 0),
        (7, 7, 0),
    ]


def brute_force(source: set[int], target: set[int]) -> int:
    """The cheapest relation that touches every tone of both sides, by trying all of them."""
    pairs = list(product(sorted(source), sorted(target)))
    best = 10**6
    for chosen in range(1, 1 << len(pairs)):
        kept = [pair for index, pair in enumerate(pairs) if chosen >> index & 1]
        if {pair[0] for pair in kept} == source and {pair[1] for pair in kept} == target:
            best = min(best, sum(min((t - s) % 12, (s - t) % 12) for s, t in kept))
    return best


_SETS = st.sets(st.integers(0, 11), min_size=1, max_size=3)


@settings(max_examples=60)
@given(_SETS, _SETS)
def test_no_leading_is_smaller(source: set[int], target: set[int]) -> None:
    leading = smallest_leading(frozenset(source), frozenset(target))
    assert leading.size == brute_force(source, target)
    assert {move.source for move in leading.moves} == source
    assert {move.target for move in leading.moves} == target
    assert all((move.source + move.semitones) % 12 == move.target for move in leading.moves)


_LARGE = st.sets(st.integers(0, 11), min_size=4, max_size=7)


@given(_LARGE, _LARGE, st.integers(0, 11))
def test_size_is_symmetric_and_unmoved_by_transposition(one: set[int], two: set[int], up: int) -> None:
    size = smallest_leading(frozenset(one), frozenset(two)).size
    assert size == smallest_leading(frozenset(two), frozenset(one)).size
    moved = [frozenset((pitch + up) % 12 for pitch in pitches) for pitches in (one, two)]
    assert size == smallest_leading(*moved).size
    assert (size == 0) == (one == two)


def pitches(text: str) -> tuple[Pitch, ...]:
    return tuple(Pitch.parse(name) for name in text.split())


def test_movement_in_register_counts_octaves() -> None:
    assert movement(pitches("C3 E3 G3"), pitches("B2 E3 G3")) == 1
    assert movement(pitches("C3 E3 G3"), pitches("C4 E4 G4")) > 12


def test_the_smoothest_path_holds_common_tones() -> None:
    start = pitches("D3 A3 C4 F4")
    _, found = smoothest_path([[start], voicings(parse_chord("G7"), "drop 2", 48, 72)])
    assert found == pitches("D3 G3 B3 F4")


@settings(max_examples=25)
@given(
    st.lists(st.sampled_from(["Dm7", "G7", "Cmaj7", "A7", "F#m7b5", "Bb6"]), min_size=1, max_size=4),
    st.sampled_from(["close", "drop 2", "shell"]),
)
def test_smoothest_path_is_the_best_of_all(symbols: list[str], style: str) -> None:
    choices = [voicings(parse_chord(symbol), style, 48, 71)[:4] for symbol in symbols]
    path = smoothest_path(choices)
    assert all(voicing in options for voicing, options in zip(path, choices, strict=True))

    def total(way: tuple[tuple[Pitch, ...], ...]) -> int:
        return sum(movement(a, b) for a, b in pairwise(way))

    assert total(tuple(path)) == min(total(way) for way in product(*choices))


def test_nothing_to_lead_is_refused() -> None:
    with pytest.raises(ValueError, match="both sides"):
        smallest_leading(frozenset(), frozenset({0}))
    with pytest.raises(ValueError, match="at least one voicing"):
        smoothest_path([[pitches("C3")], []])
    assert smoothest_path([]) == []


def test_of_equal_ways_the_one_whose_top_voice_moves_least() -> None:
    # Both candidates move two semitones in all; the second keeps the top voice.
    here = voicing("C4 E4 G4")
    top_moves, top_stays = voicing("C4 E4 A4"), voicing("D4 E4 G4")
    assert movement(here, top_moves) == movement(here, top_stays) == 2
    assert smoothest_path([[here], [top_moves, top_stays]]) == [here, top_stays]


def test_costs_of_a_path_add_up() -> None:
    # Going near first, to B3, costs 1 and then 6; by F4 it is 5 and then no more.
    first, near, far, last = map(voicing, ("C4", "B3", "F4", "F4"))
    assert smoothest_path([[first], [near, far], [last]]) == [first, far, last]
    # Where sums are equal the movements of the top voice add up too and decide: 2 + 0 before 2 + 2.
    here, both, top = voicing("C4 G4"), voicing("D4 G4"), voicing("C4 A4")
    assert smoothest_path([[here], [top, both], [here]]) == [here, both, here]
