"""Numbers in a line of MusicXML [published: MusicXML 4.0, ``alter`` and ``chromatic`` are decimals]."""

from __future__ import annotations

import pytest

from genex.errors import ChartFileError
from genex.readers.lines.musicxml_line import read_musicxml_line
from genex.score import Meter


def first_pitch(alter: str, octave: str = "4", chromatic: str = "0") -> str:
    text = f"""<score-partwise><part id="P1"><measure number="1">
    <attributes><divisions>1</divisions><transpose><chromatic>{chromatic}</chromatic></transpose>
    </attributes><note><pitch><step>C</step><alter>{alter}</alter><octave>{octave}</octave></pitch>
    <duration>4</duration></note></measure></part></score-partwise>"""
    (one,) = read_musicxml_line(text.encode(), "line.musicxml", (Meter(4, 4),)).notes
    return str(one.note.pitch)


@pytest.mark.parametrize(
    ("alter", "chromatic", "pitch"),
    [
        ("1", "0", "C#4"),
        ("1.0", "0", "C#4"),
        ("-1.0", "0", "Cb4"),
        ("0", "-2.0", "Bb3"),
        ("--1", "0", "C4"),
    ],
)
def test_a_whole_number_may_be_written_with_decimals(alter, chromatic, pitch):
    assert first_pitch(alter, chromatic=chromatic) == pitch


@pytest.mark.parametrize("octave", ["--5", "", "4.5"])
def test_what_is_no_octave_is_refused(octave):
    with pytest.raises(ChartFileError, match="this is no pitch"):
        first_pitch("0", octave)
