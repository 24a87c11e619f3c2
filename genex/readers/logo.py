"""A picture that a teacher gives for the sheet: SVG made harmless, PNG measured before it is decoded.

Of an SVG file only shapes, gradients and what they refer to inside the file is kept, element by element
[published: SVG 1.1 (Second Edition), W3C 2011]: no script, no handler of events, nothing of another
namespace. What would be drawn and cannot be kept (text in fonts that nobody here has, pictures and
styles from elsewhere, filters) is refused, so that no logo comes out other than it looks. A group that
uses a group that uses a group draws its innermost shapes more often than any file is long: drawn
elements are counted, not written ones.

Of a PNG file signature and size are read from its first chunk [published: PNG (Second Edition), W3C
2003, 5.2 and 11.2.2]; the typesetter decodes it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

from genex.errors import ChartFileError, InputError, Place
from genex.readers.charts.xml_tree import Element, read_tree

MAX_BYTES = 1 << 20
MOST_PIXELS = 16_000_000
MOST_DRAWN = 10_000
_DEEPEST = 100

_PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_SPACE = "http://www.w3.org/2000/svg"
_SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})
_KEPT = _SHAPES | {
    "svg", "g", "defs", "symbol", "use", "clipPath", "mask", "pattern", "marker", "style",
    "linearGradient", "radialGradient", "stop",
}  # fmt: skip
_LEFT_AWAY = frozenset(
    {"title", "desc", "metadata", "script", "animate", "animateMotion", "animateTransform", "set"}
)
"""What draws nothing, or moves what is drawn."""
_PATHS = "save it as plain SVG with its text turned into paths, or as PNG"
_REFERENCE = re.compile(r"url\(\s*(['\"]?)(.*?)\1\s*\)", re.IGNORECASE)
_AGAIN = "save it as plain SVG, or as PNG"


@dataclass(frozen=True, slots=True)
class Logo:
    """A picture that may be set: ``data`` is SVG text in UTF-8, or PNG of ``pixels``, its size."""

    format: Literal["svg", "png"]
    data: bytes
    pixels: tuple[int, int] = (0, 0)


def read_logo(data: bytes, file: str) -> Logo:
    """The picture in a file's bytes. Raises InputError for one that cannot be set as it looks."""
    if len(data) > MAX_BYTES:
        raise InputError(
            f"the logo is larger than {MAX_BYTES >> 10} kB", hint="save it smaller", place=Place(file)
        )
    if data.startswith(_PNG_SIGNATURE):
        return Logo("png", data, _pixels(data, file))
    if b"<svg" not in data and b":svg" not in data:
        raise InputError(
            "the logo is neither SVG nor PNG", hint="save it as one of the two", place=Place(file)
        )
    try:
        root = read_tree(data, file, "logo", _AGAIN)
    except ChartFileError as error:
        raise InputError(error.message, hint=error.hint, place=error.place) from None
    return Logo("svg", _Cleaner(root).text().encode())


def _pixels(data: bytes, file: str) -> tuple[int, int]:
    """Width and height of a PNG. Raises InputError for one that is too large to be decoded."""
    width, height = (int.from_bytes(data[at : at + 4], "big") for at in (16, 20))
    if data[12:16] != b"IHDR" or not width or not height:
        raise InputError("the logo is a damaged PNG", hint="save it again", place=Place(file))
    if width * height > MOST_PIXELS:
        raise InputError(
            f"the logo has {width} x {height} pixels",
            hint=f"at most {MOST_PIXELS // 1_000_000} million: save it smaller",
            place=Place(file),
        )
    return width, height


class _Cleaner:
    """Writes of an SVG tree what is harmless, and refuses what would then be missing."""

    def __init__(self, root: Element) -> None:
        self.root = root
        if _name(root) != "svg":
            raise _refused(root, f"the file is no SVG: it begins with '{root.tag[:40]}'", _AGAIN)
        self.by_name: dict[str, Element] = {}
        for element in self._all(root):
            self.by_name.setdefault(element.attributes.get("id", ""), element)
        self.drawn: dict[int, int] = {}
        self.open: set[int] = set()

    def text(self) -> str:
        """The document. Raises InputError."""
        if not any(_name(element) in _SHAPES for element in self._all(self.root)):
            raise _refused(self.root, "nothing is drawn in the logo", _PATHS)
        self._count(self.root)
        return "".join(self._written(self.root, is_root=True))

    def _all(self, element: Element) -> Iterator[Element]:
        """An element and those inside it that are kept."""
        if _is_kept(element):
            yield element
            for child in element.children:
                yield from self._all(child)

    def _count(self, element: Element) -> int:
        """How many elements are drawn for one, with all that it refers to. Raises InputError."""
        key = id(element)
        if key in self.open or len(self.open) > _DEEPEST:
            raise _refused(element, "the logo refers to itself, or on and on", _AGAIN)
        if key not in self.drawn:
            self.open.add(key)
            inside = [child for child in element.children if _is_kept(child)]
            meant = [self.by_name[name] for name in _references(element) if name in self.by_name]
            if _name(element) == "style" and any(not _name(one).endswith("Gradient") for one in meant):
                # A style holds for any number of elements: what it draws could not be counted.
                raise _refused(element, "a style of the logo refers to more than gradients", _AGAIN)
            self.drawn[key] = 1 + sum(map(self._count, (*inside, *meant)))
            self.open.discard(key)
        if self.drawn[key] > MOST_DRAWN:
            raise _refused(element, f"the logo draws more than {MOST_DRAWN} things", "save it as PNG")
        return self.drawn[key]

    def _written(self, element: Element, *, is_root: bool = False) -> Iterator[str]:
        name = _name(element)
        given = {key: value for key, value in element.attributes.items() if _is_plain(key)}
        if is_root:
            given = {"xmlns": _SPACE, "xmlns:xlink": "http://www.w3.org/1999/xlink", **given}
        yield f"<{name}{''.join(f' {key}={quoteattr(value)}' for key, value in given.items())}>"
        if name == "style":
            yield escape(element.text)
        for child in element.children:
            if _is_kept(child):
                yield from self._written(child)
        yield f"</{name}>"


def _name(element: Element) -> str:
    """The name of an element of SVG; with its prefix that of another namespace."""
    prefix, _, name = element.tag.rpartition(":")
    return name if prefix in ("", "svg") else element.tag


def _is_kept(element: Element) -> bool:
    """Whether an element is written; False for one that draws nothing. Raises InputError."""
    name = _name(element)
    if ":" in name or name in _LEFT_AWAY:
        return False
    if name in ("text", "tspan", "textPath", "flowRoot"):
        raise _refused(element, "the logo holds text, whose font genex does not have", _PATHS)
    if name not in _KEPT:
        raise _refused(element, f"'{name}' in the logo cannot be printed", _AGAIN)
    styles = (*element.attributes.values(), *((element.text,) if name == "style" else ()))
    if any("\\" in style for style in styles) or (name == "style" and "@" in element.text):
        raise _refused(element, "the logo takes its style from elsewhere", _AGAIN)
    for _ in _references(element):
        pass  # refuses what lies elsewhere
    return True


def _is_plain(attribute: str) -> bool:
    """Whether an attribute is SVG's own and starts nothing."""
    return not attribute.lower().startswith(("on", "xmlns")) and (
        ":" not in attribute or attribute == "xlink:href"
    )


def _references(element: Element) -> Iterator[str]:
    """Names of the elements that one refers to. Raises InputError for what lies outside the file."""
    values = [value for key, value in element.attributes.items() if _is_plain(key)]
    found = [match[2] for value in (*values, element.text) for match in _REFERENCE.finditer(value)]
    found += [element.attributes[key] for key in ("href", "xlink:href") if key in element.attributes]
    for target in found:
        if not target.strip().startswith("#"):
            raise _refused(element, "the logo refers to something outside its file", _AGAIN)
        yield target.strip()[1:]


def _refused(element: Element, message: str, hint: str) -> InputError:
    return InputError(message, hint=hint, place=element.place)
