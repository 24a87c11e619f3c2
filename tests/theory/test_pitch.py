"""Pitch, note name, degree and interval arithmetic."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import NotationError
from genex.theory import Degree, Interval, NoteName, Pitch
from genex.theory.pitch import accidental_text

_NAMES = st.builds(NoteName, st.integers(0, 6), st.integers(-2, 2))
_PITCHES = st.builds(Pitch, _NAMES, st.integers(-1, 9))
_DEGREES = st.builds(Degree, st.integers(1, 13), st.integers(-2, 2))


# [published: scientific pitch notation and MIDI key numbers]
@pytest.mark.parametrize(
    ("text", "midi"),
    [
        ("A4", 69),
        ("C4", 60),
        ("E2", 40),
        ("B#3", 60),
        ("Cb4", 59),
    ],
)
def test_midi_numbers(text: str, midi: int) -> None:
    assert Pitch.parse(text).midi == midi


@given(_PITCHES)
def test_pitches_are_read_as_they_are_written(pitch: Pitch) -> None:
    assert Pitch.parse(str(pitch)) == pitch
    assert NoteName.parse(str(pitch.name)) == pitch.name


@given(_DEGREES)
def test_degrees_are_read_as_they_are_written(degree: Degree) -> None:
    assert Degree.parse(str(degree)) == degree
    assert degree.simple.semitones % 12 == degree.semitones % 12
    assert 1 <= degree.simple.number <= 7


@given(_PITCHES, st.integers(-14, 14), st.integers(-24, 24))
def test_an_interval_up_and_down_again(pitch: Pitch, steps: int, semitones: int) -> None:
    interval = Interval(steps, semitones)
    moved = pitch.transpose(interval)
    assert moved.midi == pitch.midi + semitones
    assert moved.transpose(-interval) == pitch
    assert pitch.name.transpose(interval) == moved.name


@given(_NAMES, st.integers(0, 127))
def test_nearest_pitches_of_a_name(name: NoteName, midi: int) -> None:
    above, below, near = name.at_or_above(midi), name.at_or_below(midi), name.nearest(midi)
    assert midi <= above.midi < midi + 12
    assert midi - 12 < below.midi <= midi
    assert abs(near.midi - midi) == min(above.midi - midi, midi - below.midi)


@pytest.mark.parametrize("text", ["H", "Cbbbb", "C#b", "", "c d"])
def test_no_note_names(text: str) -> None:
    with pytest.raises(NotationError):
        NoteName.parse(text)


@pytest.mark.parametrize("text", ["0", "16", "b", "bbb3", "x"])
def test_no_degrees(text: str) -> None:
    with pytest.raises(NotationError):
        Degree.parse(text)


def test_plain_spellings() -> None:
    # [common practice]
    sharps, flats = (
        "C4 C#4 D4 D#4 E4 F4 F#4 G4 G#4 A4 A#4 B4",
        "C4 Db4 D4 Eb4 E4 F4 Gb4 G4 Ab4 A4 Bb4 B4",
    )
    assert " ".join(str(Pitch.from_midi(midi)) for midi in range(60, 72)) == sharps
    assert " ".join(str(Pitch.from_midi(midi, flats=True)) for midi in range(60, 72)) == flats
    assert (str(Pitch.from_midi(0)), str(Pitch.from_midi(127))) == ("C-1", "G9")


def test_accidentals_are_written_as_often_as_they_alter() -> None:
    assert [accidental_text(alter) for alter in (-2, -1, 0, 1, 2)] == ["bb", "b", "", "#", "##"]
