"""What is written of a line stays; what is left open is fingered around it."""

from fractions import Fraction as F

import pytest

from genex.errors import LineError
from genex.fretboard import STANDARD, TUNINGS, Wishes
from genex.lines.as_written import OPEN, Written, fingered_as_written
from genex.score import Note
from genex.theory import Pitch


def notes_of(text):
    """``D4 F4+A4``: a quarter each, what is joined by + struck together, the lowest first."""
    return [
        Note(F(onset), F(1), Pitch.parse(name))
        for onset, stroke in enumerate(text.split())
        for name in stroke.split("+")
    ]


def places(text, written=None, tuning=STANDARD, wishes=Wishes()):  # noqa: B008 - a value
    notes = notes_of(text)
    found = fingered_as_written(notes, written or [OPEN] * len(notes), tuning, wishes)
    return [(note.fretting.string, note.fretting.fret, note.fretting.finger) for note in found]


def test_written_strings_and_fingers_are_kept():
    wishes = [Written(4, 2), OPEN, Written(3)]
    found = places("G3 A3 C4", wishes)
    assert found[0] == (4, 5, 2)
    assert found[2][:2] == (3, 5)


def test_a_fingering_that_no_hand_would_choose_is_printed():
    wishes = [Written(1, 1), Written(1, 4), Written(6, 4)]
    assert places("A4 A4 C3", wishes) == [(1, 5, 1), (1, 5, 4), (6, 8, 4)]


@pytest.mark.parametrize("name", ["standard", "drop D", "open G", "ukulele"])
@pytest.mark.parametrize("chord", ["C4+E4", "G4+B4", "A4+C5", "E4+C5"])
def test_double_stops_lie_under_one_hand_in_any_tuning(name, chord):
    neck = TUNINGS[name]
    (a, b) = places(chord, tuning=neck)
    assert a[0] != b[0]
    for (string, fret, _), pitch in zip((a, b), chord.split("+"), strict=True):
        assert neck.open_midi[string - 1] + fret == Pitch.parse(pitch).midi
    if a[1] and b[1]:
        assert abs(a[1] - b[1]) <= 4
        assert a[2] != b[2] or a[1] == b[1]


def test_a_wished_position_holds_for_chords_too():
    found = places("E4+G4 F4+A4 G4+B4", wishes=Wishes(position=7))
    assert all(6 <= fret <= 12 for _, fret, _ in found)


def test_what_cannot_be_held_is_told():
    with pytest.raises(LineError, match="C4 and C#4 cannot be held together"):
        places("C4+C#4", [Written(2), Written(2)])
    with pytest.raises(LineError, match="C4 is struck twice at a time"):
        places("C4+C4")
    with pytest.raises(LineError, match="cannot be held together"):
        places("+".join(f"C{octave}" for octave in (3, 4, 5)) + "+D3+D4+D5+E3+E4+E5")
    with pytest.raises(LineError, match="E2 does not lie on string 1") as refused:
        places("E2", [Written(1)])
    assert "string 6 fret 0" in (refused.value.hint or "")
