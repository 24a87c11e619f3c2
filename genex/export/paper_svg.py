"""An engraved system as a typesetter needs it: the same strokes, signs and words, and nothing else.

The engraver's picture says of each stroke which bar, note and beam it belongs to, and names every sign
that it draws. Whoever sets hundreds of systems into pages pays for each of these groups and references,
and for a style sheet; here strokes of one width are one path, and a sign is its outline where it stands.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from functools import lru_cache
from html import escape

from genex.export.engraved_boxes import HREF, SVG, glyph_place
from genex.export.word_rows import SIGNS, Word, in_one_text

_STROKES = "path", "polyline", "polygon", "rect", "ellipse"
_HIDDEN = "placeholder"
_BOLD, _ITALIC = ("reh", "tempo"), ("dir", "dynam", "mNum")
"""Words that the engraver's style sheet sets in bold and in italics, by the class of their group."""

_OWN = frozenset({"font-size", "font-family", "font-weight", "font-style", "x", "y"})
"""What a run of words may say for itself."""
ADVANCES = {**dict.fromkeys(SIGNS, 465), "♭": 500, "♯": 440}
"""Of Linux Libertine, in thousandths of the size, as its file has them; it has its own accidentals."""
_PLAIN = frozenset({"x", "y", "text-anchor", "font-size"})
_DIGITS = re.compile(f"[{SIGNS}]+")


def paper_svg(drawing: ElementTree.Element) -> str:
    """The picture of a system, black on nothing, of the same size."""
    found = _Found({group.get("id", ""): group for group in drawing.iterfind(f"{SVG}defs/{SVG}g")})
    sheet = next(svg for svg in drawing.iter(f"{SVG}svg") if svg.get("class") == "definition-scale")
    page = next(group for group in sheet.iter(f"{SVG}g") if group.get("class") == "page-margin")
    found.walk(page, "")
    lines = (
        f'<path fill="none" stroke="#000" stroke-width="{width}" d="{"".join(places)}"/>'
        for width, places in found.lines.items()
    )
    rows = (
        in_one_text(words, _advances(size), f'font-size="{size}"')
        for size, words in found.digits.items()
    )
    return "".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{sheet.get("viewBox")}" '
            f'font-family="{sheet.get("font-family")}"><g transform="{page.get("transform")}">',
            *lines,
            *found.drawn,
            *rows,
            "</g></svg>",
        )
    )


class _Found:
    """What a system is drawn with: straight lines by their width, digits by their size, the rest."""

    def __init__(self, signs: dict[str, ElementTree.Element]) -> None:
        self.lines: dict[str, list[str]] = {}
        self.digits: dict[str, list[Word]] = {}
        self.drawn: list[str] = []
        self._outlines = {
            name: next(iter(group.iter(f"{SVG}path"))).get("d", "") for name, group in signs.items()
        }

    def walk(self, element: ElementTree.Element, kind: str) -> None:
        own = element.get("class", "")
        if _HIDDEN in own or element.get("visibility") == "hidden":
            return
        tag = element.tag[len(SVG) :]
        if tag == "text":
            self._text(element, kind)
            return
        if tag == "use":
            self._sign(element)
        elif tag in _STROKES:
            self._stroke(tag, element)
        for child in element:
            self.walk(child, own or kind)

    def _sign(self, element: ElementTree.Element) -> None:
        outline = self._outlines.get(element.get(HREF, "").lstrip("#"))
        if outline is not None:
            x, y, scale = glyph_place(element)
            place = f"matrix({scale:g},0,0,{-scale:g},{x:g},{y:g})"
            self.drawn.append(f'<path transform="{place}" d="{outline}"/>')

    def _stroke(self, tag: str, element: ElementTree.Element) -> None:
        said = {name: value for name, value in element.items() if name not in ("id", "class")}
        if said.keys() == {"d", "stroke-width"} and "C" not in said["d"]:
            self.lines.setdefault(said["stroke-width"], []).append(said["d"])
            return
        stroke = ' stroke="#000"' if "stroke-width" in said else ""
        self.drawn.append(f"<{tag}{_attributes(said)}{stroke}/>")

    def _text(self, element: ElementTree.Element, kind: str) -> None:
        said, runs = _words(element, kind)
        if not runs:
            return
        if len(runs) > 1:
            spans = (
                f"<tspan{_attributes(own)}>{escape(words, quote=False)}</tspan>" for words, own in runs
            )
            self.drawn.append(f"<text{_attributes(said)}>{''.join(spans)}</text>")
            return
        words, own = runs[0]
        said |= own
        if said.keys() <= _PLAIN and _DIGITS.fullmatch(words):
            place = float(said["x"]), float(said["y"]), said.get("text-anchor", "start")
            self.digits.setdefault(said["font-size"], []).append((words, *place))
        else:
            self.drawn.append(f"<text{_attributes(said)}>{escape(words, quote=False)}</text>")


@lru_cache
def _advances(size: str) -> dict[str, float]:
    return {sign: ADVANCES[sign] * float(size.removesuffix("px")) / 1000 for sign in SIGNS}


def _attributes(said: dict[str, str]) -> str:
    return "".join(f' {name}="{escape(value)}"' for name, value in said.items())


def _words(
    element: ElementTree.Element, kind: str
) -> tuple[dict[str, str], list[tuple[str, dict[str, str]]]]:
    """What a text says of its type, and its runs with what they say of theirs; none that are empty."""
    said = {name: value for name, value in element.items() if name not in ("id", "class", "font-size")}
    if kind in _BOLD:
        said["font-weight"] = "bold"
    if kind.split(" ")[0] in _ITALIC:
        said["font-style"] = "italic"
    return said, list(_runs(element, {}))


def _runs(element: ElementTree.Element, said: dict[str, str]) -> Iterator[tuple[str, dict[str, str]]]:
    """Words and what is said of them by the elements that hold them, the innermost last."""
    if (text := (element.text or "").strip("\n")).strip():
        yield text, said
    for child in element:
        own = {name: value for name, value in child.items() if name in _OWN}
        yield from _runs(child, said | own)
