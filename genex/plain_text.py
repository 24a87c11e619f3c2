"""Text that goes out: to a terminal, into tab, charts, captions, tables, MIDI and tags of sound.

What people write and what files of others hold may carry signs that are not seen and do something:
sequences that steer a terminal, marks that turn the direction of writing, control characters. None
of them leaves genex. Imports nothing of genex.

Literature: ECMA-48 (control sequences); Unicode Standard Annex 9, the bidirectional algorithm, and
Unicode Technical Report 36, section 2.7; OWASP, CSV injection.
"""

from __future__ import annotations

import re
import unicodedata

_SEQUENCE = re.compile(
    "(?:\x1b\\[|\x9b)[0-?]*[ -/]*[@-~]"  # CSI
    "|(?:\x1b[\\]PX^_]|[\x90\x98\x9d\x9e\x9f]).*?(?:\x07|\x1b\\\\|\x9c|$)"  # OSC, DCS, SOS, PM, APC
    "|\x1b[ -/]*[0-~]?",
    re.DOTALL,
)
_JOINERS = "\u200c\u200d"
"""Invisible signs that spelling needs: Persian, Indic scripts, emoji."""
_RUNS_IN_A_SPREADSHEET = tuple("=+-@\t\r")
_LONGEST_QUOTED = 120
_QUOTED = re.compile(rf"'([^'\n]{{{_LONGEST_QUOTED + 1},}})'")


def clean(text: str, *, lines: bool = False) -> str:
    """Text without anything that steers: control sequences and characters, marks of direction.

    Line breaks and tabs become blanks, unless ``lines`` are to stay. What is no character (half of
    a pair, a byte of a file's name that is not UTF-8) becomes U+FFFD.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_shown(sign, lines) for sign in _SEQUENCE.sub("", text))


def _shown(sign: str, lines: bool) -> str:
    kind = unicodedata.category(sign)
    if kind in ("Zl", "Zp") or sign in "\t\n\v\f\r\x85":
        return sign if lines and sign in "\n\t" else " "
    if kind == "Cs":
        return "\ufffd"
    return "" if kind == "Cc" or (kind == "Cf" and sign not in _JOINERS) else sign


def message(text: str) -> str:
    """A message for a terminal: clean, and with long quoted values cut."""
    return _QUOTED.sub(lambda found: f"'{found[1][: _LONGEST_QUOTED - 1]}…'", clean(text, lines=True))


def cell(text: str) -> str:
    """A cell of a table that no spreadsheet takes for a formula: such text gets an apostrophe."""
    plain = clean(text)
    return f"'{plain}" if plain.startswith(_RUNS_IN_A_SPREADSHEET) else plain
