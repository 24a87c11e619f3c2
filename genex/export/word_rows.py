"""Digits of a drawing set in one go: a typesetter looks for fonts and their rules anew for each text.

A page of diagrams and tab has some hundred texts of one or two digits. Those of one size and style are
made one text that says of each word how far it stands from the end of the one before. This needs the
advances of the fonts, so only digits and accidentals are taken.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

SIGNS = "0123456789♭♯"

_UNITS = 2048
_REGULAR = {**dict.fromkeys(SIGNS, 1303), "♭": 966, "♯": 991}
_BOLD = {**dict.fromkeys(SIGNS, 1425), "♭": 966, "♯": 991}
"""Advances of DejaVu Sans in units of the font, as its file has them."""

_SHARE = {"start": 0.0, "middle": 0.5, "end": 1.0}
_TEXT = re.compile(
    r'<text x="(-?[\d.]+)" y="(-?[\d.]+)" (fill="[^"]*") font-size="([\d.]+)" text-anchor="(\w+)"'
    rf'( font-weight="bold")?([^>]*)>([{SIGNS}]+)</text>\n?'
)

Word = tuple[str, float, float, str]
"""A word, its place, and whether that is its start, middle or end."""


def in_one_text(words: Iterable[Word], advances: Mapping[str, float], style: str) -> str:
    """The words as one element, ``style`` among its attributes; ``advances`` are those of the signs."""
    text, right, line = "", 0.0, 0.0
    across, down = [], []
    for word, x, y, anchor in words:
        width = sum(advances[sign] for sign in word)
        left = x - _SHARE[anchor] * width
        across += [f"{left - right:.2f}".rstrip("0").rstrip("."), *["0"] * (len(word) - 1)]
        down += [f"{y - line:.2f}".rstrip("0").rstrip("."), *["0"] * (len(word) - 1)]
        text, right, line = text + word, left + width, y
    return (
        f'<text dx="{" ".join(across)}" dy="{" ".join(down)}" {style} font-kerning="none">{text}</text>'
    )


def with_digits_in_rows(svg: str) -> str:
    """A picture of one diagram, its digits last, those of one size and colour as one text."""
    found: dict[tuple[str, str, str, str], list[Word]] = {}

    def taken(match: re.Match[str]) -> str:
        x, y, fill, size, anchor, bold, more, word = match.groups()
        found.setdefault((fill, size, bold or "", more), []).append((word, float(x), float(y), anchor))
        return ""

    left = _TEXT.sub(taken, svg)
    rows = []
    for (fill, size, bold, more), words in found.items():
        table = _BOLD if bold else _REGULAR
        advances = {sign: units * float(size) / _UNITS for sign, units in table.items()}
        rows.append(in_one_text(words, advances, f'{fill} font-size="{size}"{bold}{more}'))
    end = left.rindex("</g>")
    return "".join((left[:end], *rows, left[end:]))
