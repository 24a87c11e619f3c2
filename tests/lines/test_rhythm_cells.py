"""The table of rhythm cells."""

from typing import get_args

import pytest

from genex.exercises import LineFamily
from genex.lines.rhythm_cells import RHYTHMS_OF_LEVELS, cells_of, pickups_of
from genex.lines.vocabulary import LEVELS

FAMILIES = get_args(LineFamily)


@pytest.mark.parametrize("family", FAMILIES)
def test_every_family_has_cells_for_all_levels(family):
    known = set()
    for level in LEVELS:
        cells = cells_of(family, level)
        assert len(cells) >= 5
        assert any(cell.words == ("x",) for cell in cells), "what fills the end of a bar"
        words = {cell.words for cell in cells}
        assert len(words) == len(cells), "each cell once a level"
        assert words - known or level == 1, "each level brings something new"
        known |= words


@pytest.mark.parametrize("family", FAMILIES)
def test_cells_are_written_in_strokes_holds_and_rests(family):
    for level in LEVELS:
        for cell in cells_of(family, level):
            letters = "".join(cell.words)
            assert set(letters) <= set("x-.")
            assert ".-" not in letters, "what rests is not held"
            sizes = {len(word) for word in cell.words}
            assert sizes <= ({1, 2, 3, 6} if family == "six-eight" else {1, 2, 3, 4})
            assert level >= 4 or not cell.is_tied
            if level == 1:
                short = ("x.",) if family == "waltz" else ()
                assert all(word in ("x", "-", ".", "xx", "x-x", "xxx", *short) for word in cell.words)


@pytest.mark.parametrize("family", FAMILIES)
def test_pickups_end_at_the_bar_line(family):
    assert pickups_of(family, 2) == ()
    for level in range(3, 7):
        for words in pickups_of(family, level):
            letters = "".join(words)
            assert letters.strip(".").replace("x", "") == "" and letters.endswith("x")


def test_each_level_is_told():
    assert list(RHYTHMS_OF_LEVELS) == list(LEVELS)
