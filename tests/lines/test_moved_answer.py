"""Phrases taken to the next chord, as a teacher writes them on the board. [common practice]"""

from fractions import Fraction

import pytest

from genex.lines.moved_answer import answer_over
from genex.lines.vocabulary import Kind
from genex.score import Note
from genex.theory import Degree, Pitch, find_scale, parse_chord

C, S, A, U, L = Kind.CHORD, Kind.SCALE, Kind.APPROACH, Kind.ENCLOSE_ABOVE, Kind.ENCLOSE_BELOW


def moved(old, new, scale, notes, kinds, allowed=range(40, 90)):
    written = [
        Note(Fraction(n), Fraction(1), Pitch.parse(name), 80, degree=Degree.parse(degree))
        for n, (name, degree) in enumerate(notes)
    ]
    found = answer_over(
        written, kinds, (parse_chord(old), parse_chord(new)), find_scale(scale), 5, allowed
    )
    return None if found is None else " ".join(f"{n.pitch}:{n.degree}" for n in found)


@pytest.mark.parametrize(
    ("old", "new", "scale", "notes", "kinds", "answer"),
    [
        ("Dm7", "G7", "mixolydian", [("D4", "1"), ("F4", "b3"), ("C5", "b7")], (C, C, C),
         "G4:1 B4:3 F5:b7"),
        ("Cm7", "F7", "mixolydian", [("Eb4", "b3"), ("D4", "2"), ("C4", "1")], (C, S, C),
         "A4:3 G4:2 F4:1"),
        ("Cmaj7", "Am7", "natural minor", [("D#4", "#2"), ("E4", "3")], (A, C), "B3:2 C4:b3"),
        ("Cmaj7", "A7", "phrygian dominant", [("F4", "4"), ("D#4", "#2"), ("E4", "3")], (U, L, C),
         "D4:4 B#3:#2 C#4:3"),
        ("C", "Gm", "dorian", [("C4", "1"), ("G4", "5")], (C, C), "G3:1 D4:5"),
    ],
)  # fmt: skip
def test_degree_for_degree(old, new, scale, notes, kinds, answer):
    assert moved(old, new, scale, notes, kinds) == answer


def test_what_has_no_counterpart_or_no_room_has_no_answer():
    notes = [("C4", "1"), ("B4", "7")]
    assert moved("Cmaj7", "G", "major", notes, (C, C)) is None
    assert moved("Cmaj7", "G7", "mixolydian", notes, (C, C), allowed=range(60, 66)) is None
    up = moved("Cmaj7", "G7", "mixolydian", notes, (C, C), allowed=range(60, 90))
    assert up == "G4:1 F5:b7", "the longer way has room"
