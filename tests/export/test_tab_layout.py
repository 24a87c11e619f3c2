"""Where things stand on a line of tab."""

from __future__ import annotations

from fractions import Fraction

from genex.export.tab import tab_text
from genex.export.tab_layout import string_names
from genex.score import (
    Score,
)
from genex.theory import Pitch
from tests.export.builders import fretted, lead, timeline
from tests.export.tab_reader import read_tab
from tests.export.test_tab import rows


def test_string_names_of_other_instruments():
    def names(text: str) -> list[str]:
        return string_names([Pitch.parse(pitch) for pitch in text.split()])

    assert names("E4 B3 G3 D3 A2 E2") == ["e", "B", "G", "D", "A", "E"]
    assert names("A4 E4 C4 G4") == ["A", "E", "C", "g"]
    assert names("G2 D2 A1 E1") == ["G", "D", "A", "E"]
    assert names("Eb4 Bb3 Gb3 Db3 Ab2 Eb2") == ["eb", "Bb", "Gb", "Db", "Ab", "Eb"]
    assert names("E4 B3 G3 D3 A2 E2 B1") == ["e", "B", "G", "D", "A", "E", "B"]


def test_a_bar_wider_than_the_page_is_split_at_a_pulse():
    notes = [fretted(Fraction(index, 8), "1/8", 3, 10 + index % 5, 1 + index % 4) for index in range(32)]
    text = tab_text(Score("Fast", "straight", timeline("C"), (lead(notes),)))
    assert max(len(row) for row in rows(text)) <= 80
    assert "G :" in text
    assert [note.onset for note in read_tab(text)] == [Fraction(index, 8) for index in range(32)]


def test_quintuplets_beside_triplets_stay_readable():
    notes = [fretted(Fraction(index, 5), "1/5", 3, 5 + index, 1) for index in range(5)]
    notes += [fretted(1 + Fraction(index, 3), "1/3", 3, 9 + index, 1) for index in range(3)]
    notes += [fretted(2, "3/7", 2, 5, 1)]
    score = Score("Odd", "straight", timeline("C"), (lead(notes),))
    assert [note.onset for note in read_tab(tab_text(score), exact=False)] == [
        note.onset_beats for note in notes
    ]


def test_a_section_opens_a_line():
    score = Score(
        "Form",
        "straight",
        timeline("C | F | G | C | Am | Dm", sections=(("Verse", 2), ("Bridge", 4))),
        (lead([]),),
    )
    text = tab_text(score)
    blocks = text.split("\n\n")[1:]
    assert [block.split("\n")[0].strip() for block in blocks] == ["[Verse]", "[Bridge]"]


def test_chord_symbols_stand_where_they_change_and_at_each_line():
    score = Score("Chords", "straight", timeline("Dm7 G7 | G7 | C6 | C6 | C6"), (lead([]),))
    blocks = tab_text(score).split("\n\n")[1:]
    assert [block.rstrip().split("\n")[-8].split() for block in blocks] == [["Dm7", "G7", "C6"], ["C6"]]
