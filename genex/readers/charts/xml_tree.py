"""XML as a tree whose elements know their lines. Declared entities are refused, none is fetched.

The standard library's expat reads it. A billion laughs and an external entity begin with a declaration
in the document itself [published: XML 1.0, 4.2], so a file that declares one ends there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NoReturn
from xml.parsers import expat

from genex.errors import ChartFileError, Place
from genex.readers.charts.foreign_chart import MAX_BARS, too_many_bars

_MOST_ELEMENTS = 200_000
_DEEPEST = 60


@dataclass(slots=True)
class Element:
    """An element with its attributes, the text inside it, its children and where it begins."""

    tag: str
    attributes: dict[str, str]
    file: str
    line: int = 1
    column: int = 1
    text: str = ""
    children: list[Element] = field(default_factory=list)

    @property
    def place(self) -> Place:
        """Where the element begins."""
        return Place(self.file, self.line, self.column)

    def find(self, *path: str) -> Element | None:
        """The first element along a path of tags."""
        found: Element | None = self
        for tag in path:
            if found is None:
                return None
            found = next((child for child in found.children if child.tag == tag), None)
        return found

    def all(self, tag: str) -> list[Element]:
        """The children of a tag."""
        return [child for child in self.children if child.tag == tag]

    def walk(self, tag: str) -> Iterator[Element]:
        """All elements of a tag inside this one."""
        for child in self.children:
            if child.tag == tag:
                yield child
            yield from child.walk(tag)

    def said(self, *path: str) -> str:
        """The text of the first element along a path; empty without one."""
        found = self.find(*path)
        return "" if found is None else found.text.strip()


def read_tree(
    data: bytes, file: str, what: str = "chart", again: str = "export the chart alone, as MusicXML"
) -> Element:
    """The root of a document. Raises ChartFileError with line and column.

    ``what`` the document is, and how to write it ``again`` if it cannot be read, stand in messages.
    """
    return _Builder(file, what, again).read(data)


class _Builder:
    def __init__(self, file: str, what: str, again: str) -> None:
        self.file, self.what, self.again = file, what, again
        self.root = Element("", {}, file)
        self.open = [self.root]
        self.count = 0
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._data
        self.parser.EntityDeclHandler = self._entity

    def read(self, data: bytes) -> Element:
        try:
            self.parser.Parse(data, True)
        except expat.ExpatError as error:
            raise ChartFileError(
                f"the file is no XML, or it is damaged: {expat.ErrorString(error.code)}",
                hint=self.again,
                place=Place(self.file, error.lineno, error.offset + 1),
            ) from None
        except (LookupError, ValueError):  # an encoding that Python does not know
            self._refuse("the file is in an encoding that cannot be read")
        return self.root.children[0]

    def _place(self) -> Place:
        return Place(self.file, self.parser.CurrentLineNumber, self.parser.CurrentColumnNumber + 1)

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self.count += 1
        if tag == "measure" and len(self.open[-1].children) > MAX_BARS:
            raise too_many_bars(self._place())
        if self.count > _MOST_ELEMENTS or len(self.open) > _DEEPEST:
            self._refuse(f"the file is too large for a {self.what}")
        line, column = self.parser.CurrentLineNumber, self.parser.CurrentColumnNumber + 1
        element = Element(tag, attributes, self.file, line, column)
        self.open[-1].children.append(element)
        self.open.append(element)

    def _end(self, tag: str) -> None:
        self.open.pop()

    def _data(self, text: str) -> None:
        self.open[-1].text += text

    def _entity(self, *_: Any) -> None:
        self._refuse(f"the file declares entities, which no {self.what} needs")

    def _refuse(self, message: str) -> NoReturn:
        raise ChartFileError(message, hint=self.again, place=self._place())
