"""Heights told beforehand: rows of one height, and never a page that does not fit."""

from __future__ import annotations

from typing import Any

import pytest

from genex.export.handout.book_heights import heights_of_shapes


def entry(**more: Any) -> dict[str, Any]:
    shape = {"caption": "E form, 3rd position", "picture": {"height_mm": 52.0}}
    usual = {
        "columns": 2,
        "cell_mm": 82.0,
        "pull_mm": 4.0,
        "shapes": [shape] * 5,
        "neck": {"height_mm": 53.0},
        "also_called": [],
        "also_written": ["Cmin7", "C-7"],
        "twins": [3],
    }
    return {**usual, **more}


def test_rows_hold_a_caption_and_a_diagram() -> None:
    found = heights_of_shapes(entry(), 264.0)
    assert found["shapes_fit"] and 52 < found["row_mm"] < 55


def test_a_low_page_does_not_hold_three_rows() -> None:
    assert not heights_of_shapes(entry(), 240.0)["shapes_fit"]


@pytest.mark.parametrize(
    "more",
    [
        {"also_written": ["Cmin7 as somebody writes it"] * 20},
        {"shapes": [{"caption": "the one that my teacher " * 4, "picture": {"height_mm": 52.0}}] * 5},
        {"columns": 1},
    ],
)
def test_in_doubt_the_typesetter_measures(more: dict[str, Any]) -> None:
    assert heights_of_shapes(entry(**more), 264.0) == {"shapes_fit": False}
