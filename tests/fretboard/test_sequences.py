"""Sequences over shapes: orders of notes that a teacher would write out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import FretboardError
from genex.fretboard import (
    SEQUENCES,
    HandMove,
    PathNote,
    Shape,
    Tuning,
    along_strings,
    chord_shape,
    chord_shapes,
    extended,
    fingered_sequence,
    move_between,
    pattern,
    sequence,
    sequence_indices,
    shape,
    shapes,
    tuning,
)
from genex.fretboard.sequences import group_of
from genex.theory import NoteName, find_scale, parse_chord, scales_for, triad_pair
from genex.theory.qualities import QUALITIES

STANDARD = tuning("standard")
E_FORM = chord_shape(parse_chord("C"), STANDARD, "E")  # seven notes, root lowest and highest
C_FORM = chord_shape(parse_chord("C"), STANDARD, "C")  # eight notes, the root is the third
IN_FORMS = [name for name, row in SEQUENCES.items() if row.strings == 0]


@pytest.mark.parametrize(
    ("name", "order"),
    [
        ("practice path", "0 1 2 3 4 5 6 5 4 3 2 1 0"),
        ("up and down", "0 1 2 3 4 5 6 5 4 3 2 1 0"),
        ("groups of three", "012 123 234 345 456 654 543 432 321 210 0"),
        ("groups of four", "0123 1234 2345 3456 6543 5432 4321 3210 0"),
        ("broken thirds", "01 12 23 34 45 56 65 54 43 32 21 10 0"),
        ("alternating thirds", "01 21 23 43 45 65 65 45 43 23 21 01 0"),
        ("skips", "03 14 25 36 63 52 41 30 0"),
        ("pedal", "01 02 03 04 05 06 05 04 03 02 01 0"),
        ("pendulum", "3 4 2 5 1 6 0 6 1 5 2 4 3"),
        ("inversions", "012 123 234 345 456 654 543 432 321 210 0"),
        ("one octave", "0 1 2 3 2 1 0"),
        ("two octaves", "0 1 2 3 4 5 6 5 4 3 2 1 0"),
    ],
)
def test_orders_over_the_e_form_of_c(name: str, order: str) -> None:
    """[common practice]"""
    assert "".join(map(str, sequence_indices(name, E_FORM))) == order.replace(" ", "")


def test_orders_that_begin_at_the_root() -> None:
    """[common practice]: in the C form the root is the third note"""
    assert sequence_indices("practice path", C_FORM) == (2, 3, 4, 5, 6, 7, 6, 5, 4, 3, 2, 1, 0, 1, 2)
    assert sequence_indices("one octave", C_FORM) == (2, 3, 4, 5, 4, 3, 2)
    assert sequence_indices("pedal", C_FORM)[:6] == (2, 3, 2, 4, 2, 5)
    assert sequence_indices("up and down", C_FORM) == (2, 3, 4, 5, 6, 7, 6, 5, 4, 3, 2)
    # below the root it goes on to the lowest note, and comes back
    assert "".join(map(str, sequence_indices("groups of three", C_FORM))) == (
        "234345456567" + "765654543432321210" + "012123" + "2"
    )


def test_thirds_are_the_chords_next_tone_and_the_scales_next_but_one() -> None:
    """[common practice]: 1-3, 3-5, 5-b7, b7-9 in the order in which the chord is named; in a scale
    1-3, 2-4, 3-5"""
    found = chord_shape(parse_chord("C9"), STANDARD, "E")
    degrees = [str(found.notes[i].degree) for i in sequence_indices("broken thirds", found)]
    assert degrees[:10] == "1 3 3 5 5 b7 b7 9 9 3".split()
    scale = shape(find_scale("dorian").degrees, NoteName.parse("C"), STANDARD, "E")
    order = sequence_indices("broken thirds", scale, is_scale=True)
    degrees = [str(scale.notes[i].degree) for i in order]
    assert degrees[:8] == "1 b3 2 4 b3 5 4 6".split()


def test_the_stack_of_thirds_on_each_tone_of_a_scale() -> None:
    """[common practice]: 1 3 5 7 9, 2 4 6 8 10 ..."""
    scale = shape(find_scale("major").degrees, NoteName.parse("G"), STANDARD, "E")
    for name, first, second in (
        ("triads", "1 3 5", "2 4 6"),
        ("seventh chords", "1 3 5 7", "2 4 6 1"),
        ("stacked thirds", "1 3 5 7 2", "2 4 6 1 3"),
    ):
        order = sequence_indices(name, scale, is_scale=True)
        degrees = " ".join(str(scale.notes[i].degree) for i in order)
        assert degrees.startswith(f"{first} {second} ")
        assert degrees.endswith(" 1")


def _shapes_for(name: str, symbol: str, neck: Tuning = STANDARD) -> tuple[list[Shape], bool]:
    """The shapes that a sequence is played over, and whether they are a scale's."""
    chord = parse_chord(symbol)
    tones = SEQUENCES[name].tones
    if tones in ("any", "chord"):
        return list(chord_shapes(chord, neck)), False
    scale = scales_for(chord)[0]
    degrees = scale.degrees if tones == "scale" else triad_pair(chord, scale).degrees  # type: ignore[union-attr]
    return list(shapes(degrees, chord.root, neck)), True


@pytest.mark.parametrize("name", IN_FORMS)
@given(
    quality=st.sampled_from(sorted(QUALITIES)),
    root=st.sampled_from("C Db E F# A Bb".split()),
    neck=st.sampled_from([STANDARD, tuning("all fourths"), tuning("DADGAD"), tuning("seven-string")]),
)
@settings(max_examples=25)
def test_every_sequence_begins_and_ends_on_the_root_and_turns_at_the_top(
    name: str, quality: str, root: str, neck: Tuning
) -> None:
    """Every quality, every form, four tunings [common practice]"""
    row = SEQUENCES[name]
    found, is_scale = _shapes_for(name, root + quality, neck)
    for each in found:
        try:
            indices = sequence_indices(name, each, is_scale=is_scale)
        except FretboardError as error:
            assert "notes from the lowest root up" in error.message
            continue
        walked = sequence(name, each, is_scale=is_scale)
        assert len(walked) == len(indices)
        assert (
            each.notes[indices[0]].is_root == each.notes[indices[-1]].is_root == bool(each.root_indices)
        )
        top = len(each.notes) - 1
        if name not in ("one octave", "two octaves"):
            assert set(indices) >= set(range(each.lowest_root, top + 1)), "no tone is left out"
        if name not in ("one octave", "two octaves", "up and down", "pedal"):
            assert 0 in indices
        group = group_of(row, each)
        if not row.approach:
            assert (len(indices) - 1) % group == 0
        if row.tones != "any" and not row.approach:
            # rising and falling, the topmost group is played both ways
            groups = [indices[at : at + group] for at in range(0, len(indices) - 1, group)]
            highest = [each for each in groups if top in each]
            assert highest[0] == highest[-1][::-1]
        assert walked[0].move is HandMove.NONE
        for before, after in pairwise(walked):
            a, b = before.note, after.note
            if a.finger == b.finger and a.fret != b.fret:
                assert after.move is HandMove.SHIFT


@pytest.mark.parametrize("name", IN_FORMS)
@given(symbol=st.sampled_from(["C", "Ebm", "F#7", "Bbmaj9", "Gdim7", "A7alt", "D5"]))
def test_a_fingered_sequence_keeps_the_places_and_shifts_no_more(name: str, symbol: str) -> None:
    def shifts(walked: Sequence[PathNote]) -> int:
        return sum(step.move is HandMove.SHIFT for step in walked)

    def travel(walked: Sequence[PathNote]) -> int:
        return sum(abs(b.note.position - a.note.position) for a, b in pairwise(walked))

    def positions(walked: Sequence[PathNote]) -> set[int]:
        found = [step.note.position for step in walked]
        return set(range(min(found), max(found) + 1))

    for each in chord_shapes(parse_chord(symbol), STANDARD):
        if len(each.notes) - each.lowest_root < max(SEQUENCES[name].min_notes, 3):
            continue
        own, fingered = sequence(name, each), fingered_sequence(name, each, STANDARD)
        assert [step.note.place for step in fingered] == [step.note.place for step in own]
        assert [step.note.degree for step in fingered] == [step.note.degree for step in own]
        assert shifts(fingered) <= shifts(own)
        assert travel(fingered) <= travel(own)
        assert {step.note.position for step in fingered} <= positions(own)
        states = [(s.note.string, s.note.fret, s.note.finger, s.note.position) for s in fingered]
        moves = [move_between(a, b) for a, b in pairwise(states)]
        assert [step.move for step in fingered] == [HandMove.NONE, *moves]


def test_thirds_over_five_frets_move_the_hand_once_each_way() -> None:
    """[common practice]: C7 in the E form lies on frets 7 to 11. The hand stays in position 7 for
    the lower strings, goes to 8 for the note on fret 11, and comes back."""
    chord = chord_shape(parse_chord("C7"), STANDARD, "E")
    walked = fingered_sequence("groups of three", chord, STANDARD)
    moves = [step.move for step in walked]
    own = sequence("groups of three", chord)
    assert moves.count(HandMove.SHIFT) < sum(step.move is HandMove.SHIFT for step in own)
    assert {step.note.position for step in walked} == {7, 8}


@pytest.mark.parametrize(
    ("name", "strings"), [("along one string", (2,)), ("along a pair of strings", (3, 4))]
)
def test_along_strings(name: str, strings: tuple[int, ...]) -> None:
    chord = parse_chord("Am")
    neck = along_strings(chord.degrees, chord.root, STANDARD, strings)
    assert len(strings) == SEQUENCES[name].strings
    walked = sequence(name, neck)
    midis = [step.note.midi for step in walked]
    assert {min(midis), max(midis)} == {neck.notes[0].midi, neck.notes[-1].midi}
    assert walked[0].note.is_root and walked[0].note == walked[-1].note
    assert {step.note.string for step in walked} == set(strings)


def _fewest_shifts(frets: list[int]) -> int:
    """Along one string, four fingers on four frets: how often a hand has to move at least, by trying
    every place of the hand for every note. Shares no code with the fingering."""
    best = dict.fromkeys(range(1, 37), 0)
    for number, fret in enumerate(frets):
        moved = min(best.values()) + (number > 0)
        best = {place: min(best.get(place, moved), moved) for place in range(max(1, fret - 3), fret + 1)}
    return min(best.values())


@pytest.mark.parametrize("string", range(1, 7))
@pytest.mark.parametrize(
    "symbol", "C Cm C7 Cmaj7 Am7 Bm7b5 Fdim7 G6 Em6 D9 Bbmaj9 A13 Ebsus4 Gaug".split()
)
def test_one_string_is_played_with_the_fewest_shifts(symbol: str, string: int) -> None:
    chord = parse_chord(symbol)
    for degrees in (chord.degrees, find_scale("dorian").degrees, find_scale("blues").degrees):
        neck = along_strings(degrees, chord.root, STANDARD, (string,))
        walked = fingered_sequence("along one string", neck, STANDARD)
        shifts = sum(step.move is HandMove.SHIFT for step in walked)
        assert shifts <= _fewest_shifts([step.note.fret for step in walked])


def test_names_are_read_tolerantly_and_suggested() -> None:
    assert pattern("Broken-Thirds").name == "broken thirds"
    with pytest.raises(FretboardError, match="did you mean 'pendulum'"):
        pattern("pendulm")
    with pytest.raises(FretboardError, match="practice path"):
        pattern("xyz")


def test_two_octaves_reach_beyond_the_form_by_shifts() -> None:
    """[common practice]: the A form of C from 5/3, on by shifts to 1/8 and beyond"""
    chord = parse_chord("C")
    bare = chord_shape(chord, STANDARD, "A")
    assert [step.note.midi for step in sequence("two octaves", bare)][:6] == [48, 52, 55, 60, 64, 67]
    wide = extended(bare, chord.degrees, STANDARD)
    walked = sequence("two octaves", wide)
    assert [step.note.midi for step in walked][:7] == [48, 52, 55, 60, 64, 67, 72]
    assert walked[6].note.place == (1, 8)
    assert walked[6].move is HandMove.SHIFT
    assert [note.place for note in wide.notes[: len(bare.notes)]] == [note.place for note in bare.notes]
    assert extended(E_FORM, chord.degrees, STANDARD) is E_FORM


def test_shapes_too_small_are_refused() -> None:
    chord = parse_chord("C5")
    few = along_strings(chord.degrees, chord.root, tuning("standard", frets=5), (6,))
    with pytest.raises(FretboardError, match="needs 4 notes"):
        sequence("groups of four", few)
