"""Open and barre chords, against what every method prints."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.fretboard import STANDARD, TUNINGS, Grip, Hand, every_grip, grips_of
from genex.theory import Degree, parse_chord

OPEN = """
    C x32010   A x02220   G 320003   E 022100   D xx0232   Am x02210   Em 022000   Dm xx0231
    A7 x02020  B7 x21202  C7 x32310  D7 xx0212  E7 020100  G7 320001
    Cmaj7 x32000  Dmaj7 xx0222  Amaj7 x02120  Fmaj7 xx3210  Am7 x02010  Em7 020000  Dm7 xx0211
    Asus2 x02200  Asus4 x02230  Dsus4 xx0233  Dsus2 xx0230  Esus4 022200  D/F# 200232  G/B x20003
"""
"""The chords at the nut of any method [common practice]."""

BARRE = """
    F 133211  Fm 133111  F7 131211  Fm7 131111  Fmaj7 132211
    Bb x13331 Bbm x13321 Bb7 x13131 Bbm7 x13121 Bbmaj7 x13231
    C#m x46654  F#m 244222  B x24442  Ab 466544  Gm7 353333  C7sus4 x35363
"""
"""The E and A forms moved up the neck under a barre [common practice]."""


def rows(table: str) -> list[tuple[str, str]]:
    words = table.split()
    return list(zip(words[::2], words[1::2], strict=True))


def written(grip: Grip) -> str:
    return "".join(str(grip.held.frets.get(string, "x")) for string in range(6, 0, -1))


@pytest.mark.parametrize(("symbol", "frets"), rows(OPEN))
def test_open_chords_of_every_method(symbol: str, frets: str) -> None:
    if symbol in ("Asus2", "G/B"):
        # Both are printed in several ways: all strings that may ring do here.
        (found,) = grips_of(parse_chord(symbol), STANDARD, "open")
        assert 0 in found.held.frets.values()
        return
    assert [written(grip) for grip in grips_of(parse_chord(symbol), STANDARD, "open")] == [frets]


@pytest.mark.parametrize(("symbol", "frets"), rows(BARRE))
def test_barre_chords_of_every_method(symbol: str, frets: str) -> None:
    assert frets in [written(grip) for grip in grips_of(parse_chord(symbol), STANDARD, "barre")]


def test_chords_without_an_open_form_have_none() -> None:
    for symbol in ("F#m", "Bb", "Ab7", "Cm7", "Eb"):
        assert list(every_grip(parse_chord(symbol), STANDARD, ["open"])) == [], symbol


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from("C C# D Eb E F F# G Ab A Bb B".split()),
    st.sampled_from(["", "m", "7", "m7", "maj7", "sus4", "6", "m6", "9", "dim7", "m7b5", "7b9", "add9"]),
    st.sampled_from(["open", "barre"]),
    st.sampled_from(["standard", "ukulele", "open G", "DADGAD", "seven-string", "baritone guitar"]),
    st.sampled_from(Hand),
)
def test_what_is_strummed(root: str, quality: str, kind: str, tuning: str, hand: Hand) -> None:
    chord, neck = parse_chord(root + quality), TUNINGS[tuning]
    for grip in every_grip(chord, neck, [kind], hand=hand):
        held, strings = grip.held, sorted(grip.strings)
        assert strings == list(range(1, len(strings) + 1)), "no string inside is muted"
        sounding = set(grip.degrees.values())
        assert set(chord.guide_tones) - {Degree(5)} <= sounding
        if len(chord.degrees) == 3:
            assert sounding == set(chord.degrees)
        stopped = [fret for fret in held.frets.values() if fret]
        if stopped:
            assert neck.fret_mm(max(stopped)) - neck.fret_mm(min(stopped)) <= hand.reach_mm
        if kind == "open":
            assert 0 in held.frets.values() and max(held.frets.values()) <= 4
        else:
            (bar,) = [barre for barre in held.barres if barre.finger == 1]
            assert (bar.low_string, bar.high_string) == (max(strings), 1)
        if tuning != "ukulele":
            assert grip.pitches[0].pitch_class == chord.bass.pitch_class
