"""Chord symbols as files of others write them, made symbols that a recipe holds."""

from __future__ import annotations

import re

from genex.errors import ChordSymbolError, Place
from genex.exact import Fraction
from genex.readers.charts.foreign_chart import ForeignBar, ForeignChart, Symbol, quoted
from genex.theory import is_no_chord, parse_chord, without_optional

_LONGEST_SYMBOL = 60
_OLD_SHARP_BASS = re.compile(r"(?<=/)([A-Ga-g])\+$")
"""Older collections write ``D/f+`` for D/F#, as + was the sharp of their bass notes
[package: music21, nottingham-dataset]."""


def add_symbol(chart: ForeignChart, bar: ForeignBar, text: str, onset: Fraction, place: Place) -> None:
    """Put a chord of the file into a bar; what cannot be read of it is listed."""
    written = text.strip()
    if is_no_chord(written):
        bar.symbols.append(Symbol("", onset, place))
        return
    played, optional = without_optional(_OLD_SHARP_BASS.sub(r"\1#", written[: _LONGEST_SYMBOL + 1]))
    try:
        symbol = "".join(parse_chord(played).symbol.split())
    except ChordSymbolError:
        chart.leave(f"{quoted(written)} is not a chord that can be read", place)
        return
    if optional == played:
        chart.leave(f"{quoted(written)} is optional; it is played", place)
    elif optional:
        chart.leave(f"{quoted(optional)} may be played instead of {played}", place)
    bar.symbols.append(Symbol(symbol, onset, place))


def is_symbol(text: str) -> bool:
    """Whether a word is a chord symbol, or says that no chord is played."""
    if is_no_chord(text):
        return True
    try:
        parse_chord(text[: _LONGEST_SYMBOL + 1])
    except ChordSymbolError:
        return False
    return True
