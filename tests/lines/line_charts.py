"""Timelines for the tests of lines, written as a chart."""

from __future__ import annotations

from fractions import Fraction

from genex.score import Bar, ChordSpan, Meter, SectionSpan, TempoMap, Timeline
from genex.theory import Key, parse_chord


def chart(text: str, *, meter: str = "4/4", key: str = "C", tempo: int = 120) -> Timeline:
    """``Dm7 G7 | Cmaj7 | % | N.C.``: the chords of a bar share its time equally."""
    signature = Meter.parse(meter)
    bars, spans = [], []
    last = None
    for index, cell in enumerate(text.strip(" |").split("|")):
        onset = index * signature.bar_beats
        bars.append(Bar(index + 1, index + 1, 1, onset, signature, "A"))
        symbols = cell.split()
        for place, symbol in enumerate(symbols):
            length = signature.bar_beats / len(symbols)
            last = last if symbol == "%" else None if symbol == "N.C." else parse_chord(symbol)
            spans.append(ChordSpan(onset + place * length, length, last))
    length = len(bars) * signature.bar_beats
    return Timeline(
        Key.parse(key),
        TempoMap.constant(Fraction(tempo)),
        tuple(bars),
        tuple(spans),
        (SectionSpan(Fraction(0), length, "A", 1),),
    )
