"""Where everything in an engraved system lies: a box for each sign, stroke and word.

The engraver says of glyphs and strokes where they are; how large a glyph is stands in the metrics
of its music font, how wide a word is in those of the text font (``fonts/widths.txt``).

Lengths are the engraver's units, a hundredth of a millimetre; y grows downwards.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from genex.export.engraver import music_font_metrics
from genex.export.typography import FONT_FAMILY

SVG = "{http://www.w3.org/2000/svg}"
_USE, _PATH, _POLYGON, _TEXT = (SVG + tag for tag in ("use", "path", "polygon", "text"))
HREF = "{http://www.w3.org/1999/xlink}href"
_WIDTHS = Path(__file__).resolve().parent / "handout" / "fonts" / "widths.txt"

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_CALL = re.compile(r"(translate|scale)\(([^)]*)\)")

_OUTER = frozenset({"page-margin", "system", "measure", "layer", "tabGrp", "verse"})
"""Groups that only hold others: what is drawn belongs to the nearest group that is none of them."""


@dataclass(frozen=True, slots=True)
class Box:
    """What one element covers. ``kind`` is the class of its group, ``measure`` counts from 0.

    ``staff`` is 1 for notation, 2 for tab, 0 for what belongs to the whole system.
    """

    kind: str
    left: float
    top: float
    right: float
    bottom: float
    element: ElementTree.Element
    text: str = ""
    measure: int = -1
    staff: int = 0

    def meets(self, other: Box, clearance: float = 0.0) -> bool:
        """Whether two boxes cover a common place, or come nearer than ``clearance``."""
        return (
            self.left < other.right + clearance
            and other.left < self.right + clearance
            and self.top < other.bottom + clearance
            and other.top < self.bottom + clearance
        )

    def moved(self, dx: float, dy: float) -> Box:
        return replace(
            self,
            left=self.left + dx,
            right=self.right + dx,
            top=self.top + dy,
            bottom=self.bottom + dy,
        )


Known = Mapping[ElementTree.Element, tuple[Box, str | None]]
"""Boxes of signs and strokes, and the place that each had when it was measured."""


def as_they_stand(found: Iterable[Box]) -> Known:
    """What of these boxes need not be measured anew as long as it is not moved."""
    return {box.element: (box, box.element.get("transform")) for box in found if not box.text}


def boxes(page: ElementTree.Element, known: Known = MappingProxyType({})) -> list[Box]:
    """The boxes of everything that is drawn inside the group ``page-margin``, in drawing order."""
    found: list[Box] = []
    _walk(page, "", -1, 0, _Counter(known), found)
    return found


@dataclass
class _Counter:
    known: Known
    measures: int = -1
    staves: int = 0


def _walk(
    element: ElementTree.Element,
    kind: str,
    measure: int,
    staff: int,
    counter: _Counter,
    found: list[Box],
) -> None:
    name = element.get("class", "")
    if "placeholder" in name or element.get("visibility") == "hidden":
        return
    if name == "measure":
        counter.measures += 1
        counter.staves = 0
        measure = counter.measures
    elif name == "staff":
        counter.staves += 1
        staff = counter.staves
    if name and name not in _OUTER:
        kind = name
    tag = element.tag
    box = None
    known = counter.known.get(element)
    if known is not None and known[1] == element.get("transform"):
        found.append(known[0])
    elif tag == _USE:
        box = _glyph(element)
    elif tag == _PATH:
        box = _path(element)
    elif tag == _POLYGON:
        box = _points(element.get("points", ""), 0.0)
    elif tag == _TEXT:
        found.extend(_text(element, kind, measure, staff))
        return
    if box is not None:
        drawn = Box(kind, *box, element, "", measure, staff)
        found.append(drawn if tag == _USE else _lowered(drawn))
    for child in element:
        _walk(child, kind, measure, staff, counter, found)


_Corners = tuple[float, float, float, float]


def _glyph(element: ElementTree.Element) -> _Corners | None:
    code = element.get(HREF, "").lstrip("#").partition("-")[0]
    metrics = music_font_metrics().get(code)
    if metrics is None:
        return None
    x, y, scale = glyph_place(element)
    left, low, width, height = metrics
    return (
        x + scale * left,
        y - scale * (low + height),
        x + scale * (left + width),
        y - scale * low,
    )


def glyph_place(element: ElementTree.Element) -> tuple[float, float, float]:
    """Where a glyph stands, and how many times as large as the outline of its font it is drawn."""
    x = y = 0.0
    scale = 1.0
    for call, arguments in _CALL.findall(element.get("transform", "")):
        numbers = [float(found) for found in _NUMBER.findall(arguments)]
        if call == "translate":
            x, y = numbers[0], numbers[1]
        else:
            scale = numbers[0]
    return x, y, scale


def _lowered(box: Box) -> Box:
    """The box of a stroke or word where that was moved after it was set: down, or up if negative."""
    call = _CALL.match(box.element.get("transform", ""))
    if call is None or call[1] != "translate":
        return box
    return box.moved(0, float(_NUMBER.findall(call[2])[1]))


def _path(element: ElementTree.Element) -> _Corners | None:
    """The strokes of the engraver have absolute coordinates; a curve lies inside its control points."""
    thick = float(element.get("stroke-width", "0")) / 2
    return _points(element.get("d", ""), thick)


def _points(text: str, thick: float) -> _Corners | None:
    numbers = [float(found) for found in _NUMBER.findall(text)]
    if len(numbers) < 4:
        return None
    xs, ys = numbers[::2], numbers[1::2]
    return min(xs) - thick, min(ys) - thick, max(xs) + thick, max(ys) + thick


def _text(element: ElementTree.Element, kind: str, measure: int, staff: int) -> Iterator[Box]:
    runs = list(text_runs(element))
    said = "".join(text for text, _, _ in runs)
    if not said:
        return
    width = sum([text_width(text, size, bold=bold) for text, size, bold in runs])
    x, y = float(element.get("x", "0")), float(element.get("y", "0"))
    anchor = element.get("text-anchor", "start")
    left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    heights = [text_height(text, size, bold=bold) for text, size, bold in runs]
    low, high = min(low for low, _ in heights), max(high for _, high in heights)
    yield _lowered(Box(kind, left, y - high, left + width, y - low, element, said, measure, staff))


def text_runs(element: ElementTree.Element) -> Iterator[tuple[str, float, bool]]:
    """The runs of a text element: words, size, whether bold. Spaces of the layout are left out.

    The signs of a bold symbol are named: the bold face lacks them (``engraved_rows.py``).
    """
    for span in element.iter():
        size = float((span.get("font-size") or "0px").removesuffix("px"))
        text = (span.text or "").strip()
        if text and size:
            is_named = span.get("font-family") == FONT_FAMILY
            yield text, size, is_named or span.get("font-weight") == "bold"


@lru_cache(maxsize=4096)
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide a word is at a size, in the unit of the size."""
    table = _metrics()
    return sum(table.get(ord(c), _USUAL)[3 * bold] for c in text) * size / 1000


@lru_cache(maxsize=4096)
def text_height(text: str, size: float, *, bold: bool = False) -> tuple[float, float]:
    """How far a word reaches below its line (negative) and above it, in the unit of the size."""
    table = _metrics()
    found = [table.get(ord(c), _USUAL) for c in text]
    low = min(row[1 + 3 * bold] for row in found)
    high = max(row[2 + 3 * bold] for row in found)
    return low * size / 1000, high * size / 1000


_USUAL = (700, -220, 760, 700, -220, 760)
"""Of a character that the table lacks: rather too much than too little."""


@lru_cache(maxsize=1)
def _metrics() -> dict[int, tuple[int, ...]]:
    found = {}
    for line in _WIDTHS.read_text("ascii").splitlines():
        if not line.startswith("#"):
            code, *numbers = line.split()
            found[int(code, 16)] = tuple(map(int, numbers))
    return found
