"""What a build made, opened in the user's browser: the practice page, or else the sheet."""

from __future__ import annotations

import webbrowser
from collections.abc import Sequence
from pathlib import Path

from genex.publishing.manifest import MANIFEST

SHOWN = (".page.html", ".handout.pdf", ".book.pdf", ".chart.svg", ".tab.txt", ".chart.txt")
"""Ends of the names of files that a browser shows, the one that says most first."""


def shown_of(files: Sequence[Path]) -> Path | None:
    """The file that shows most of what was built: of a series, that of the whole. None of no files.

    Where there is nothing that a browser shows, the folder.
    """
    if not files:
        return None
    for end in SHOWN:
        found = [file for file in files if file.name.endswith(end)]
        if found:
            return min(found, key=lambda file: len(file.parts))  # the first of the uppermost
    folders = [file.parent for file in files if file.name == MANIFEST]
    return min(folders or [files[0].parent], key=lambda folder: len(folder.parts))


def open_in_browser(address: str) -> bool:
    """Have an address shown. False where there is no browser that can be started."""
    try:
        return webbrowser.open(address)
    except (webbrowser.Error, OSError):
        return False
