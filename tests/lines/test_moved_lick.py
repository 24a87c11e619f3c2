"""A lick moved from chord to chord by degree, as teachers move it [common practice]."""

from fractions import Fraction as F

import pytest

from genex.lines.moved_lick import moved_lick
from genex.score import Note
from genex.theory import Pitch, find_scale, parse_chord


def moved(names, source, target):
    notes = [Note(F(n), F(1), Pitch.parse(name)) for n, name in enumerate(names.split())]
    found = moved_lick(notes, *((parse_chord(c), find_scale(s)) for c, s in (source, target)))
    return " ".join(str(note.pitch) for note in found), " ".join(str(note.degree) for note in found)


DM7, G7, CMAJ7 = ("Dm7", "dorian"), ("G7", "mixolydian"), ("Cmaj7", "major")


@pytest.mark.parametrize(
    ("names", "source", "target", "pitches", "degrees"),
    [
        ("D4 F4 A4 C5", DM7, G7, "G4 B4 D5 F5", "1 3 5 b7"),
        ("D4 F4 A4 C5", DM7, CMAJ7, "C4 E4 G4 B4", "1 3 5 7"),
        ("E4 F4", DM7, ("E7", "phrygian dominant"), "F4 G#4", "b2 3"),  # the second of its scale
        ("C#4 D4", DM7, G7, "F#4 G4", "7 1"),  # what leads up by a half step still does
        ("G#4 A4", DM7, ("Bm7b5", "locrian"), "E4 F4", "4 b5"),
        ("C5 B4 Bb4", DM7, CMAJ7, "B4 A4 Ab4", "7 6 b6"),  # passes as far from the note before
        ("G4 B4 D5 F5", G7, ("C6", "major"), "C5 E5 G5 A5", "1 3 5 6"),  # there is no seventh
        ("G4 B4 D5", G7, ("Fsus4", "mixolydian"), "F4 Bb4 C5", "1 4 5"),  # nor a third
        ("D4 F4 A4", DM7, DM7, "D4 F4 A4", "1 b3 5"),
    ],
)
def test_degree_for_degree(names, source, target, pitches, degrees):
    assert moved(names, source, target) == (pitches, degrees)


def test_the_root_goes_the_shorter_way():
    assert moved("C4", CMAJ7, ("Gm7", "dorian"))[0] == "G3"
    assert moved("C4", CMAJ7, ("Fmaj7", "lydian"))[0] == "F4"
