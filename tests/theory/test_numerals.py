"""Numerals written and read back, against music21's Roman numerals, and keys in the modes."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import chord as m21_chord
from music21 import key as m21_key
from music21 import roman as m21_roman
from music21 import scale as m21_scale

from genex.theory import Key, Place, all_keys, analyse, chord_from_numeral, numeral, parse_chord
from genex.theory.key import MODES
from genex.theory.qualities import QUALITIES

_ROOTS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
_PLAIN = [quality for quality in QUALITIES if quality not in ("sus2/4",)]
_CHORDS = st.builds(
    lambda root, quality: parse_chord(
        root + (f"({quality})" if quality[:1] in "b#" and quality else quality)
    ),
    st.sampled_from(_ROOTS),
    st.sampled_from(_PLAIN),
)
_MODAL = [
    Key.parse(text) for text in ("D dorian", "G mixolydian", "F lydian", "E phrygian", "B locrian")
]


@given(_CHORDS, st.sampled_from([*all_keys(), *_MODAL]))
@settings(deadline=None, max_examples=400)
def test_a_numeral_is_read_back_as_the_chord(chord, key: Key) -> None:
    again = chord_from_numeral(numeral(chord, key), key)
    assert again.root.pitch_class == chord.root.pitch_class
    assert again.degrees == chord.degrees


@pytest.mark.parametrize(
    ("symbol", "key", "expected"),
    # [common practice]
    [
        ("G/B", "C", "V6"),
        ("C/G", "C", "I64"),
        ("G7/F", "C", "V42"),
        ("Bm7b5/D", "C", "viiø65"),
        ("F/G", "C", "IV/5"),
        ("Am/G", "C", "vi42"),
        ("C/Bb", "C", "I/b7"),
        ("Ab", "C minor", "VI"),
        ("Bdim7", "C minor", "vii°7"),
        ("Am7b5", "C minor", "viø7"),
        ("Ab", "C", "bVI"),
        ("F#m7b5", "C", "#ivø7"),
        ("Gb7", "C", "bV7"),
        ("C", "D dorian", "bVII"),
        ("G7", "D dorian", "IV7"),
        ("C6", "C", "Iadd6"),
        ("Caug", "C", "I+"),
    ],
)
def test_numerals_as_musicians_write_them(symbol: str, key: str, expected: str) -> None:
    assert numeral(parse_chord(symbol), Key.parse(key)) == expected


def _m21_name(note: object) -> str:
    return str(note).replace("b", "-")


@pytest.mark.parametrize("key", [key for key in all_keys() if abs(key.fifths) <= 6], ids=str)
def test_diatonic_numerals_agree_with_music21(key: Key) -> None:
    """Degree, case and quality of the triads and sevenths of every key [package: music21 10.5.1]."""
    their_key = m21_key.Key(_m21_name(key.tonic), key.mode)
    for number in range(7):
        for thirds in (3, 4):
            names = [key.scale[(number + 2 * step) % 7] for step in range(thirds)]
            theirs = m21_roman.romanNumeralFromChord(
                m21_chord.Chord(
                    [f"{_m21_name(name)}{4 if i == 0 else 5}" for i, name in enumerate(names)]
                ),
                their_key,
            )
            suffixes = ["", "m", "dim"] if thirds == 3 else ["maj7", "m7", "7", "m7b5"]
            ours = next(
                chord
                for suffix in suffixes
                if (chord := parse_chord(f"{names[0]}{suffix}")).pitch_classes
                == {name.pitch_class for name in names}
            )
            text = numeral(ours, key)
            assert text.rstrip("majø°7") == theirs.romanNumeralAlone, (text, theirs.figure)


@pytest.mark.parametrize("mode", ["dorian", "phrygian", "lydian", "mixolydian", "locrian"])
@pytest.mark.parametrize("tonic", ["C", "D", "Eb", "F#", "A"])
def test_modes_agree_with_music21(mode: str, tonic: str) -> None:
    """Notes and signature of a mode [package: music21 10.5.1]."""
    try:
        key = Key.parse(f"{tonic} {mode}")
    except Exception as error:  # seven signs are the limit
        assert "accidentals" in str(error)
        return
    kind = getattr(m21_scale, f"{mode.capitalize()}Scale")
    theirs = [p.name for p in kind(_m21_name(tonic)).getPitches()][:7]
    assert [_m21_name(note) for note in key.scale] == theirs
    assert key.fifths == m21_key.Key(_m21_name(tonic), mode).sharps


@pytest.mark.parametrize("mode", MODES)
def test_the_signature_of_a_mode_is_that_of_a_plain_key(mode: str) -> None:
    key = Key.parse(f"D {mode}")
    plain = key.signature
    assert plain.mode in ("major", "minor")
    assert plain.fifths == key.fifths
    assert plain.mode == key.plain_mode
    assert {note.pitch_class for note in plain.scale} == {note.pitch_class for note in key.scale}
    assert key.relative.fifths == key.fifths


def test_secondary_dominants_are_read_back() -> None:
    for text in ("V7/ii", "V7/iii", "V7/IV", "V7/V", "V7/vi", "V/V", "V7b9/ii"):
        key = Key.parse("Eb")
        chord = chord_from_numeral(text, key)
        target = chord_from_numeral(text.partition("/")[2], key)
        found = analyse([Place(chord), Place(target)], key).readings[0]
        assert found.numeral == text
        assert found.function == "secondary dominant"
