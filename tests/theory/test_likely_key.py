"""The key of a chart that does not say."""

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


def test_a_minor_seventh_chord_at_the_end_says_less_than_a_minor_triad():
    # Dm7 is as often the second chord of C.
    assert str(likely_key(map(parse_chord, ["Dm7", "C"]))) == "C major"
    assert str(likely_key(map(parse_chord, ["Dm", "C"]))) == "D minor"
