"""Words above and below the strings of a tab."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from genex.readers.lines.tab_words import (
    are_degrees,
    by_string,
    english_symbol,
    is_chord,
    length_of,
    meters_of,
    names_meant,
    time_at,
    tokens_of,
)
from genex.score import Meter


@pytest.mark.parametrize(
    ("row", "wanted"),
    [
        ("  5 3/4       6      7 4/4 =120", {2: "3/4", 21: "4/4"}),
        ("  (3)     4", {}),
        ("  q 3/4   e", {}),  # note values, of which one has no letter
        ("  Am7  5 3/4", {}),
        ("", {}),
    ],
)
def test_meters_behind_bar_numbers(row, wanted):
    assert {column: str(meter) for column, meter in meters_of(row)} == wanted


def test_what_words_are():
    assert tokens_of("  q   e.") == {2: "q", 6: "e."}
    assert are_degrees(tokens_of("1 b3 #11")) and not are_degrees(tokens_of("1 x"))
    assert is_chord("Am7") and is_chord("N.C.") and not is_chord("Amx")


def test_lengths_in_letters():
    meter = Meter(3, 4)
    lengths = [length_of(value, meter) for value in ("q.", "re", "rest", "h~e", "5/6", "~")]
    assert lengths == [F(3, 2), F(1, 2), 3, F(5, 2), F(5, 6), 0]


def test_a_chord_over_a_held_note_comes_where_it_stands():
    times = {4: (F(0), F(3)), 28: (F(3), F(1, 2)), 32: (F(7, 2), F(1, 2))}
    assert [time_at(column, times, 36) for column in (2, 4, 12, 20, 27, 28, 34)] == [
        0, 0, 1, 2, 3, 3, 4,
    ]  # fmt: skip


def test_fingers_of_a_column():
    assert by_string("13", {5: (3, ""), 4: (5, "")}) == {5: 1, 4: 3}
    assert by_string("11", {1: (5, ""), 2: (5, "")}) == {1: 1, 2: 1}


@pytest.mark.parametrize(
    ("names", "written", "english"),
    [
        # [published: Duden] H is the note B and B is B flat; [common practice] syllables
        ("german", "H7 Bmaj7/D F#m7/H Bb7 N.C. C/B", "B7 Bbmaj7/D F#m7/B Bb7 N.C. C/Bb"),
        ("solfege", "Si♭m7 Ré♯ Fa/La Sol7 Am", "Bbm7 D# F/A G7 Am"),
        ("english", "B7 Bbm7/F", "B7 Bbm7/F"),
    ],
)
def test_chord_symbols_by_other_names_of_notes(names, written, english):
    read = [english_symbol(text, names) for text in written.split()]
    assert read == english.split()
    assert all(map(is_chord, read))


def test_chords_by_names_that_the_recipe_does_not_use_are_known_as_such():
    assert names_meant(["H7", "E"]) == "german"
    assert names_meant(["Sol7", "Do"]) == "solfege"
    assert names_meant(["B7", "E"]) is None
    assert names_meant(["q", "e"]) is None
