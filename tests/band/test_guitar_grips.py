"""Chords under one hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.band.guitar_grips import fingers_needed, grips, is_playable
from genex.fretboard import STANDARD, Hand, tuning
from genex.theory import Pitch


def frets(shape: str) -> dict[int, int]:
    """Frets from string 6 to string 1 as chord boxes write them: ``x32010``."""
    return {6 - index: int(sign) for index, sign in enumerate(shape) if sign != "x"}


# Shapes every chord book has, and the fewest fingers that hold them [common practice]
@pytest.mark.parametrize(
    ("name", "shape", "fingers"),
    [
        ("C", "x32010", 3),
        ("G", "320003", 3),
        ("D", "xx0232", 2),
        ("Em", "022000", 1),
        ("A7, an open string between", "x02020", 2),
        ("F with a barre", "133211", 4),
        ("B7", "x21202", 4),
        ("Gm7 with a barre", "353333", 2),
        ("Dm7 drop 2", "x5756x", 3),
        ("Fmaj7 drop 3", "1x221x", 4),
        ("G7 shell", "3x34xx", 3),
        ("A power chord", "577xxx", 3),
        ("Cmaj7 drop 2 on strings 4 to 1", "xx5557", 2),
    ],
)
def test_shapes_from_chord_books_are_playable(name, shape, fingers):
    assert is_playable(frets(shape)), name
    assert fingers_needed(frets(shape)) == fingers


@pytest.mark.parametrize(
    ("why", "shape"),
    [
        ("six frets apart", "1xxxx7"),
        ("five fingers without a barre", "x21343"),
        ("two strings between to keep quiet", "3xx03x"),
        ("an open string below cannot be muted by a finger", "x0x2xx"),
        ("an open string far up the neck", "x0x9xx"),
        ("four frets and a half at the nut", "1xx5xx"),
        ("open strings with a high hand", "x79800"),
        ("no string at all", "xxxxxx"),
    ],
)
def test_what_no_hand_can_hold_is_refused(why, shape):
    assert not is_playable(frets(shape)), why


def test_reach_is_a_matter_of_millimetres():
    # 97 mm from fret 1 to 4 and 52 mm from 12 to 15 at a scale of 648 mm [computed]
    assert is_playable({5: 1, 4: 4})
    assert not is_playable({5: 1, 4: 5})
    assert is_playable({5: 8, 4: 12})
    assert not is_playable({5: 1, 4: 4}, hand=Hand.SMALL)


@given(st.lists(st.integers(40, 76), min_size=1, max_size=6, unique=True))
def test_grips_sound_the_pitches_on_one_string_each(midi):
    pitches = tuple(Pitch.from_midi(number) for number in sorted(midi))
    for grip in grips(pitches):
        sounding = [STANDARD.open_midi[place.string - 1] + place.fret for place in grip]
        assert sounding == [pitch.midi for pitch in pitches]
        assert is_playable({place.string: place.fret for place in grip})
        assert len({place.string for place in grip}) == len(grip)


def test_grips_know_the_tuning():
    d5 = tuple(Pitch.parse(name) for name in ("D2", "A2", "D3"))
    assert not list(grips(d5))
    assert list(grips(d5, tuning("drop D")))
