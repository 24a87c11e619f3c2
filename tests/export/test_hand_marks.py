"""What the hand does, in signs [common practice]."""

from __future__ import annotations

from dataclasses import replace

import pytest
from music21 import common

from genex.export.hand_marks import hand_marks, hand_sign, numeral
from genex.fretboard import HandMove
from genex.score import Fretting
from tests.export.builders import beats, fretted, lead


@pytest.mark.parametrize("number", range(1, 31))
def test_positions_are_roman_numerals(number):
    """[package: music21]"""
    assert numeral(number) == common.toRoman(number)


def moved(at, string, fret, finger, move):
    return replace(fretted(at, 1, string, fret), fretting=Fretting(string, fret, finger, move))


def test_a_line_names_its_position_where_it_begins_and_where_the_hand_goes():
    none, shift, roll = HandMove.NONE, HandMove.SHIFT, HandMove.ROLL
    part = lead(
        [
            moved(0, 3, 5, 1, none),
            moved(1, 3, 7, 3, none),
            moved(2, 2, 7, 3, roll),
            moved(3, 2, 10, 4, shift),
            moved(4, 3, 4, 2, shift),
        ]
    )
    assert hand_marks(part) == {beats(0): "V", beats(2): "=", beats(3): ">VII", beats(4): "<III"}


def test_an_open_string_has_no_position():
    part = lead([fretted(0, 1, 1, 0), fretted(1, 1, 2, 3, 3)])
    assert hand_marks(part) == {beats(1): "I"}


def test_the_first_note_has_no_sign():
    assert hand_sign(None, fretted(0, 1, 1, 5, 1)) == ""
