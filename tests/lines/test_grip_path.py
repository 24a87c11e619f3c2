"""The path of grips: as guitarists lead voices, and the least of all paths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import build_timeline
from genex.errors import LineError
from genex.fretboard import STANDARD, TUNINGS, Hand
from genex.lines.grip_path import (
    Change,
    Reach,
    candidates,
    change_cost,
    grip_path,
    own_cost,
)
from genex.recipe import parse_recipe
from genex.score import RepeatSpan
from genex.theory import Degree, Key, Pitch
from tests.lines.line_charts import chart


def path_cost(path: Sequence[Change], reach: Reach, *, loops: bool = True) -> int:
    """What a path costs: the sum that is to be least."""
    total = sum(own_cost(change.grip, reach) for change in path)
    around = [*pairwise(path), *([(path[-1], path[0])] if loops and path else [])]
    return total + sum(
        change_cost(a.grip, b.grip, a.chord, b.chord)
        for a, b in around
        if not (a.chord == b.chord and a.grip == b.grip)
    )


MAJOR, MINOR = "Dm7 | G7 | Cmaj7", "Dm7b5 | G7b9 | Cm6"
TWO_FIVE_ONE = [
    # ii-V-I as guitarists play it: kind, strings, where the hand is, frets [common practice]
    ("drop 2", "5 4 3 2", None, MAJOR, "5 7 5 6, 5 5 4 6, 3 5 4 5"),
    ("drop 2", "5 4 3 2", 7, MAJOR, "8 10 7 10, 8 9 7 8, 7 9 5 8"),
    ("drop 2", "5 4 3 2", 10, MAJOR, "12 12 10 13, 10 12 10 12, 10 10 9 12"),
    ("drop 2", "4 3 2 1", 2, MAJOR, "3 5 3 5, 3 4 3 3, 2 4 1 3"),
    ("drop 2", "4 3 2 1", 6, MAJOR, "7 7 6 8, 5 7 6 7, 5 5 5 7"),
    ("drop 2", "4 3 2 1", 10, MAJOR, "10 10 10 10, 9 10 8 10, 9 9 8 8"),
    ("shell", "6 5 4 3", None, MAJOR, "5 3 5, 3 3 4, 3 2 4"),
    ("drop 3", "5 3 2 1", None, MAJOR, "5 5 6 5, 5 4 6 3, 3 4 5 3"),
]


@pytest.mark.parametrize(("kind", "strings", "position", "text", "expected"), TWO_FIVE_ONE)
def test_two_five_one_as_it_is_played(
    kind: str, strings: str, position: int | None, text: str, expected: str
) -> None:
    own = tuple(map(int, strings.split()))
    path = grip_path(chart(text), Reach(STANDARD, (kind,), own, position=position), loops=False)
    found = [" ".join(str(c.grip.held.frets[s]) for s in sorted(c.grip.strings)[::-1]) for c in path]
    assert ", ".join(found) == expected


@pytest.mark.parametrize("key", ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"])
@pytest.mark.parametrize("kind", ["drop 2", "drop 3", "shell"])
@pytest.mark.parametrize("text", [MAJOR, MINOR])
def test_the_seventh_falls_to_the_third_in_its_own_voice(text: str, kind: str, key: str) -> None:
    """[common practice], in every key and voicing."""
    recipe = parse_recipe(f"key: C\nchords: {text}\n")
    version = replace(recipe.versions[0], key=Key.parse(key))
    path = grip_path(build_timeline(recipe, version), Reach(STANDARD, (kind,)), loops=False)
    for before, after in pairwise(path):
        for voice, string in enumerate(before.grip.strings):
            if before.grip.degrees[string].number == 7:
                falls = before.grip.midis[voice] - after.grip.midis[voice]
                assert falls in (0, 1, 2)
                assert after.grip.degrees[after.grip.strings[voice]].number == 3


def test_a_dominants_leading_tone_rises_or_stays() -> None:
    """Into a major seventh it stays, into a triad it rises, into a sixth chord it may fall."""
    for text, moves in (
        ("D7 | Gmaj7", {0, 1}),
        ("G7 | C", {1}),
        ("G7 | C6", {1, -2}),
        ("G7 | C7", {-1}),
    ):
        for kind in ("drop 2", "rootless", "triad"):
            before, after = grip_path(chart(text), Reach(STANDARD, (kind, "triad")), loops=False)
            if len(before.grip.midis) != len(after.grip.midis):
                continue
            voices = enumerate(before.grip.strings)
            (voice,) = [v for v, s in voices if before.grip.degrees[s] == Degree(3)]
            assert after.grip.midis[voice] - before.grip.midis[voice] in moves, (text, kind)


CHARTS = ["Dm7 | G7 | Cmaj7", "F | C7", "Am7b5 D7b9 | Gm6", "Cmaj7 | A7 | Dm7 | G7", "E7 | A7 | E7"]


@pytest.mark.parametrize("text", CHARTS)
@pytest.mark.parametrize("kinds", [("shell",), ("drop 3",), ("rootless", "triad")])
@pytest.mark.parametrize("loops", [True, False])
def test_no_path_is_cheaper(text: str, kinds: tuple[str, ...], loops: bool) -> None:
    """Every path of a short chart, by itself: sums of own and change costs, tried one by one."""
    reach = Reach(STANDARD, kinds, high=72)
    path = grip_path(chart(text), reach, loops=loops)
    layers = [candidates(change.chord, reach)[:9] for change in path]
    best = None
    for grips in product(*layers):
        changed = [replace(change, grip=grip) for change, grip in zip(path, grips, strict=True)]
        cost = path_cost(changed, reach, loops=loops)
        best = cost if best is None or cost < best else best
    assert best is not None and path_cost(path, reach, loops=loops) <= best
    if all(len(candidates(change.chord, reach)) <= 9 for change in path):
        assert path_cost(path, reach, loops=loops) == best


SYMBOLS = st.builds(
    str.__add__,
    st.sampled_from("C Db D Eb E F F# G Ab A Bb B".split()),
    st.sampled_from(["", "m", "7", "m7", "maj7", "m7b5", "dim7", "6", "m6", "9", "m9", "7b9", "13",
                     "7sus4", "maj9", "m(maj7)", "7#5", "7alt"]),
)  # fmt: skip
KINDS = st.sampled_from(
    [("drop 2",), ("shell",), ("drop 3",), ("rootless",), ("triad",), ("shell", "drop 3"),
     ("open", "barre"), ("drop 2", "rootless")]
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(SYMBOLS, min_size=2, max_size=6), KINDS, st.sampled_from(Hand), st.booleans())
def test_what_every_path_holds(
    symbols: list[str], kinds: tuple[str, ...], hand: Hand, loops: bool
) -> None:
    neck = replace(STANDARD, hand=hand)
    reach = Reach(neck, kinds)
    path = grip_path(chart(" | ".join(symbols)), reach, loops=loops)
    assert sum(change.length_beats for change in path) == 4 * len(symbols)
    for change in path:
        grip, held = change.grip, change.grip.held
        assert set(change.chord.guide_tones) <= set(grip.degrees.values()), "guide tones"
        assert list(grip.midis) == sorted(set(grip.midis)), "no voice crosses another"
        stopped = [fret for fret in held.frets.values() if fret]
        if stopped:
            assert neck.fret_mm(max(stopped)) - neck.fret_mm(min(stopped)) <= hand.reach_mm
        assert len(set(held.fingers.values()) - {0}) <= 4
    # No other grip in any one place makes the path cheaper.
    least = path_cost(path, reach, loops=loops)
    alone = {c.chord for c in path if sum(d.chord == c.chord for d in path) == 1}
    for index, change in enumerate(path):
        if change.chord in alone:
            for other in candidates(change.chord, reach):
                changed = [*path[:index], replace(change, grip=other), *path[index + 1 :]]
                assert path_cost(changed, reach, loops=loops) >= least


def test_a_section_that_comes_again_has_the_same_grips() -> None:
    recipe = parse_recipe(
        "key: F\nsections:\n  A: Fmaj7 | D7 | Gm7 | C7\n  B: Cm7 | F7 | Bbmaj7 | Db7\n"
        "  C: Fmaj7 | D7 | Gm7 | C7\nform: A B A C A\nrepeats: 2\n"
    )
    timeline = build_timeline(recipe, recipe.versions[0])
    path = grip_path(timeline, Reach(STANDARD))
    grips = [change.grip for change in path]
    first = grips[:4]
    assert all(grips[at : at + 4] == first for at in (8, 12, 16, 20, 28)), "A and C have one chart"
    assert grips[4:8] == grips[24:28]


def test_sections_of_one_name_are_alike_as_far_as_their_chords_are() -> None:
    timeline = build_timeline(
        recipe := parse_recipe(
            "key: F\nsections:\n  A: Fmaj7 | D7 | Gm7 | C7\nform: A A\nrepeats: 2\nturnaround: Gb7\n"
        ),
        recipe.versions[0],
    )
    grips = [change.grip for change in grip_path(timeline, Reach(STANDARD))]
    assert grips[:3] == grips[4:7] == grips[8:11]


def test_the_passes_of_a_repeat_are_alike() -> None:
    plain = chart("Dm7 | G7 | Dm7 | G7 | Ebmaj7 | Ab7")
    repeat = RepeatSpan(plain.bars[0].onset_beats, 2 * plain.meter.bar_beats, (0, 0))  # type: ignore[arg-type]
    path = grip_path(replace(plain, repeats=(repeat,)), Reach(STANDARD))
    assert [c.grip for c in path[:2]] == [c.grip for c in path[2:4]]


def test_top_voice_strings_and_position_are_kept() -> None:
    timeline = chart("Dm7 | G7 | Cmaj7 | A7")
    low, high = Pitch.parse("C4").midi, Pitch.parse("G4").midi
    for change in grip_path(timeline, Reach(STANDARD, ("drop 2",), None, low, high)):
        assert low <= change.grip.midis[-1] <= high
    for change in grip_path(timeline, Reach(STANDARD, ("drop 2",), (2, 3, 4, 5))):
        assert set(change.grip.strings) == {2, 3, 4, 5}
    near = [c.grip.position for c in grip_path(timeline, Reach(STANDARD, ("drop 2",), position=9))]
    assert all(abs(position - 9) <= 3 for position in near)


def test_what_cannot_be_held_is_said() -> None:
    with pytest.raises(LineError, match="no hand holds a grip of Dm7 on strings 1 2"):
        grip_path(chart("Dm7"), Reach(STANDARD, ("drop 2",), (1, 2)))
    with pytest.raises(LineError, match="with its top voice from C2 to D2"):
        grip_path(chart("Dm7"), Reach(STANDARD, ("drop 2",), None, 36, 38))


def test_a_chord_without_a_grip_of_the_kind_gets_another() -> None:
    for kind, symbol, instead in (
        ("rootless", "C", "triad"), ("triad", "C7", "rootless"), ("open", "Eb", "barre"),
        ("barre", "D7b9", "open"), ("rootless", "C5", "shell"),
    ):  # fmt: skip
        (change,) = grip_path(chart(symbol), Reach(STANDARD, (kind,)))
        assert change.chord.symbol == symbol
        assert change.grip.kind == instead or (kind, symbol) == ("barre", "D7b9"), symbol


def test_other_necks_and_rests() -> None:
    for name in ("ukulele", "seven-string", "all fourths", "open G"):
        path = grip_path(chart("Dm7 | G7 | N.C. | C"), Reach(TUNINGS[name], ("shell", "triad")))
        assert [change.chord.symbol for change in path] == ["Dm7", "G7", "C"]


def test_a_moving_path_goes_on_over_a_chord_that_stays() -> None:
    timeline = chart("F7 | F7 | F7 | F7 | Bb7 | Bb7")
    for strings in (None, (2, 3, 4, 5)):
        path = grip_path(timeline, Reach(STANDARD, ("drop 2",), strings, moving=True))
        assert [change.length_beats for change in path] == [4] * 6
        for before, after in pairwise(path):
            assert before.grip.midis != after.grip.midis, "other notes, not other strings"
            assert abs(before.grip.position - after.grip.position) <= 5, "the inversion next to it"
    still = grip_path(timeline, Reach(STANDARD))
    assert [change.length_beats for change in still] == [16, 8]
