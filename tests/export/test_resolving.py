"""Guide tones that go into the next chord, and where a line plays that."""

from __future__ import annotations

from dataclasses import replace

from genex.export.resolving import resolving_notes, voices
from genex.score import Note, Part, Role
from genex.theory import Pitch, parse_chord
from tests.export.builders import beats, timeline


def line(*pitches: str, chords: str = "G7 | Cmaj7", role: Role = Role.EXERCISE) -> Part:
    """Half notes, two a chord, with the degree that each has there."""
    over = [parse_chord(symbol) for symbol in chords.split(" | ")]
    notes = []
    for at, name in enumerate(pitches):
        pitch = Pitch.parse(name)
        note = Note(beats(2 * at), beats(2), pitch)
        notes.append(replace(note, degree=over[at // 2].degree_of(pitch.midi)))
    return Part.of("line", role, 26, notes)


def test_the_seventh_falls_to_the_third_and_the_third_stays_where_roots_fall_by_a_fifth() -> None:
    """[common practice]"""
    told = {(str(a), str(b)): step for a, b, step in voices(parse_chord("G7"), parse_chord("Cmaj7"))}
    assert told == {("b7", "3"): -1, ("3", "7"): 0}


def test_a_line_that_plays_it_has_the_one_that_goes_and_the_one_that_comes() -> None:
    over = timeline("G7 | Cmaj7")
    assert resolving_notes(line("B3", "F4", "E4", "C4"), over) == {beats(2): "goes", beats(4): "comes"}
    # In another octave it is a leap, and a tone that stays goes nowhere.
    assert resolving_notes(line("B3", "F4", "E3", "C4"), over) == {}
    assert resolving_notes(line("D4", "B3", "B3", "C4"), over) == {}
    assert resolving_notes(line("B3", "F4", "E4", "C4", role=Role.GUIDE), over) == {}
