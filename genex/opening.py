"""What a build made, opened in the user's browser: the practice page, or else the sheet.

A page that is built again and again is served to the browser on this machine, so that it can follow.
"""

from __future__ import annotations

import subprocess
import sys
import webbrowser
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from genex.publishing.manifest import MANIFEST

PAGE = ".page.html"
SHOWN = (PAGE, ".handout.pdf", ".book.pdf", ".chart.svg", ".tab.txt", ".chart.txt")
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


class Live:
    """A page that follows what is built, in a process that ends with this one. To be closed."""

    def __init__(self, page: Path) -> None:
        """Begin to serve it. Raises OSError where no process or no address is to be had."""
        words = [sys.executable, "-m", "genex.page.live", str(page.resolve())]
        self._process = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert self._process.stdout is not None
        self.address = self._process.stdout.readline().strip()
        if not self.address:
            self.close()
            raise OSError("the page could not be served")

    def close(self) -> None:
        """End it."""
        assert self._process.stdin is not None and self._process.stdout is not None
        with suppress(OSError):
            self._process.stdin.close()
        self._process.stdout.close()
        self._process.wait()
