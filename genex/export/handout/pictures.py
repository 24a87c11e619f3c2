"""Pictures as the templates take them: engraved systems, and diagrams at a size on paper."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import accumulate
from typing import Any

from genex.export.engraving import HANG_MM
from genex.export.handout.system_breaks import Line
from genex.export.handout.typeset import plain_text
from genex.export.word_rows import with_digits_in_rows

Json = dict[str, Any]

_SVG_SIZE = re.compile(r'<svg[^>]* width="([\d.]+)" height="([\d.]+)"')
_FONT_SIZE = re.compile(r'font-size="([\d.]+)"')
MM_PER_POINT = 25.4 / 72
PAPER_RECT = re.compile(r'<rect width="100%" height="100%"[^>]*/>\s*')
"""A diagram's background, which would cover the captions."""

DIAGRAM_MARGIN = 14.0
"""Empty units left of and above a diagram, which hang over the edge of its cell."""


def system_pictures(lines: Sequence[Line], bars: Sequence[str], growth: float = 1.0) -> list[Json]:
    """Engraved systems as the templates take them, so many times as large; ``bars`` is each bar in
    words, for who does not see it."""
    ends = list(accumulate(line.system.bars for line in lines))
    return [
        {
            "section": plain_text(line.section),
            "also": line.also,
            "svg": line.system.paper_svg,
            "width_mm": line.system.width_mm * growth,
            "height_mm": line.system.height_mm * growth,
            "hang_mm": HANG_MM * growth,
            "alt": " ".join(bars[end - line.system.bars : end]),
            "windows": [],
        }
        for line, end in zip(lines, ends, strict=True)
    ]


def paper_picture(svg: str, width_mm: float, *, alt: str) -> Json:
    """A diagram whose neck, without the empty margins of the picture, is so wide on paper."""
    width, height = svg_size(svg)
    unit_mm = width_mm / (width - 2 * DIAGRAM_MARGIN)
    return {
        "svg": on_paper(svg),
        "width_mm": width * unit_mm,
        "height_mm": height * unit_mm,
        "pull_mm": DIAGRAM_MARGIN * unit_mm,
        "alt": alt,
    }


def on_paper(svg: str) -> str:
    """A diagram as it is set: on no ground of its own, its digits in rows."""
    return with_digits_in_rows(PAPER_RECT.sub("", svg))


def legible_unit(svg: str, points: float) -> float:
    """Millimetres of a diagram's own unit at which its smallest type has so many points."""
    smallest = min(float(size) for size in _FONT_SIZE.findall(svg))
    return points * MM_PER_POINT / smallest


def svg_size(svg: str) -> tuple[float, float]:
    """Width and height of a diagram in its own units."""
    match = _SVG_SIZE.search(svg)
    if match is None:
        raise ValueError("a diagram without a size")
    return float(match[1]), float(match[2])
