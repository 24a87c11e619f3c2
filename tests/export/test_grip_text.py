"""Grips as vertical diagrams in plain text."""

from __future__ import annotations

from genex.export.grip_text import grip_text, grips_text
from genex.fretboard import STANDARD, grips_of
from genex.theory import parse_chord


def test_a_grip_as_a_vertical_diagram() -> None:
    grip = next(
        g for g in grips_of(parse_chord("Cmaj7"), STANDARD, "drop 2") if g.strings == (4, 3, 2, 1)
    )
    assert grip_text(grip, STANDARD).split("\n") == [
        "drop 2, 3 in the bass",
        "strings 4 3 2 1",
        "x x",
        "| | | | 1 |  1",
        "| | 2 | | |  2",
        "| | | | | 3  3",
        "| | | 4 | |  4",
    ]
    mirrored = grip_text(grip, STANDARD, left_handed=True).split("\n")
    assert mirrored[3] == "| 1 | | | |  1" and mirrored[2].endswith("x x")
    text = grips_text(grips_of(parse_chord("Cmaj7"), STANDARD), STANDARD)
    assert max(map(len, text.splitlines())) <= 80
