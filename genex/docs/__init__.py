"""The documentation: pages of Markdown that come with genex, and how to find one.

A page is read as it lies here; only the marks around its generated tables, which are comments, are
left away. ``genex/docs_tables.py`` makes those tables.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from genex.errors import InputError
from genex.hints import did_you_mean

FOLDER = Path(__file__).parent
PAGES = (
    "recipes",
    "charts",
    "harmony",
    "exercises",
    "fingering",
    "feels",
    "sound",
    "handouts",
    "page",
    "series",
    "commands",
    "builds",
    "formats",
    "troubleshooting",
    "python",
    "changelog",
)
"""The pages in reading order."""

_ESCAPED = re.compile(r"\\([|<])")
_MARK = re.compile(r"^<!--.*?-->\n\n?", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Page:
    """A page: its name, the words of its first heading, and its Markdown."""

    name: str
    title: str
    text: str

    @property
    def plain(self) -> str:
        """The text for reading as it is: bar lines in tables without the sign that Markdown needs."""
        return _ESCAPED.sub(r"\1", self.text)


def read_page(name: str) -> Page:
    """The page of that name. Raises InputError where there is none."""
    if name not in PAGES:
        raise InputError(f"there is no page '{name}'", hint=did_you_mean(name, PAGES))
    text = _MARK.sub("", (FOLDER / f"{name}.md").read_text("utf-8"))
    return Page(name, text.partition("\n")[0].removeprefix("# "), text)


def read_pages() -> Iterator[Page]:
    """All pages in reading order."""
    return map(read_page, PAGES)
