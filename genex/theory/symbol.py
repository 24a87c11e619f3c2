"""Reading chord symbols (being widened to the full lead-sheet vocabulary)."""

from __future__ import annotations

import re
from functools import lru_cache

from genex.errors import ChordSymbolError
from genex.theory.chord import Chord
from genex.theory.pitch import Degree, NoteName, ascii_accidentals

_QUALITIES = {
    "": "1 3 5", "m": "1 b3 5", "dim": "1 b3 b5", "aug": "1 3 #5", "sus4": "1 4 5", "sus2": "1 2 5",
    "6": "1 3 5 6", "m6": "1 b3 5 6", "7": "1 3 5 b7", "maj7": "1 3 5 7", "m7": "1 b3 5 b7",
    "m7b5": "1 b3 b5 b7", "dim7": "1 b3 b5 bb7", "7sus4": "1 4 5 b7", "9": "1 3 5 b7 9",
    "maj9": "1 3 5 7 9", "m9": "1 b3 5 b7 9", "7b9": "1 3 5 b7 b9", "mmaj7": "1 b3 5 7",
}  # fmt: skip
_SYMBOL = re.compile(r"([A-G][b#]?)([^/]*)(?:/([A-G][b#]?))?")


@lru_cache(maxsize=4096)
def parse_chord(symbol: str) -> Chord:
    """Read a chord symbol. Raises ChordSymbolError with the position of what is wrong."""
    match = _SYMBOL.fullmatch(ascii_accidentals(symbol))
    if match is None or match[2] not in _QUALITIES:
        raise ChordSymbolError(
            f"'{symbol}' is not a chord symbol", symbol=symbol, position=0, hint="write for example Gm7"
        )
    root = NoteName.parse(match[1])
    degrees = tuple(Degree.parse(text) for text in _QUALITIES[match[2]].split())
    bass = NoteName.parse(match[3]) if match[3] else root
    return Chord(symbol, root, degrees, bass, match[2])
