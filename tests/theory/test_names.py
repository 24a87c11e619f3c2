"""What chords are called [common practice]."""

from __future__ import annotations

import pytest

from genex.theory import describe, parse_chord


@pytest.mark.parametrize(
    ("symbol", "name"),
    [
        ("C/E", "major triad, first inversion"),
        ("C/G", "major triad, second inversion"),
        ("C7/Bb", "dominant seventh, third inversion"),
        ("Am7/C", "minor seventh, first inversion"),
        ("C/D", "major triad, over D"),
        ("C9/D", "dominant ninth, over D"),
    ],
)
def test_a_slash_bass_is_an_inversion_or_another_note(symbol: str, name: str) -> None:
    assert describe(parse_chord(symbol)).names[0] == name


def test_other_ways_to_write_a_chord_keep_its_bass_and_leave_its_own_symbol_out() -> None:
    assert describe(parse_chord("C/E")).also_written == ("Cmaj/E", "CM/E", "Cma/E")
    assert "Cm7b5" in describe(parse_chord("Cø")).also_written
    assert "Cø" not in describe(parse_chord("Cø")).also_written


def test_a_body_that_begins_with_a_sign_stands_in_parentheses() -> None:
    # C#5 would be a C sharp power chord.
    assert all("C#5" not in text for text in describe(parse_chord("Caug")).also_written)
