"""Numerals against music21 10.5.1 (tests/data/roman.csv), and what players write besides."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import NotationError
from genex.theory import (
    Key,
    all_keys,
    chord_from_numeral,
    interval_between,
    is_numeral,
    parse_chord,
    parse_progression,
)

_CSV = Path(__file__).parent.parent / "data" / "roman.csv"
_ROWS = list(csv.DictReader(_CSV.read_text(encoding="utf-8").splitlines()))
_TRAP = "bIII"


def key_of(row: dict[str, str]) -> Key:
    return Key.parse(row["key"])


def is_trap(row: dict[str, str]) -> bool:
    """music21 lowers the minor third once more for bIII in minor; players mean III by it."""
    return row["figure"] == _TRAP and row["key"].endswith("minor")


def test_every_numeral_of_the_check_file() -> None:
    assert len(_ROWS) == 562
    assert sum(map(is_trap, _ROWS)) == 8
    for row in _ROWS:
        if is_trap(row):
            continue
        chord = chord_from_numeral(row["figure"], key_of(row))
        assert {str(note) for note in chord.notes} == set(row["spelling"].split()), row
        assert (str(chord.root), str(chord.bass)) == (row["root"], row["bass"]), row


@pytest.mark.parametrize("row", list(filter(is_trap, _ROWS)), ids=lambda row: row["key"])
def test_flat_three_in_minor_is_three(row: dict[str, str]) -> None:
    key = key_of(row)
    assert chord_from_numeral(_TRAP, key) == chord_from_numeral("III", key)


@pytest.mark.parametrize(
    ("key", "numeral", "symbol"),
    [
        ("C", "I7", "C7"),
        ("C", "bVII7", "Bb7"),
        ("C", "♭VI", "Ab"),
        ("C", "#ivo7", "F#dim7"),
        ("C", "viiø", "Bm7b5"),
        ("C", "V7b9", "G7b9"),
        ("C", "V7(b9,b13)", "G7(b9,b13)"),
        ("C", "V7sus4", "G7sus4"),
        ("C", "V+", "Gaug"),
        ("C", "IVmin7", "Fm7"),
        ("C", "iimin7", "Dm7"),
        ("C", "viidim7", "Bdim7"),
        ("C", "IIm7", "Dm7"),
        ("C", "ii-7", "Dm7"),
        ("C", "IMaj7", "Cmaj7"),
        ("C", "I6/9", "C6/9"),
        ("C", "Iadd6", "C6"),
        ("C", "I65", "Cmaj7/E"),
        ("C", "V6/5", "G7/B"),
        ("C", "viiø65", "Bm7b5/D"),
        ("C", "IV/5", "F/G"),
        ("C", "V7/V/V", "A7"),
        ("C", "V65/V", "D7/F#"),
        ("C", "iiø7/ii", "Em7b5"),
        ("C", "bIImaj7", "Dbmaj7"),
        ("C# major", "V7/iii", "B#7"),
        ("C minor", "viio7", "Bdim7"),
        ("C minor", "#viio7", "Bdim7"),
        ("C minor", "bVI", "Ab"),
        ("C minor", "bVII7", "Bb7"),
        ("C minor", "viø7", "Am7b5"),
        ("C minor", "III65", "Ebmaj7/G"),
        ("C minor", "V7/III", "Bb7"),
        ("C minor", "i(maj7)", "Cm(maj7)"),
        ("C", "1", "C"),
        ("C", "57", "G7"),
        ("C", "2-", "Dm"),
        ("C", "2-7", "Dm7"),
        ("C", "1maj7", "Cmaj7"),
        ("C", "b7", "Bb"),
        ("C", "b77", "Bb7"),
        ("C", "7°", "Bdim"),
        ("C", "7ø7", "Bm7b5"),
        ("C", "#4o7", "F#dim7"),
        ("C", "4/5", "F/G"),
        ("C", "1/3", "C/E"),
        ("Eb", "6-7", "Cm7"),
        ("C minor", "1-/3", "Cm/Eb"),
        ("C minor", "6", "Ab"),
        ("C minor", "7o7", "Bdim7"),
    ],
)
def test_numerals_and_numbers(key: str, numeral: str, symbol: str) -> None:
    chord = chord_from_numeral(numeral, Key.parse(key))
    assert chord.symbol == symbol
    assert parse_chord(symbol).same_as(chord)


@pytest.mark.parametrize(
    ("text", "key", "symbols"),
    [
        ("ii7 | V7 | Imaj7", "C", "Dm7 | G7 | Cmaj7"),
        ("2-7 | 5 7 | 1", "C", "Dm7 | G7 | C"),
        ("| 1 | 5/7 6- | 4 57 |", "D", "D | A/C# Bm | G A7"),
        ("iiø7 V7 | i", "A minor", "Bm7b5 E7 | Am"),
        ("Dm7 V7 | I", "C", "Dm7 G7 | C"),
    ],
)
def test_progressions(text: str, key: str, symbols: str) -> None:
    bars = parse_progression(text, Key.parse(key))
    assert " | ".join(" ".join(str(chord) for chord in bar) for bar in bars) == symbols


@pytest.mark.parametrize(
    "text", ["8", "V7xx", "Vi", "IVIV", "V/", "/V", "", "V2", "ii/65", "subV7", "5/8"]
)
def test_refused_numerals_have_a_hint(text: str) -> None:
    with pytest.raises(NotationError) as caught:
        chord_from_numeral(text, Key.parse("C"))
    assert caught.value.hint


def test_empty_bar_is_refused() -> None:
    with pytest.raises(NotationError, match="empty"):
        parse_progression("ii7 | | I", Key.parse("C"))


@pytest.mark.parametrize(
    "text", ["ii7", "V", "bVII", "Imaj7", "Cad64", "2-7", "57", "b7", "4/5", "#iv°7"]
)
def test_numerals_are_told_from_chords(text: str) -> None:
    assert is_numeral(text)


@pytest.mark.parametrize("text", ["C", "Dm7", "Bb7", "G7/B", "A-7", "E", "N.C.", "F#m7b5"])
def test_chords_are_no_numerals(text: str) -> None:
    assert not is_numeral(text)


@given(
    st.sampled_from(
        ["ii7", "V7/ii", "bVII", "viio7", "V65", "IVmaj7", "57", "4/5", "#iv°7", "V7/V", "b3"]
    ),
    st.sampled_from([key for key in all_keys() if abs(key.fifths) < 5]),
    st.sampled_from([key for key in all_keys() if abs(key.fifths) < 5]),
)
def test_numerals_move_with_the_key(numeral: str, source: Key, target: Key) -> None:
    if source.mode != target.mode:
        return
    here, there = chord_from_numeral(numeral, source), chord_from_numeral(numeral, target)
    assert here.transpose(interval_between(source, target)).same_as(there)


@given(st.text(alphabet="IViv1234567b#/°oø-majdsu +7Δ♭", max_size=10), st.sampled_from(all_keys()))
def test_junk_numerals_are_read_or_refused(text: str, key: Key) -> None:
    try:
        chord = chord_from_numeral(text, key)
    except NotationError as error:
        assert error.hint
    else:
        assert parse_chord(chord.symbol).same_as(chord)
