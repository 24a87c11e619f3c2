"""Chord symbols against eight libraries' readings, an independent model, and junk.

Sources of tests/data/chords.csv: chord-symbol 4.0.0, daccord 1.1.0 and tonal 6.2.0 (npm);
chordparser 0.4.2, music21 10.5.1, pychord 1.4.1, mingus 0.6.1 and mir_eval 0.8.2 (PyPI). Where they
disagree the column ``ruling`` says which reading handbooks side with [memory: Brandt and Roemer 1976].
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import ChordSymbolError
from genex.theory import Chord, Interval, Pitch, is_no_chord, parse_chord, without_optional
from genex.theory.qualities import QUALITIES

_CSV = Path(__file__).parent.parent / "data" / "chords.csv"
_ROWS = list(csv.DictReader(_CSV.read_text(encoding="utf-8").splitlines()))
_CHORDS = [row for row in _ROWS if row["root"]]


def spelled(chord: Chord) -> str:
    return " ".join(str(note) for note in chord.notes)


def degrees(symbol: str) -> str:
    return " ".join(str(degree) for degree in parse_chord(symbol).degrees)


@pytest.mark.parametrize("row", _CHORDS, ids=[row["symbol"] for row in _CHORDS])
def test_symbol_reads_as_the_ruling_says(row: dict[str, str]) -> None:
    chord = parse_chord(row["symbol"])
    # The file adds a foreign slash bass to notes and pitch classes, and lists sets in no order.
    foreign = chord.bass.pitch_class not in chord.pitch_classes
    notes = {*chord.notes, chord.bass} if foreign else set(chord.notes)
    assert {str(note) for note in notes} == set(row["spelling"].split())
    assert {n.pitch_class for n in notes} == {int(number) for number in row["pitch_classes"].split()}
    assert {str(degree) for degree in chord.degrees} == set(row["degrees"].split())
    assert (str(chord.root), str(chord.bass)) == (row["root"], row["bass"])


def test_file_of_rulings_is_whole() -> None:
    assert len(_ROWS) == 155
    assert [row["symbol"] for row in _ROWS if not row["root"]] == ["N.C.", "NC"]


@pytest.mark.parametrize("symbol", ["N.C.", "NC", " N.C. "])
def test_no_chord_is_known_and_has_no_notes(symbol: str) -> None:
    assert is_no_chord(symbol)
    with pytest.raises(ChordSymbolError, match="without a chord"):
        parse_chord(symbol)


# Degrees written out by hand [common practice, Brandt and Roemer 1976 from memory].
@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        ("C7(b9,#11)", "1 3 5 b7 b9 #11"),
        ("C13(#11)", "1 3 5 b7 9 #11 13"),
        ("Cmaj7#5", "1 3 #5 7"),
        ("CmMaj9", "1 b3 5 7 9"),
        ("C-Δ7", "1 b3 5 7"),
        ("C-∆", "1 b3 5 7"),
        ("Cø9", "1 b3 b5 b7 9"),
        ("Cø", "1 b3 b5 b7"),
        ("CØ7", "1 b3 b5 b7"),
        ("C°7(maj7)", "1 b3 b5 bb7 7"),
        ("Cº7", "1 b3 b5 bb7"),
        ("C7sus4(b9)", "1 4 5 b7 b9"),
        ("C7b9sus4", "1 4 5 b7 b9"),
        ("C9sus", "1 4 5 b7 9"),
        ("Csus9", "1 4 5 b7 9"),
        ("C11", "1 3 5 b7 9 11"),
        ("C11sus4", "1 4 5 b7 9"),
        ("Cmaj13#11", "1 3 5 7 9 #11 13"),
        ("C6/9/E", "1 3 5 6 9"),
        ("C(add9)/G", "1 3 5 9"),
        ("Cm7b5/Gb", "1 b3 b5 b7"),
        ("C7no5", "1 3 b7"),
        ("C(omit3)", "1 5"),
        ("C(no 3rd)", "1 5"),
        ("C7(no3,no5)", "1 b7"),
        ("Cm7(no root)", "b3 5 b7"),
        ("C+7", "1 3 #5 b7"),
        ("Caug9", "1 3 #5 b7 9"),
        ("C7#5#9", "1 3 #5 b7 #9"),
        ("C7(#9#5)", "1 3 #5 b7 #9"),
        ("C7[b9 b13]", "1 3 5 b7 b9 b13"),
        ("C7(b9/13)", "1 3 5 b7 b9 13"),
        ("C7b9(13)", "1 3 5 b7 b9 13"),
        ("C7b9#9", "1 3 5 b7 b9 #9"),
        ("C7b5#5", "1 3 b5 #5 b7"),
        ("C2", "1 3 5 9"),
        ("C5", "1 5"),
        ("Csus2/4", "1 2 4 5"),
        ("Csus24", "1 2 4 5"),
        ("C9sus2", "1 2 5 b7"),
        ("Csus4(add9)", "1 4 5 9"),
        ("C7b5", "1 3 b5 b7"),
        ("Cm7(11)", "1 b3 5 b7 11"),
        ("Cm13", "1 b3 5 b7 9 11 13"),
        ("Cm9(maj7)", "1 b3 5 7 9"),
        ("Cm/maj7", "1 b3 5 7"),
        ("Cm6(maj7)", "1 b3 5 6 7"),
        ("C7M", "1 3 5 7"),
        ("C MA7", "1 3 5 7"),
        ("CMI7", "1 b3 5 b7"),
        ("Cmima7", "1 b3 5 7"),
        ("Cma7(#5)", "1 3 #5 7"),
        ("CMadd9", "1 3 5 9"),
        ("Cminor", "1 b3 5"),
        ("CMajor7", "1 3 5 7"),
        ("C7/9", "1 3 5 b7 9"),
        ("C/9", "1 3 5 9"),
        ("C⁷", "1 3 5 b7"),
        ("Cmb6", "1 b3 5 b6"),
        ("C13b13", "1 3 5 b7 9 11 b13"),
        ("C (b5)", "1 3 b5"),
        ("Cm(b5)", "1 b3 b5"),
    ],
)
def test_further_symbols(symbol: str, expected: str) -> None:
    assert degrees(symbol) == expected


# [published: spelling follows the letter of the degree; any harmony textbook]
@pytest.mark.parametrize(
    ("symbol", "notes"),
    [
        ("Cdim7", "C Eb Gb Bbb"),
        ("F♯m7♭5", "F# A C E"),
        ("Gb7alt", "Gb Bb Dbb D Fb Abb A"),
        ("F#7alt", "F# A# C C## E G G##"),
        ("D#maj7", "D# F## A# C##"),
        ("Ab-Δ9", "Ab Cb Eb G Bb"),
        ("B𝄫7", "Bbb Db Fb Abb"),
        ("Ebm11", "Eb Gb Bb Db F Ab"),
    ],
)
def test_spelling(symbol: str, notes: str) -> None:
    assert spelled(parse_chord(symbol)) == notes


@pytest.mark.parametrize(
    ("symbol", "root", "bass"),
    [("Bb/C", "Bb", "C"), ("C7alt/Bb", "C", "Bb"), ("C6/9/E", "C", "E"), ("F♯m7 / C♯", "F#", "C#")],
)
def test_slash_bass(symbol: str, root: str, bass: str) -> None:
    chord = parse_chord(symbol)
    assert (str(chord.root), str(chord.bass)) == (root, bass)


@pytest.mark.parametrize(
    ("symbol", "position", "hint"),
    [
        ("", 0, "Gm7"),
        ("cm7", 0, "did you mean Cm7?"),
        ("bb7", 0, "did you mean Bb7?"),
        ("H7", 0, "did you mean B7?"),
        ("Gh7", 1, "did you mean Gm7b5?"),
        ("C%7", 1, "did you mean Cm7b5?"),
        ("Gd", 1, "did you mean Gdim?"),
        ("F#d7/A", 2, "did you mean F#dim7/A?"),
        ("B07", 1, "did you mean Bdim7?"),
        ("C:maj7", 1, "did you mean Cmaj7?"),
        ("G!", 1, "did you mean G?"),
        ("Cis7", 1, "did you mean C#7?"),
        ("Es7", 1, "did you mean Eb7?"),
        ("Sib7", 0, "did you mean Bb7?"),
        ("Fm/As", 4, "did you mean Fm/Ab?"),
        ("C/H", 2, "did you mean C/B?"),
        ("C^7", 1, "did you mean Cmaj7?"),
        ("Cm^7", 2, "did you mean Cmmaj7?"),
        ("Cmaj7b7", 5, "did you mean C7?"),
        ("Cm7#7", 3, "did you mean Cmmaj7?"),
        ("C7b3", 2, "did you mean Cm7?"),
        ("C4", 1, "did you mean Csus4?"),
        ("X", 0, "Gm7"),
        ("C/", 1, "did you mean C?"),
        ("C/H", 2, ""),
        ("C7(b9", 2, "did you mean C7(b9)?"),
        ("C7)", 2, "did you mean C7?"),
        ("C7()", 2, "did you mean C7?"),
        ("C7(b9,)", 5, "did you mean"),
        ("Cmaj7/E/G", 7, "did you mean Cmaj7/E?"),
        ("Cadd", 1, "did you mean Cadd9?"),
        ("Cmaj7maj7", 5, "did you mean Cmaj7?"),
        ("C7maj7", 2, "did you mean Cmaj7?"),
        ("C7x9", 2, ""),
        ("C7#3", 2, ""),
        ("C10", 1, ""),
        ("Cm5", 2, "did you mean Cm?"),
        ("C-5", 2, "did you mean C(b5)?"),
        ("C7alt#9", 5, "did you mean C7alt?"),
        ("Cm7no6", 3, ""),
        ("C7b9b9", 4, ""),
        ("C7sus4sus2", 6, ""),
        ("Cno3no5", 4, ""),
        ("Cmni7", 2, "did you mean"),
    ],
)
def test_refusal_says_where_and_what_instead(symbol: str, position: int, hint: str) -> None:
    with pytest.raises(ChordSymbolError) as caught:
        parse_chord(symbol)
    assert caught.value.position == position
    assert hint in (caught.value.hint or "")
    assert caught.value.symbol == symbol


# --- properties -----------------------------------------------------------------------------------

_SIGNS = {
    "": ("3", "5", "b7", ["", "dom"]),
    "major": ("3", "5", "7", ["maj", "Maj", "MAJ", "ma", "M", "Δ", "△", "major"]),
    "minor": ("b3", "5", "b7", ["m", "min", "mi", "-", "Min", "MI", "−"]),
    "minor-major": ("b3", "5", "7", ["mM", "mMaj", "-Δ", "minmaj", "mima", "m△", "-M"]),
    "diminished": ("b3", "b5", "bb7", ["dim", "°", "o", "º"]),
    "half-diminished": ("b3", "b5", "b7", ["ø", "Ø"]),
    "augmented": ("3", "#5", "b7", ["+", "aug"]),
    "augmented-major": ("3", "#5", "7", ["+M", "augmaj", "+Δ"]),
}
_UPPER = {"7": [], "9": ["9"], "11": ["9", "11"], "13": ["9", "11", "13"]}
_CHANGES = {
    "b5": ["b5", "♭5", "(b5)"],
    "b9": ["b9", "(♭9)", "(b9)"],
    "#9": ["#9", "♯9", "(#9)"],
    "#11": ["#11", "(♯11)", "[#11]"],
    "b13": ["b13", "(b13)"],
}


@st.composite
def chord_texts(draw: st.DrawFn) -> tuple[str, set[str]]:
    """A symbol of the grammar and the degrees that plain stacking gives for it."""
    root = draw(st.sampled_from("CDEFGAB")) + draw(st.sampled_from(["", "b", "#", "♭", "♯"]))
    kind = draw(st.sampled_from(sorted(_SIGNS)))
    third, fifth, seventh, spellings = _SIGNS[kind]
    numbers = ["7", "9", "11"] if kind == "diminished" else list(_UPPER)
    number = draw(st.sampled_from(numbers))
    wanted = {"1", third, fifth, seventh, *_UPPER[number]}
    text = root + draw(st.sampled_from(spellings)) + number
    for change in draw(st.lists(st.sampled_from(sorted(_CHANGES)), unique=True, max_size=3)):
        text += draw(st.sampled_from(_CHANGES[change]))
        wanted.discard(change.lstrip("b#"))
        wanted.add(change)
    # A sign takes its natural number away however many signs there are; nothing is left to undo.
    return text, wanted


@given(chord_texts(), st.sampled_from(["", "/E", "/B♭", "/F#"]))
def test_every_symbol_of_the_grammar_is_the_stack_it_names(
    case: tuple[str, set[str]], bass: str
) -> None:
    text, wanted = case
    chord = parse_chord(text + bass)
    assert {str(degree) for degree in chord.degrees} == wanted
    numbers = [degree.number for degree in chord.degrees]
    assert numbers == sorted(numbers)


_INTERVALS = st.sampled_from(
    [Interval(0, 0), Interval(0, 1), Interval(1, 1), Interval(1, 2), Interval(2, 3), Interval(2, 4),
     Interval(3, 5), Interval(3, 6), Interval(4, 6), Interval(4, 7), Interval(5, 8), Interval(5, 9),
     Interval(6, 10), Interval(6, 11), Interval(-1, -1), Interval(-2, -4), Interval(-3, -5),
     Interval(7, 12)]
)  # fmt: skip
_SYMBOLS = st.one_of(
    st.sampled_from([row["symbol"] for row in _CHORDS]),
    st.tuples(chord_texts(), st.sampled_from(["", "/D", "/Ab"])).map(lambda case: case[0][0] + case[1]),
)


@given(_SYMBOLS, _INTERVALS)
def test_transposing_commutes_with_reading(symbol: str, interval: Interval) -> None:
    moved = parse_chord(symbol).transpose(interval)
    again = parse_chord(moved.symbol)
    assert again.same_as(moved)
    assert again.quality == moved.quality
    assert moved.transpose(-interval).same_as(parse_chord(symbol))


@given(_SYMBOLS)
def test_plain_symbol_is_the_same_chord(symbol: str) -> None:
    chord = parse_chord(symbol)
    plain = parse_chord(chord.plain_symbol)
    assert plain.same_as(chord)
    assert plain.quality == chord.quality
    assert plain.plain_symbol == chord.plain_symbol


_JUNK = st.one_of(
    st.text(max_size=20),
    st.text(alphabet="ABCDEFGHabcdefgmMjoø°+-#b♭♯Δ△𝄫/()[], 123456790susadnoltiΔ⁷", max_size=14),
    st.tuples(st.sampled_from("CDEFGAB"), st.text(max_size=6)).map("".join),
)


@given(_JUNK)
def test_junk_is_read_or_refused_with_a_place_inside(text: str) -> None:
    try:
        chord = parse_chord(text)
    except ChordSymbolError as error:
        assert 0 <= error.position < max(1, len(text))
        assert error.hint
        if "did you mean " in error.hint:
            parse_chord(error.hint.removeprefix("did you mean ").removesuffix("?"))
    else:
        assert parse_chord(chord.symbol).same_as(chord)
        assert parse_chord(chord.plain_symbol).same_as(chord)


@pytest.mark.parametrize("key", QUALITIES)
def test_every_spelling_in_the_table_reads_as_its_row(key: str) -> None:
    row = QUALITIES[key]
    for body in (row.key, *row.written):
        symbol = f"F#({body})" if body[:1] in ("b", "#") else f"F#{body}"
        assert parse_chord(symbol).quality == key, symbol
    assert all(Pitch.parse("C4").name.degree(degree) for degree in row.degrees)


def test_no_two_rows_of_the_table_are_one_chord() -> None:
    sets = [frozenset(row.degrees) for row in QUALITIES.values()]
    assert len(set(sets)) == len(sets)


@pytest.mark.parametrize(
    ("symbol", "hint"),
    [
        ("F#(b7)", "did you mean F#7?"),
        ("Bb(b3)", "did you mean Bbm?"),
    ],
)
def test_the_better_symbol_is_whole(symbol: str, hint: str) -> None:
    with pytest.raises(ChordSymbolError) as caught:
        parse_chord(symbol)
    assert caught.value.hint == hint


@pytest.mark.parametrize("text", ["N.C.", "NC", "N.C", "n.c.", "N. C.", " nc "])
def test_ways_to_write_no_chord(text: str) -> None:
    assert is_no_chord(text)


@pytest.mark.parametrize("text", ["", "C", "N", "no chord", "Ncm"])
def test_what_does_not_say_no_chord(text: str) -> None:
    assert not is_no_chord(text)


@pytest.mark.parametrize(
    ("symbol", "played"),
    [
        ("D/f#", "D/F#"), ("Am7/g", "Am7/G"), ("C7/bb", "C7/Bb"), ("G7/b", "G7/B"), ("C6/9/e", "C6/9/E"),
        ("(Em)", "Em"), ("(A7(b9))", "A7(b9)"), ("G(Em)", "G"), ("D/f#(Bm7)", "D/F#"),
    ],
)  # fmt: skip
def test_as_collections_of_tunes_write_them(symbol: str, played: str) -> None:
    """[published: ABC standard v2.1, 4.18; package: music21 10.5, nottingham-dataset]"""
    assert parse_chord(symbol) == parse_chord(played)


@pytest.mark.parametrize("symbol", ["C(add9)", "C7(b9)", "C(Aug)", "C7/b9", "Cm(maj7)"])
def test_parentheses_and_slashes_of_one_chord_stay(symbol: str) -> None:
    assert without_optional(symbol) == (symbol, "")
    assert parse_chord(symbol).bass == parse_chord(symbol).root
