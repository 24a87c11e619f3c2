"""Chord symbols as files of others write them, made symbols that a recipe holds."""

from __future__ import annotations

import re
from dataclasses import replace

from genex.errors import ChordSymbolError, Place
from genex.exact import Fraction
from genex.readers.charts.foreign_chart import ForeignBar, ForeignChart, Symbol, quoted
from genex.theory import is_no_chord, parse_chord, without_optional

_LONGEST_SYMBOL = 60
_OLD = (
    (re.compile(r"(?<=/)([A-Ga-g])\+$"), r"\1#"),
    (re.compile(r"(?<=/)n(?=[A-G]$)"), ""),
    (re.compile(r"^([A-G][b#]?)d(?=7?(?:/|$))"), r"\1dim"),
    (re.compile(r"^([A-G][b#]?)a(?=7?(?:/|$))"), r"\1aug"),
)
"""What a large collection of dance tunes writes otherwise: ``D/f+`` for D/F#, ``D/nF`` for D/F, ``Gd``
for Gdim, ``Da`` for Daug [data: the Nottingham Music Database in ABC, by the notes below them]."""
_BASS_ALONE = re.compile(r"([a-g])([#+b]?)")
"""A small letter is a bass note under the chord that goes on [data: the same]."""


def add_symbol(chart: ForeignChart, bar: ForeignBar, text: str, onset: Fraction, place: Place) -> None:
    """Put a chord of the file into a bar; what cannot be read of it is listed."""
    written = " ".join(text.split())
    if is_no_chord(written):
        bar.symbols.append(Symbol("", onset, place))
        return
    found = _over_bass(chart, bar, written) or _read(written)
    if found is None:
        chart.leave(f"{quoted(written)} is not a chord that can be read", place)
        return
    played, optional = found
    bar.symbols.append(Symbol(played, onset, place, optional))


def add_other_symbol(chart: ForeignChart, bar: ForeignBar, text: str, place: Place) -> None:
    """A second symbol over one note: what may be played instead of the first."""
    found = _read(" ".join(text.split()))
    if found is None or not bar.symbols or not bar.symbols[-1].text or bar.symbols[-1].optional:
        chart.leave(f"{quoted(text)}, a further symbol over one note", place)
    elif found[0] != bar.symbols[-1].text:
        bar.symbols[-1] = replace(bar.symbols[-1], optional=found[0])


def _read(written: str) -> tuple[str, str] | None:
    """The chord that is played and the one that is optional, as a recipe writes them."""
    text = written[: _LONGEST_SYMBOL + 1]
    for pattern, instead in _OLD:
        text = pattern.sub(instead, text)
    played, optional = without_optional(text)
    try:
        first = "".join(parse_chord(played).symbol.split())
        return first, "".join(parse_chord(optional).symbol.split()) if optional else ""
    except ChordSymbolError:
        return None


def _over_bass(chart: ForeignChart, bar: ForeignBar, written: str) -> tuple[str, str] | None:
    """The chord that sounds, over a bass note that stands alone."""
    match = _BASS_ALONE.fullmatch(written)
    if match is None:
        return None
    before = next((one.symbols[-1].text for one in (bar, *reversed(chart.bars)) if one.symbols), "")
    if not before:
        return None
    bass = match[1].upper() + match[2].replace("+", "#")
    chord = parse_chord(before)
    plain = before if chord.bass == chord.root else before.rpartition("/")[0]
    return _read(plain if str(chord.root) == bass else f"{plain}/{bass}")


def is_symbol(text: str) -> bool:
    """Whether a word is a chord symbol, or says that no chord is played."""
    if is_no_chord(text):
        return True
    try:
        parse_chord(text[: _LONGEST_SYMBOL + 1])
    except ChordSymbolError:
        return False
    return True
