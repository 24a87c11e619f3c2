"""Sequences over shapes: orders of notes that a teacher would write out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import FretboardError
from genex.fretboard import (
    SEQUENCES,
    HandMove,
    PathNote,
    along_strings,
    chord_shape,
    chord_shapes,
    extended,
    fingered_sequence,
    move_between,
    pattern,
    sequence,
    sequence_indices,
    tuning,
)
from genex.theory import parse_chord

STANDARD = tuning("standard")
E_FORM = chord_shape(parse_chord("C"), STANDARD, "E")  # seven notes, root lowest and highest
C_FORM = chord_shape(parse_chord("C"), STANDARD, "C")  # eight notes, the root is the third
IN_FORMS = [name for name, row in SEQUENCES.items() if row.strings == 0]


@pytest.mark.parametrize(
    ("name", "order"),
    [
        ("practice path", "0 1 2 3 4 5 6 5 4 3 2 1 0"),
        ("up and down", "0 1 2 3 4 5 6 5 4 3 2 1 0"),
        ("groups of three", "012 123 234 345 456 543 432 321 210"),
        ("groups of four", "0123 1234 2345 3456 5432 4321 3210"),
        ("broken thirds", "02 13 24 35 46 53 42 31 20"),
        ("skips", "03 14 25 36 52 41 30"),
        ("pedal", "01 02 03 04 05 06 05 04 03 02 01"),
        ("pendulum", "3 4 2 5 1 6 0 6 1 5 2 4 3"),
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


@pytest.mark.parametrize("name", IN_FORMS)
@given(symbol=st.sampled_from(["C", "Ebm", "F#7", "Bbmaj9", "Gdim7", "A7alt", "D5"]))
def test_every_sequence_over_every_form(name: str, symbol: str) -> None:
    for each in chord_shapes(parse_chord(symbol), STANDARD):
        if len(each.notes) < pattern(name).min_notes:
            continue
        walked = sequence(name, each)
        assert set(sequence_indices(name, each)) >= set(range(each.lowest_root, len(each.notes))) or (
            "octave" in name
        )
        indices = sequence_indices(name, each)
        assert len(walked) == len(indices)
        assert len(indices) % SEQUENCES[name].group == 0 or name == "pendulum"
        assert all(0 <= index < len(each.notes) for index in indices)
        if len(indices) > 2 * SEQUENCES[name].group:
            assert all(a != b for a, b in pairwise(indices))
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
        if len(each.notes) < pattern(name).min_notes:
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
    walked = fingered_sequence("broken thirds", chord, STANDARD)
    moves = [step.move for step in walked]
    assert moves.count(HandMove.SHIFT) == 2
    assert sum(step.move is HandMove.SHIFT for step in sequence("broken thirds", chord)) == 6
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
    assert midis == midis[::-1] and max(midis) == neck.notes[-1].midi
    assert {step.note.string for step in walked} == set(strings)


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
