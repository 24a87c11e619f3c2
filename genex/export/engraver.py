"""The engraver and the metrics of its music font."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from genex.lazy import lazy

if TYPE_CHECKING:
    import verovio
else:
    verovio = lazy("verovio")

_FONT = "Leipzig"
"""The music font that the engraver uses unless it is told otherwise."""


@lru_cache(maxsize=1)
def engraver() -> Any:
    """One engraver for all; it says nothing."""
    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


@lru_cache(maxsize=1)
def music_font_metrics() -> dict[str, tuple[float, float, float, float]]:
    """Code point of a glyph -> left, bottom, width and height in thousandths of the font's size."""
    file = Path(engraver().getResourcePath()) / f"{_FONT}.xml"
    root = ElementTree.parse(file).getroot()
    return {
        glyph.get("c", ""): (
            float(glyph.get("x", "0")),
            float(glyph.get("y", "0")),
            float(glyph.get("w", "0")),
            float(glyph.get("h", "0")),
        )
        for glyph in root.iter("g")
    }
