"""Signs added up to the tones of a chord, whatever their order [common practice]."""

from __future__ import annotations

import pytest

from genex.errors import ChordSymbolError
from genex.theory import parse_chord
from genex.theory.qualities import QUALITIES
from genex.theory.tones import ToneError, Tones


def started(key: str) -> Tones:
    tones = Tones()
    tones.start(QUALITIES[key])
    return tones


def text(tones: Tones) -> str:
    return " ".join(map(str, tones.result()))


def test_signs_change_what_they_name() -> None:
    tones = started("7")
    tones.alter("b", "5", 3)
    tones.alter("#", "9", 5)
    tones.tension("13", 7)
    assert text(tones) == "1 3 b5 b7 #9 13"


def test_a_suspension_takes_the_third_away() -> None:
    tones = started("9")
    tones.suspend("", 2)
    assert text(tones) == "1 4 5 b7 9"
    tones = started("9")
    tones.suspend("2", 2)
    assert text(tones) == "1 2 5 b7", "a ninth would be the same note as the second"


def test_flat_six_is_a_thirteenth_beside_a_seventh() -> None:
    tones = started("m7")
    tones.alter("b", "6", 3)
    assert text(tones) == "1 b3 5 b7 b13"
    tones = started("m")
    tones.alter("b", "6", 2)
    assert text(tones) == "1 b3 5 b6"


def test_an_added_second_or_fourth_lies_an_octave_up() -> None:
    for number, tone in (("2", "9"), ("4", "11"), ("6", "6"), ("13", "13")):
        tones = started("")
        tones.add("", number, 1)
        assert tone in text(tones).split()


def test_a_major_seventh_replaces_none() -> None:
    tones = started("m")
    tones.major_seventh("9", 2)
    assert text(tones) == "1 b3 5 7 9"
    with pytest.raises(ToneError, match="already has a seventh"):
        started("7").major_seventh("7", 2)


def test_tones_left_out() -> None:
    tones = started("7")
    tones.omit("5", 2)
    assert text(tones) == "1 3 b7"
    tones.omit("root", 4)
    assert text(tones) == "3 b7"
    tones.omit("3", 6)
    with pytest.raises(ToneError, match="at least two tones") as caught:
        tones.result()
    assert caught.value.position == 6


@pytest.mark.parametrize(
    ("symbol", "instead"),
    [("C(b7)", "C7"), ("Cm(b7)", "Cm7"), ("C(#7)", "Cmaj7"), ("C(b3)", "Cm"), ("C7(b10)", "C7(#9)")],
)
def test_a_wrong_sign_has_a_right_one(symbol: str, instead: str) -> None:
    with pytest.raises(ChordSymbolError) as caught:
        parse_chord(symbol)
    assert caught.value.hint == f"did you mean {instead}?"


def test_nothing_is_asked_twice() -> None:
    tones = started("7")
    tones.alter("b", "9", 2)
    with pytest.raises(ToneError, match="stands twice") as caught:
        tones.alter("b", "9", 4)
    assert caught.value.position == 4
    tones.suspend("4", 6)
    with pytest.raises(ToneError, match="'sus' stands twice"):
        tones.suspend("4", 9)
