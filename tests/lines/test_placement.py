import itertools
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import LineError
from genex.fretboard import Wishes
from genex.fretboard.fingering import position_slack
from genex.fretboard.tunings import STANDARD, TUNINGS, tuning
from genex.lines.placement import (
    breaths_of,
    choose_position,
    hold_for,
    in_position,
    off_open_strings,
    position_for,
    position_of_form,
)
from genex.score import Note
from genex.theory import Pitch, parse_chord


def test_the_fifth_position_runs_from_a2_to_c5_without_a_gap():
    # first finger on fret 5: low E string A2 (45) to high E string fret 8, C5 (72) [computed]
    assert in_position(STANDARD, 5) == tuple(range(45, 73))


def test_the_first_position_has_the_open_strings():
    assert in_position(STANDARD, 1)[0] == 40


@given(st.sampled_from(sorted(TUNINGS)), st.integers(1, 12))
def test_a_position_is_held_by_the_hand_and_a_short_shift(name, position):
    """A fret to either side in tunings by fourths, more where strings lie wider apart"""
    neck = tuning(name)
    slack = position_slack(neck)
    opens = sorted(set(neck.open_midi))
    assert slack == max(1, max(b - a for a, b in itertools.pairwise(opens)) - 4)
    for midi in in_position(neck, position):
        frets = [midi - open_midi for open_midi in neck.open_midi]
        lowest = 0 if position == 1 else position - slack
        assert any(lowest <= fret <= position + 3 + slack for fret in frets)


def test_the_whole_neck():
    assert in_position(STANDARD, None) == tuple(range(40, 64 + 22 + 1))


def test_the_position_that_suits_a_progression():
    # in seventh position every tone of Am7 and D7 lies under one finger a fret [computed]
    assert choose_position([parse_chord("Am7"), parse_chord("D7")], STANDARD) == 7
    assert choose_position([parse_chord("Gm7"), parse_chord("C7"), parse_chord("Fmaj7")], STANDARD) == 5
    assert position_for([parse_chord("C")], STANDARD, 9, "E") == 9


def test_positions_of_forms():
    # C major: E form at the eighth fret, G form at the fifth, C form at the twelfth [common practice]
    positions = {form: position_of_form(parse_chord("C"), form, STANDARD) for form in "EG"}
    assert positions["G"] == 5
    assert positions["E"] in (7, 8)
    with pytest.raises(LineError, match="no form 'H'"):
        position_of_form(parse_chord("C"), "H", STANDARD)


def test_holds():
    chords = [parse_chord("Am7")]
    assert str(hold_for(chords, STANDARD, position=7)) == "position 7"
    assert str(hold_for(chords, STANDARD, strings=(3, 2))) == "strings 2 3"
    on_two = hold_for(chords, STANDARD, strings=(2,))
    assert on_two.allowed == tuple(range(60, 75))
    both = hold_for(chords, STANDARD, position=5, strings=(1,))
    assert both.allowed == tuple(range(68, 73))
    limited = hold_for(chords, STANDARD, position=5, low=60, high=64)
    assert limited.allowed == (60, 61, 62, 63, 64)
    with pytest.raises(LineError, match="no note in position 5"):
        hold_for(chords, STANDARD, position=5, low=90)
    with pytest.raises(LineError, match="no set of strings"):
        hold_for(chords, STANDARD, strings=())


def test_what_lies_under_the_hand_for_some_chords():
    chords = [parse_chord("E7")]
    hold = hold_for(chords, STANDARD, position=5)
    # in fifth position G#3 and B3 need a shift; in fourth and sixth both are under the hand [computed]
    assert not {56, 59} <= set(hold.under_hand([parse_chord("Am7"), parse_chord("Dm7")]))
    held = hold.under_hand(chords)
    assert {56, 59} <= set(held) <= set(hold.allowed)
    # the hand of strings 2 and 3 lies anywhere and holds three tones or more
    on_two = hold_for(chords, STANDARD, strings=(2, 3))
    held = on_two.under_hand(chords)
    assert sum(midi % 12 in chords[0].pitch_classes for midi in held) >= 3
    assert max(held) - min(held) <= 7
    assert hold_for(chords, STANDARD, strings=(6,)).under_hand(chords) == ()


def test_a_rest_of_an_eighth_is_a_breath():
    notes = [
        Note(Fraction(onset), Fraction(length), Pitch.parse("C4"), 80)
        for onset, length in (("0", "1"), ("1", "1/2"), ("2", "3/4"), ("3", "1"))
    ]
    assert breaths_of(notes) == {2}


def test_what_is_learned_off_open_strings_can_be_moved():
    assert off_open_strings(None) == Wishes()
    assert off_open_strings(1) == Wishes(1)
    assert off_open_strings(2) == Wishes(2, closed=True)
    assert off_open_strings(5, (2, 3)) == Wishes(5, strings=frozenset((2, 3)), closed=True)
