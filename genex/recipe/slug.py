"""A file name from a title."""

from __future__ import annotations

import re
import unicodedata

MAX_LENGTH = 60
_DEVICE_NAMES = frozenset(
    ["con", "prn", "aux", "nul", *(f"{name}{n}" for name in ("com", "lpt") for n in range(1, 10))]
)


def slug_of(title: str, otherwise: str = "") -> str:
    """Lower-case ASCII letters and digits joined by hyphens; never empty, never a path.

    A title without any is named after ``otherwise``, such as the recipe's file. Accidentals and
    ß-like letters are kept readable where Unicode has a decomposition; names that some systems
    reserve for devices get a prefix.
    """
    text = title.replace("♭", "b").replace("♯", "-sharp").replace("#", "-sharp ").replace("ß", "ss")
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii").lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:MAX_LENGTH].strip("-")
    if not slug:
        return slug_of(otherwise) if otherwise else "lesson"
    return f"lesson-{slug}" if slug in _DEVICE_NAMES else slug
