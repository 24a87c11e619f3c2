"""Musical signs for print, and the fonts that hold them.

Screens and paper get ♭ and ♯; plain text for the terminal and MIDI keeps ``b`` and ``#``.
DejaVu Sans holds every sign used here and comes with genex (``fonts/``, with its licence).
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from genex.readers.font import Font

FONT_FAMILY = "DejaVu Sans"
FONT_FOLDER = Path(__file__).resolve().parent / "fonts"

_FLAT = re.compile(r"(?<=[A-G])bb?|bb?(?=\d)")
_NOT_A_NAME = re.compile(r"[^\w -]")
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def font_files() -> list[Path]:
    """The font files that genex sets text with."""
    return sorted(FONT_FOLDER.glob("*.ttf"))


@contextmanager
def font_file(font: Font) -> Iterator[Path]:
    """A font's bytes as a file in a folder of its own, for libraries that read no other."""
    with tempfile.TemporaryDirectory(prefix="genex-font-") as folder:
        path = Path(folder) / "font.ttf"
        path.write_bytes(font.data)
        yield path


def families(font: Font | None) -> str:
    """The families that screens take letters from, as CSS and SVG list them."""
    own = "" if font is None else f"'{_NOT_A_NAME.sub('', font.family)}', "
    return f"{FONT_FAMILY}, {own}sans-serif"


def with_signs(text: str) -> str:
    """A note name, degree, key or chord symbol with ♭ and ♯: ``Bbm7b5`` becomes ``B♭m7♭5``."""
    flats = _FLAT.sub(lambda match: "♭" * len(match.group()), text)
    # The fonts have no double signs, which chord symbols may be written with.
    return flats.replace("#", "♯").replace("𝄫", "♭♭").replace("𝄪", "♯♯")


def xml_safe(text: str) -> str:
    """Text without the control characters that XML cannot hold [published: W3C XML 1.0, Char]."""
    return _NOT_XML.sub("", text)
