"""What follows from a chord: notes, guide tones, transposition, sameness, names."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from genex.theory import Interval, describe, parse_chord

_GUIDE = Path(__file__).parent.parent / "data" / "guidetones.csv"
_ROWS = list(csv.DictReader(_GUIDE.read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", _ROWS, ids=[row["key"] for row in _ROWS])
def test_guide_tones_of_two_five_one(row: dict[str, str]) -> None:
    """[common practice] third and seventh; the seventh falls by step to the next third."""
    for column in ("ii", "V", "I"):
        chord = parse_chord(row[column])
        third, seventh = (str(chord.root.degree(degree)) for degree in chord.guide_tones)
        assert (third, seventh) == (row[f"{column}_3"], row[f"{column}_7"])


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        ("Cm7b5", "b3 b7"),
        ("Cdim7", "b3 bb7"),
        ("C6", "3 6"),
        ("C6/9", "3 6"),
        ("C7sus4", "4 b7"),
        ("Csus4", "4 5"),
        ("Csus2", "2 5"),
        ("C", "3 5"),
        ("Cdim", "b3 b5"),
        ("Caug", "3 #5"),
        ("Cadd9", "3 9"),
        ("C5", "1 5"),
        ("C7(no3)", "5 b7"),
        ("C7alt", "3 b7"),
        ("C7add6", "3 b7"),
        ("Cdim7(maj7)", "b3 7"),
    ],
)
def test_guide_tones_of_other_chords(symbol: str, expected: str) -> None:
    assert " ".join(str(degree) for degree in parse_chord(symbol).guide_tones) == expected


@pytest.mark.parametrize(
    ("symbol", "interval", "expected"),
    [
        ("C6/9", Interval(2, 4), "E6/9"),
        ("C6/9/E", Interval(2, 4), "E6/9/G#"),
        ("Cm/maj7", Interval(1, 2), "Dm/maj7"),
        ("B♭Δ7/D", Interval(1, 2), "CΔ7/E"),
        ("F#7(#9)", Interval(-1, -1), "E#7(#9)"),
        ("Am/G", Interval(2, 3), "Cm/Bb"),
    ],
)
def test_transposing_respells_root_and_bass_and_nothing_else(
    symbol: str, interval: Interval, expected: str
) -> None:
    assert parse_chord(symbol).transpose(interval).symbol == expected


def test_one_chord_in_several_spellings() -> None:
    forms = [parse_chord(text) for text in ("Cmaj7", "CM7", "CΔ", "C△7", "CMA7", "Cj7", "C7M")]
    assert len({chord.symbol for chord in forms}) == len(forms)
    assert all(chord.same_as(forms[0]) for chord in forms)
    assert {chord.plain_symbol for chord in forms} == {"Cmaj7"}
    assert not parse_chord("Cmaj7/E").same_as(parse_chord("Cmaj7"))


def test_sounding_alike_is_less_than_being_the_same() -> None:
    for one, other in (("F#7", "Gb7"), ("C6", "Am7/C")):
        assert parse_chord(one).pitch_classes == parse_chord(other).pitch_classes
        assert not parse_chord(one).same_as(parse_chord(other))


@pytest.mark.parametrize(
    ("symbol", "name"),
    [
        ("Cø", "half-diminished seventh"),
        ("Cdim7", "diminished seventh"),
        ("C7", "dominant seventh"),
        ("Cm(maj7)", "minor with major seventh"),
        ("C/E", "major triad, first inversion"),
        ("C7/Bb", "dominant seventh, third inversion"),
        ("Bb/C", "major triad, over C"),
        ("C7(b9,#11)", "dominant seventh, flat nine, sharp eleven"),
        ("C7no5", "dominant seventh, no five"),
    ],
)
def test_names(symbol: str, name: str) -> None:
    assert describe(parse_chord(symbol)).names[0] == name


@pytest.mark.parametrize(
    "symbol", ["Cø", "F#maj7", "Bb6/9/D", "C(b5)", "Ab7alt", "Em(maj9)", "G7(b9,13)"]
)
def test_other_spellings_are_the_same_chord(symbol: str) -> None:
    chord = parse_chord(symbol)
    others = describe(chord).also_written
    assert symbol not in others
    for other in others:
        assert parse_chord(other).same_as(chord), other


def test_minor_is_a_minor_third() -> None:
    assert [parse_chord(text).is_minor for text in ("Cm", "Cm7b5", "C", "Caug", "C5", "Csus4")] == [
        True, True, False, False, False, False,
    ]  # fmt: skip


def test_a_quality_that_begins_with_a_sign_stands_in_parentheses() -> None:
    # Without them C(b5) would be a C flat power chord.
    assert parse_chord("C(b5)").plain_symbol == "C(b5)"
    assert parse_chord("C(b6)/E").plain_symbol == "C(b6)/E"
