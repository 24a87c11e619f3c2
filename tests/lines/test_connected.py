"""Hammer-ons and pull-offs lie on one string, under fingers that can play them."""

from fractions import Fraction as F
from itertools import pairwise

import pytest

from genex.errors import LineError
from genex.fretboard import STANDARD, Wishes
from genex.lines.as_written import OPEN
from genex.lines.connected import played_as_written
from genex.score import Bend, Legato, Note
from genex.theory import Pitch


def played(names, connections, position=5, **how):
    notes = [Note(F(n), F(1), Pitch.parse(name), **how) for n, name in enumerate(names.split())]
    wanted = [{"-": "", "s": "slur", "h": "hammer-on", "p": "pull-off"}[one] for one in connections]
    written = [OPEN] * len(notes)
    return played_as_written(notes, written, wanted, F(8), STANDARD, Wishes(position))


def test_what_is_connected_lies_on_one_string_under_different_fingers():
    notes = played("A3 C4 D4 C4", "--sp")
    assert [note.legato for note in notes] == [None, None, Legato.HAMMER_ON, Legato.PULL_OFF]
    strings = [note.fretting.string for note in notes]
    assert len(set(strings[1:])) == 1
    for before, note in pairwise(notes[1:]):
        assert before.fretting.finger != note.fretting.finger
    assert notes[2].velocity < notes[1].velocity  # it is not struck


def test_under_a_slur_notes_on_two_strings_are_struck():
    notes = played("A3 E4 A4", "-ss")
    assert [note.legato for note in notes] == [None, None, None]


@pytest.mark.parametrize(
    ("names", "connections", "said"),
    [
        ("C4 D4", "-p", "D4 is no pull-off"),
        ("D4 C4", "-h", "C4 is no hammer-on"),
        ("C4 A4", "-h", "A4 is no hammer-on"),
        ("C4 C4", "-h", "C4 is no hammer-on"),
    ],
)
def test_what_no_hand_can_do_is_refused(names, connections, said):
    with pytest.raises(LineError, match=said):
        played(names, connections)


def test_an_open_string_cannot_be_bent():
    with pytest.raises(LineError, match="E4 lies on an open string"):
        played("E4", "-", position=1, bend=Bend(2))


def test_notes_ring_until_their_string_is_struck_again():
    notes = played("A3 C4 E4 A3", "----", rings=True)
    assert [note.sounding_beats for note in notes] == [3, 7, 6, 5]
