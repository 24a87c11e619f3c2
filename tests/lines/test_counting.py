"""Syllables to count with."""

from __future__ import annotations

import pytest

from genex.lines.counting import SYLLABLES, syllable


@pytest.mark.parametrize(
    ("division", "said"),
    [
        # [common practice]
        (1, "3"),
        (2, "3 &"),
        (3, "3 la li"),
        (4, "3 e & a"),
        (6, "3 ta la ta li ta"),
    ],
)
def test_a_beat_divided(division: int, said: str) -> None:
    assert " ".join(syllable(3, division, place) for place in range(division)) == said


def test_every_division_has_a_syllable_for_each_note() -> None:
    assert all(len(row) == division for division, row in SYLLABLES.items())
