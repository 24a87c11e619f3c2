"""Words that a teacher writes for students: paragraphs and lists, with emphasis.

The marks are those of CommonMark [published: CommonMark 0.31], of which only emphasis, lists and
paragraphs mean something; all else is text as it stands. Nothing in it is ever run: no link, no HTML,
no markup of the typesetter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from genex.lazy import lazy

if TYPE_CHECKING:
    import markdown_it
    from markdown_it.token import Token
else:
    markdown_it = lazy("markdown_it")

Stress = Literal["", "emphasis", "strong"]


@dataclass(frozen=True, slots=True)
class Span:
    """Words of one look. ``breaks`` is a line that ends behind them."""

    text: str
    stress: Stress = ""
    breaks: bool = False


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph, or an item of a list.

    marker  empty for a paragraph, ``•`` or a number for an item
    depth   how many lists it lies in
    """

    spans: tuple[Span, ...]
    marker: str = ""
    depth: int = 0

    @property
    def plain(self) -> str:
        """Its words without marks."""
        return "".join(span.text + (" " if span.breaks else "") for span in self.spans)


def read_marked(text: str) -> tuple[Paragraph, ...]:
    """The paragraphs of a text; every text has a reading."""
    parser = markdown_it.MarkdownIt("zero").enable(["emphasis", "list", "newline", "escape"])
    found = []
    markers: list[tuple[bool, int]] = []
    pending = ""
    for token in parser.parse(text):
        if token.type in ("bullet_list_open", "ordered_list_open"):
            markers.append((token.tag == "ol", int(token.attrGet("start") or 1)))
        elif token.type in ("bullet_list_close", "ordered_list_close"):
            markers.pop()
        elif token.type == "list_item_open":
            numbered, number = markers[-1]
            pending = f"{number}." if numbered else "•"
            markers[-1] = numbered, number + 1
        elif token.type == "inline":
            found.append(Paragraph(tuple(_spans(token.children or ())), pending, len(markers)))
            pending = ""
    return tuple(found)


def _spans(tokens: Sequence[Token]) -> list[Span]:
    found: list[Span] = []
    stress: list[Stress] = []
    for token in tokens:
        if token.type in ("em_open", "strong_open"):
            stress.append("emphasis" if token.tag == "em" else "strong")
        elif token.type in ("em_close", "strong_close"):
            stress.pop()
        elif token.type == "softbreak":
            found.append(Span(" ", stress[-1] if stress else ""))
        elif token.type == "hardbreak":
            found.append(Span("", breaks=True))
        elif token.content:
            found.append(Span(token.content, stress[-1] if stress else ""))
    return found
