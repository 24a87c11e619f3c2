"""Chords in MusicXML: kinds and degrees, as other readers hear them."""

from __future__ import annotations

import pytest

from genex.export.musicxml import musicxml_text
from genex.export.xml_chords import KINDS, harmony, printed_kind
from genex.score import Score
from genex.theory import parse_chord
from tests.export.builders import fretted, lead, timeline
from tests.export.test_musicxml import read, valid

# Symbols of every family, with what music21 10.5.1 finds in them [package: music21 10.5.1].
SYMBOLS = (
    "C Cm Cdim Caug Csus4 Csus2 C5 C6 Cm6 C7 Cmaj7 Cm7 Cm7b5 Cdim7 Cmmaj7 C9 Cm9 Cmaj9 C11 Cm11 C13 "
    "C7sus4 Cadd9 C7b9 C7#9 C7#11 Cmaj7#11 C7b5 C7#5 C6/9 C/G Bbm7/Ab F#7b9 Ebmaj7 C9sus4 C13b9"
).split()


@pytest.mark.parametrize("symbol", SYMBOLS)
def test_music21_hears_the_chord_in_kind_and_degrees(symbol):
    score = Score("One", "straight", timeline(symbol), (lead([fretted(0, 4, 3, 5)]),))
    text = musicxml_text(score)
    valid(text)
    (found,) = read(text).parts[0].flatten().getElementsByClass("ChordSymbol")
    chord = parse_chord(symbol)
    heard = {pitch.pitchClass for pitch in found.pitches}
    expected = chord.pitch_classes | {chord.bass.pitch_class}
    # music21 10.5.1 leaves out the fifth of an eleventh and thirteenth chord, as players may.
    assert heard in (expected, expected - {(chord.root.pitch_class + 7) % 12}), (heard, expected)


def test_kinds_need_no_degrees_where_musicxml_has_one():
    for symbol, kind in {
        "C": "major", "Dm": "minor", "G7": "dominant", "Fmaj7": "major-seventh", "Am7": "minor-seventh",
        "Bm7b5": "half-diminished", "Bdim7": "diminished-seventh", "Cmmaj7": "major-minor",
        "C6": "major-sixth", "C9": "dominant-ninth", "C13": "dominant-13th", "Csus4": "suspended-fourth",
        "C5": "power", "Caug": "augmented", "C7#5": "augmented-seventh",
    }.items():  # fmt: skip
        assert (harmony(parse_chord(symbol)).kind, harmony(parse_chord(symbol)).changes) == (kind, ())


def test_degrees_count_as_musicxml_counts():
    def changes(symbol: str) -> list[tuple[int, int, str]]:
        return [(c.number, c.alter, c.kind) for c in harmony(parse_chord(symbol)).changes]

    # [published: MusicXML 4.0, degree-alter]
    assert changes("C7sus4") == [(3, 0, "subtract"), (4, 0, "add")]
    assert changes("C7b9") == [(9, -1, "add")]
    assert changes("C7b5") == [(5, -1, "alter")]
    assert changes("C7no5") == [(5, 0, "subtract")]
    assert changes("Cmaj7#11") == [(11, 1, "add")]
    assert "dominant" in KINDS


def test_the_printed_kind_is_what_the_chart_says():
    kinds = [printed_kind(parse_chord(s)) for s in ("Bbm7b5", "F#7", "C6/9", "CΔ/E", "A")]
    assert kinds == ["m7b5", "7", "6/9", "Δ", ""]
