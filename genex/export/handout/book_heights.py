"""Whether a chord's page of shapes fits its paper, told from what stands on it.

The typesetter would have to set each page to know, and then once more. Where this is in doubt (long
names of a player's own shapes, many other names, a low neck) the answer is no, and it does. Lengths are
millimetres; those of lines of type are their full size, where the typesetter takes three quarters.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from genex.export.engraved_boxes import text_width
from genex.export.handout.pictures import MM_PER_POINT

_HEAD_MM = 42.0
"""The name of the type, the symbol, the heading of the shapes, and their distances (``chord.typ``)."""

_CAPTION_MM, _CAPTION_PT = 2.9, 9.5
_TONES_MM, _LINE_MM, _TOLD_MM, _TEXT_PT = 16.0, 4.3, 2.4, 10.5
_ROW_GAP_MM = 2.0
_WASTE = 1.2
"""Lines are so many times as long as their words: none ends just at the margin."""


def heights_of_shapes(entry: Mapping[str, Any], room_mm: float) -> dict[str, Any]:
    """``shapes_fit``, and ``row_mm`` where rows of the grid of shapes can be of one height.

    ``entry`` is the chord as the templates take it, ``room_mm`` the height of a page less its margins.
    """
    row_mm = _CAPTION_MM + max(
        shape["picture"]["height_mm"] - entry["pull_mm"] / 2 for shape in entry["shapes"]
    )
    captions = max(_width_mm(shape["caption"], _CAPTION_PT) for shape in entry["shapes"])
    if entry["columns"] == 1 or captions > entry["cell_mm"] or _about_mm(entry) > row_mm:
        return {"shapes_fit": False}
    rows = math.ceil((len(entry["shapes"]) + 1) / entry["columns"])
    needed = _HEAD_MM + entry["neck"]["height_mm"] + rows * (row_mm + _ROW_GAP_MM)
    return {"row_mm": row_mm, "shapes_fit": needed <= room_mm}


def _about_mm(entry: Mapping[str, Any]) -> float:
    """What stands beside the first shapes: tones, other names, chords of the same tones."""
    told = [entry["also_called"], entry["also_written"], ["Bbm7b5 (100)"] * len(entry["twins"])]
    height = _TONES_MM
    for names in filter(None, told):
        wide = _WASTE * _width_mm(", ".join(names), _TEXT_PT)
        height += _TOLD_MM + _LINE_MM * (1 + math.ceil(wide / entry["cell_mm"]))
    return height


def _width_mm(text: str, points: float) -> float:
    return text_width(text, points * MM_PER_POINT)
