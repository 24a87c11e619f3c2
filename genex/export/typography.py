"""Musical signs for print, and the fonts that hold them.

Screens and paper get ♭ and ♯; plain text for the terminal and MIDI keeps ``b`` and ``#``.
DejaVu Sans holds every sign used here and comes with genex (``fonts/``, with its licence).
"""

from __future__ import annotations

import re
from pathlib import Path

FONT_FAMILY = "DejaVu Sans"
FONT_FOLDER = Path(__file__).resolve().parent / "fonts"

_FLAT = re.compile(r"(?<=[A-G])bb?|bb?(?=\d)")
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def font_files() -> list[Path]:
    """The font files that genex sets text with."""
    return sorted(FONT_FOLDER.glob("*.ttf"))


def with_signs(text: str) -> str:
    """A note name, degree, key or chord symbol with ♭ and ♯: ``Bbm7b5`` becomes ``B♭m7♭5``."""
    flats = _FLAT.sub(lambda match: "♭" * len(match.group()), text)
    # The fonts have no double signs, which chord symbols may be written with.
    return flats.replace("#", "♯").replace("𝄫", "♭♭").replace("𝄪", "♯♯")


def xml_safe(text: str) -> str:
    """Text without the control characters that XML cannot hold [published: W3C XML 1.0, Char]."""
    return _NOT_XML.sub("", text)
