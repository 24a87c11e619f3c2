"""The practice path as it is fingered: fingers belong to the path, not to the place.

The paths are written as a teacher says them, string/fret-finger; an r or s before the finger is
a roll or a shift of the hand.
"""

from __future__ import annotations

from itertools import groupby, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.export.neck_marks import shape_marks
from genex.export.neck_text import shape_text
from genex.fretboard import (
    TUNINGS,
    Fingered,
    Hand,
    HandMove,
    Shape,
    Tuning,
    chord_shape,
    fingered_sequence,
    shapes,
    tuning,
)
from genex.fretboard.hand import STAY_SHARE
from genex.fretboard.shapes import practice_order
from genex.theory import NoteName, parse_chord
from genex.theory.qualities import QUALITIES
from tests.fretboard.reach import overstretched

STANDARD = tuning("standard")
ROOTS = [NoteName.parse(name) for name in "C Db D Eb E F F# G Ab A Bb B".split()]


def spoken(found: Shape) -> str:
    signs = {HandMove.NONE: "", HandMove.ROLL: "r", HandMove.SHIFT: "s"}
    return " ".join(f"{p.note.string}/{p.note.fret}-{signs[p.move]}{p.note.finger}" for p in found.path)


@pytest.mark.parametrize(
    ("symbol", "form", "expected"),
    [
        # the five forms of a major triad [common practice]
        ("C", "C",
         "5/15-4 4/14-3 3/12-1 2/13-2 1/12-1 1/15-4 1/12-1 2/13-2 3/12-1 4/14-3 5/15-4 6/15-r4 "
         "6/12-1 6/15-4 5/15-r4"),
        ("C", "A",
         "5/3-2 4/2-1 4/5-s2 3/5-3 2/5-4 1/3-1 2/5-4 3/5-3 4/5-2 4/2-s1 5/3-3 6/3-2 5/3-3"),
        ("C", "G",
         "6/8-4 5/7-3 4/5-1 3/5-r1 2/5-r1 2/8-4 1/8-r4 2/8-r4 2/5-1 3/5-r1 4/5-r1 5/7-3 6/8-4"),
        ("C", "E",
         "6/8-2 5/7-1 5/10-s3 4/10-4 3/9-2 2/8-1 1/8-r1 2/8-r1 3/9-2 4/10-4 5/10-3 5/7-s1 6/8-2"),
        ("C", "D",
         "4/10-2 3/9-1 3/12-s3 2/13-4 1/12-3 2/13-4 3/12-3 3/9-s1 4/10-2 5/10-r2 6/12-4 5/10-2 "
         "4/10-r2"),
        # three equal frets over the first finger's string: a hop, no roll of the little finger
        ("Cm", "G",
         "6/8-4 5/6-2 4/5-1 3/5-r1 3/8-s2 2/8-3 1/8-4 2/8-3 3/8-2 3/5-s1 4/5-r1 5/6-2 6/8-4"),
        # beyond the reach of the hand that reached back: shifts, no stretch over five frets
        ("Cm7b5", "A",
         "5/3-1 5/6-4 4/4-2 3/3-1 3/5-3 2/4-2 1/2-1 1/6-s3 1/2-s1 2/4-2 3/5-3 3/3-1 4/4-2 5/6-4 "
         "5/3-1 6/6-4 6/2-s1 6/6-s4 5/3-1"),
        # root and flat third on one string: first and fourth finger, the hand comes back lower
        ("Cdim", "A",
         "5/3-1 5/6-4 4/4-2 3/5-3 2/4-2 1/2-1 2/4-2 3/5-3 4/4-2 5/6-4 5/3-s2 6/2-1 5/3-2"),
        ("Cm(maj7)", "D",
         "4/10-1 4/13-4 3/12-2 2/12-3 2/13-4 1/11-1 2/13-4 2/12-3 3/12-2 4/13-4 4/10-s2 4/9-1 "
         "5/10-2 6/11-3 5/10-2 4/9-1 4/10-2"),
        # one position, the first finger reaching back, instead of out and back with the hand
        ("Cm7", "C",
         "5/15-4 4/13-2 3/12-1 3/15-4 2/13-2 1/11-1 1/15-4 1/11-1 2/13-2 3/15-4 3/12-1 4/13-2 "
         "5/15-4 5/13-2 6/15-4 6/11-1 6/15-4 5/13-2 5/15-4"),
        # no finger on two neighbouring frets in a row
        ("Cmaj7", "G",
         "6/8-4 5/7-3 4/5-s2 3/4-1 3/5-2 2/5-3 2/8-s4 1/7-3 1/8-4 1/7-3 2/8-4 2/5-s3 3/5-2 3/4-1 "
         "4/5-2 5/7-s3 6/8-4 6/7-3 6/8-4"),
        # equal frets go to separate fingers by a short shift; no roll in passing over three strings
        ("Cmaj7", "A",
         "5/3-2 4/2-1 4/5-s3 3/4-2 3/5-3 2/5-4 1/3-1 2/5-4 3/5-3 3/4-2 4/5-3 4/2-s1 5/3-2 5/2-1 "
         "6/3-2 5/2-1 5/3-2"),
        ("Cm7", "G",
         "6/8-4 5/6-2 4/5-1 4/8-4 3/5-1 3/8-s3 2/8-4 1/6-1 1/8-3 1/6-1 2/8-4 3/8-3 3/5-s1 4/8-4 "
         "4/5-1 5/6-2 6/8-4 6/6-2 6/8-4"),
        ("Csus4", "E",
         "6/8-1 5/8-r1 5/10-2 4/10-3 3/10-4 2/8-1 1/8-r1 2/8-r1 3/10-4 4/10-3 5/10-2 5/8-1 6/8-r1"),
        # five frets are wider than the hand here: no way out and back for the flat fifth
        ("Cm7b5", "G",
         "6/8-3 5/6-1 5/9-4 4/8-3 3/5-s1 3/8-4 2/7-3 1/6-2 1/8-4 1/6-2 2/7-3 3/8-4 3/5-1 4/8-s3 "
         "5/9-4 5/6-1 6/8-3 6/6-1 6/8-3"),
        ("Caug", "G",
         "6/8-4 5/7-3 4/6-2 3/5-1 2/5-r1 2/9-s4 1/8-3 2/9-4 2/5-s1 3/5-r1 4/6-2 5/7-3 6/8-4 6/4-s1 "
         "6/8-s4"),
        # the shift up to the augmented fifth is printed
        ("Caug", "A",
         "5/3-2 4/2-1 4/6-s4 3/5-3 2/5-4 1/4-2 2/5-4 3/5-3 4/6-4 4/2-s1 5/3-2 6/4-3 5/3-2"),
        # a ninth chord in thirds: 1 3 5 7 9
        ("C9", "A",
         "5/3-2 4/2-1 4/5-s3 3/3-1 2/3-r1 2/5-3 1/3-1 1/6-4 1/3-1 2/5-3 2/3-1 3/3-r1 4/5-3 4/2-s1 "
         "5/3-2 6/6-s4 6/3-1 6/6-4 5/3-1"),
    ],
)  # fmt: skip
def test_paths_that_a_teacher_prints(symbol: str, form: str, expected: str) -> None:
    assert spoken(chord_shape(parse_chord(symbol), STANDARD, form)) == expected


@pytest.mark.parametrize(("number", "quality"), list(enumerate(sorted(QUALITIES))))
def test_up_and_down_alike_and_as_few_fingers_as_may_be(number: int, quality: str) -> None:
    """Each quality on every other root, the next one on the roots between."""
    for root in ROOTS[number % 2 :: 2]:
        for found in shapes(QUALITIES[quality].degrees, root, STANDARD):
            path = [step.note for step in found.path]
            assert [found.notes[i].place for i in found.path_indices] == [n.place for n in path]
            top = len(found.notes) - 1 - found.lowest_root
            up = path[: top + 1]
            assert up == list(found.notes[found.lowest_root :])
            if found.lowest_root == 0:
                assert path == [*up, *up[-2::-1]]
            for index, finger in found.other_fingers.items():
                assert finger != found.notes[index].finger
                assert path.count(found.notes[index]) < found.path_indices.count(index)
            # where the way back differs it is near the root, not at the top
            assert all(index < found.lowest_root + 3 for index in found.other_fingers)


def test_no_finger_has_two_neighbouring_frets_of_a_string_in_a_row() -> None:
    """[common practice]: that is a slide"""
    for quality in ("", "m", "dim", "aug", "maj7", "7", "m7", "m7b5", "dim7", "mmaj7", "6", "m6"):
        for found in shapes(QUALITIES[quality].degrees, NoteName.parse("C"), STANDARD):
            notes = [step.note for step in found.path]
            for a, b in pairwise(notes):
                assert not (a.string == b.string and a.finger == b.finger and abs(a.fret - b.fret) == 1)


@given(st.integers(1, 20).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n - 1))))
def test_the_order_of_the_path(case: tuple[int, int]) -> None:
    count, root = case
    order = practice_order(count, root)
    assert order[0] == order[-1] == root
    assert set(order) == set(range(count))
    assert all(abs(a - b) == 1 for a, b in pairwise(order))


def test_a_diagram_shows_the_second_finger_where_there_is_one() -> None:
    found = chord_shape(parse_chord("C"), STANDARD, "A")
    marks = {mark.string: mark for mark in shape_marks(found) if mark.fret == 3}
    assert (marks[5].finger, marks[5].other_finger) == (2, 3)
    assert marks[6].other_finger is None
    assert "[2(3)]" in shape_text(found, STANDARD, label="fingers")
    assert "(" not in shape_text(found, STANDARD)
    notes = found.as_json()["notes"]
    assert isinstance(notes, list)
    assert [note.get("other_finger") for note in notes] == [None, 3, *[None] * (len(notes) - 2)]


def test_the_practice_path_is_a_sequence_with_the_same_fingers() -> None:
    found = chord_shape(parse_chord("C"), STANDARD, "A")
    assert fingered_sequence("practice path", found, STANDARD) == found.path


def assert_within_the_reach(quality: str, root: NoteName, neck: Tuning, hand: Hand) -> None:
    for found in shapes(QUALITIES[quality].degrees, root, neck, hand=hand, with_open=True):
        path = [
            Fingered(p.note.string, p.note.fret, p.note.finger, p.note.position, p.move)
            for p in found.path
        ]
        assert not overstretched(path, neck, hand), (quality, root, found.form)


@pytest.mark.parametrize("hand", Hand)
def test_no_form_asks_for_more_than_the_reach(hand: Hand) -> None:
    """Every quality in every form, each on another root: what lies beyond the hand's reach in
    millimetres is taken by a shift."""
    for index, quality in enumerate(QUALITIES):
        assert_within_the_reach(quality, ROOTS[index * 5 % 12], STANDARD, hand)


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(sorted(QUALITIES)),
    st.sampled_from(ROOTS),
    st.sampled_from(sorted(TUNINGS)),
    st.sampled_from(Hand),
)
def test_no_form_asks_for_more_in_any_tuning(
    quality: str, root: NoteName, name: str, hand: Hand
) -> None:
    assert_within_the_reach(quality, root, tuning(name), hand)


def stays_too_wide(quality: str, root: NoteName, neck: Tuning, hand: Hand) -> list[object]:
    """The stays of the hand, from shift to shift, whose frets lie further apart than it reaches."""
    found: list[object] = []
    for each in shapes(QUALITIES[quality].degrees, root, neck, hand=hand, with_open=True):
        for position, stay in groupby((step.note for step in each.path), key=lambda n: n.position):
            frets = [note.fret for note in stay if note.fret]
            extent_mm = neck.fret_mm(max(frets)) - neck.fret_mm(min(frets)) if frets else 0.0
            if extent_mm > STAY_SHARE * hand.reach_mm + 1e-9:
                found.append((each.form, position, frets))
    return found


@pytest.mark.parametrize("hand", Hand)
@pytest.mark.parametrize("name", ["standard", "DADGAD", "four-string bass", "ukulele"])
def test_all_that_is_taken_without_a_shift_lies_within_the_hand(name: str, hand: Hand) -> None:
    """Not two notes only: the whole stay. Six frets are for no hand near the nut."""
    assert 1 <= STAY_SHARE < 1.2
    for index, quality in enumerate(QUALITIES):
        root = ROOTS[(index * 7 + 6 * (hand is Hand.SMALL)) % 12]
        assert not stays_too_wide(quality, root, tuning(name), hand), (quality, root)


@pytest.mark.parametrize("root", ROOTS, ids=str)
def test_no_third_or_little_finger_is_laid_down_in_passing_over_three_strings(root: NoteName) -> None:
    """[common practice]: rather a short shift to separate fingers"""
    for quality in ("", "m", "7", "maj7", "m7", "6", "sus4", "sus2", "9", "mmaj7"):
        for found in shapes(QUALITIES[quality].degrees, root, STANDARD):
            notes = [step.note for step in found.path]
            for a, b, c in zip(notes, notes[1:], notes[2:], strict=False):
                same = a.finger == b.finger == c.finger and a.fret == b.fret == c.fret
                assert not (same and a.finger >= 3 and abs(a.string - c.string) == 2)
