"""The key of a chart that does not say."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from genex.theory import parse_chord
from genex.theory.likely_key import likely_key


@pytest.mark.parametrize(
    ("chart", "key"),
    # [common practice]
    [
        ("Dm7 G7 Cmaj7", "C major"),
        ("Gm7 C7 Fmaj7 D7b9", "F major"),
        ("Am7b5 D7b9 Gm", "G minor"),
        ("Gm7 Am7b5 D7b9 Gm7", "G minor"),
        ("A7 D7 A7 E7 D7 A7", "A major"),
        ("C G Am F", "C major"),
        ("Am F C G Am", "A minor"),
        ("D A Bm G", "D major"),
        ("Ebmaj7 Ab7", "Eb major"),
        ("Bb7 Eb7 Bb7 Bb7 Eb7 Eb7 Bb7 Bb7 F7 Eb7 Bb7 F7", "Bb major"),
        ("A7 D7 A7 A7 D7 D7 A7 A7 E7 D7 A7 E7", "A major"),
        ("E7 E7 A7 E7 B7 A7 E7 B7", "E major"),
        ("Am7 D7", "G major"),
        ("Dm7 G7", "C major"),
        ("Em7 A7", "D major"),
        ("Fm7 Bb7", "Eb major"),
        ("C F", "C major"),
        ("G C D C", "G major"),
        ("G D Em C", "G major"),
        ("Cm Fm G7 Cm", "C minor"),
        ("F#m B7 E", "E major"),
        ("Am7 Fmaj7 Bm7b5 E7", "A minor"),
        ("Bm7b5 E7", "A minor"),
        ("Dm11 A7#5", "D minor"),
        ("Fmaj9 Em7 A7#5 Dm11 G9sus G7", "C major"),
        ("Am7 D7 Gmaj7 Cmaj7 F#m7b5 B7 Em Em", "E minor"),
        ("E5 D5 A5 C5 B5", "E minor"),
        ("", "C major"),
    ],
)
def test_keys(chart, key):
    assert str(likely_key(parse_chord(symbol) for symbol in chart.split())) == key


def test_of_equal_keys_the_one_with_fewer_accidentals():
    # C5 is at home in C major and, with three flats, in C minor.
    assert str(likely_key([parse_chord("C5")])) == "C major"


_CSV = Path(__file__).parent.parent / "data" / "keys.csv"
_ROWS = list(csv.DictReader(_CSV.read_text(encoding="utf-8").splitlines()[1:], delimiter=";"))


def _chords(chart: str) -> list:
    symbols: list[str] = []
    for symbol in chart.replace("|", " ").split():
        symbols.append(symbols[-1] if symbol == "%" else symbol)
    return [parse_chord(symbol) for symbol in symbols]


@pytest.mark.parametrize("row", _ROWS, ids=[row["chart"] for row in _ROWS])
def test_key_of_the_check_file(row: dict[str, str]) -> None:
    assert str(likely_key(_chords(row["chart"]))) in row["key"].split(" or ")


# Pop, folk, jazz, blues, minor and modal loops with the keys that a musician gives them
# [common practice]; where more than one stands, players would argue.
_LOOPS = """
C F G C; C major
G C D G; G major
D G A D; D major
A D E A; A major
E A B E; E major
F Bb C F; F major
Bb Eb F Bb; Bb major
C G F C; C major
G D Em C; G major
Em C G D; E minor or G major
Am G F G; A minor or C major
Am F G; A minor or C major
Dm Bb F C; D minor or F major
C Am F G; C major
A F#m D E; A major
C Em F G; C major
C E7 Am F C G; C major
G B7 C Cm G; G major
F C Dm Bb; F major
F A7 Dm Bb C7 F; F major
Am E7 Am Dm E7 Am; A minor
Em Am B7 Em; E minor
Dm Gm A7 Dm; D minor
Am G F E; A minor
Am G F E7 Am; A minor
Cm Ab Bb Cm; C minor
Cm Fm Bb Eb; C minor or Eb major
Bm G D A; B minor or D major
F#m D A E; F# minor or A major
G C G D G; G major
D A7 D G D A7 D; D major
C C7 F Fm C G7 C; C major
Cmaj7 Am7 Dm7 G7; C major
Fmaj7 Dm7 Gm7 C7; F major
Ebmaj7 Cm7 Fm7 Bb7; Eb major
Dm7 Db7 Cmaj7; C major
Fm7 Bb7 Ebmaj7; Eb major
Bbm7 Eb7 Abmaj7 Dbmaj7; Ab major
Em7b5 A7b9 Dm7; D minor
Bm7b5 E7 Am7 Am7; A minor
F7 Bb7 F7 F7 Bb7 Bb7 F7 F7 C7 Bb7 F7 C7; F major
G7 C7 G7 D7; G major
C7 F7 C7 Gm7 C7 F7 F#dim7 C7 A7 Dm7 G7 C7 A7 Dm7 G7; C major
Cm7 Fm7 Cm7 Ab7 G7 Cm7; C minor
Am7 Dm7 Am7 F7 E7 Am7; A minor
Gm6 Cm6 Gm6 D7 Gm6; G minor
Dm7 Em7; D dorian
Em7 A Em7 A; E dorian
Am Bm Am Bm; A dorian
Gm C Gm C; G dorian
Fm7; F dorian
Dm7 Ebm7 Dm7; D dorian
A G D A; A mixolydian
G F C G; G mixolydian
E D A E; E mixolydian
C Bb F C; C mixolydian
Em F Em F; E phrygian
Am Bb Am Bb; A phrygian
Cmaj7 D Cmaj7 D; C lydian or G major
Bb G7 Cm7 F7 Bb G7 Cm7 F7 D7 G7 C7 F7; Bb major
Bbmaj7 Gm7 Cm7 F7 Dm7 G7 Cm7 F7; Bb major
Cmaj7 Fmaj7 Bm7b5 E7 Am7 D7 Dm7 G7; C major
Abmaj7 Fm7 Bbm7 Eb7; Ab major
C#m7 F#7 Bmaj7; B major
Dbmaj7 Bbm7 Ebm7 Ab7; Db major
F#maj7 D#m7 G#m7 C#7; F# major
Gbmaj7 Ebm7 Abm7 Db7; Gb major
C G Bb F; C major or F major or C mixolydian
C D F C; C major or C lydian
C Ab Bb C; C major
Fmaj7 Fm7 Cmaj7 Cmaj7; C major
Fm7 Bb7 Cmaj7 Cmaj7; C major
Cm Cm(maj7) Cm7 Cm6; C minor or C dorian
C Ebdim7 Dm7 G7; C major
Gmaj7 Gm7 C7 Fmaj7 Fm7 Bb7 Ebmaj7 Am7b5 D7; G major
Bmaj7 D7 Gmaj7 Bb7 Ebmaj7 Am7 D7 Gmaj7 Bb7 Ebmaj7 F#7 Bmaj7; B major
E5 G5 A5; E minor or E dorian
A5 G5 D5 A5; A mixolydian or A minor or A dorian or A major
G6 E7 Am7 D7; G major
D6 B7 E7 A7; D major
Am Am/G Am/F# F E7; A minor
C C/B Am Am/G F G C; C major
Esus4 E Asus4 A Dsus2 E; A major or E mixolydian or E major
"""
_LOOP_CASES = [tuple(cell.strip() for cell in line.split(";")) for line in _LOOPS.strip().splitlines()]


@pytest.mark.parametrize(("chart", "keys"), _LOOP_CASES, ids=[case[0] for case in _LOOP_CASES])
def test_keys_of_loops(chart: str, keys: str) -> None:
    assert str(likely_key(_chords(chart))) in keys.split(" or ")


def test_keys_are_found_by_sound_and_spelled_with_few_accidentals() -> None:
    for chart in ("Dbm7 Gb7 Bmaj7 Bmaj7", "C#m7 F#7 Bmaj7 Bmaj7", "Dbm7 F#7 Cbmaj7 Cbmaj7"):
        assert str(likely_key(_chords(chart))) == "B major"
    assert str(likely_key(_chords("Ebm7 Ab7 Dbmaj7"))) == "Db major"
    assert str(likely_key(_chords("F#maj7 C#7"))) == "F# major"
    assert str(likely_key(_chords("Gbmaj7 Db7"))) == "Gb major"
