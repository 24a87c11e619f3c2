"""Tempo on a page: its mark, and where fermatas stand over their chords and words at their bars."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from genex.exact import Fraction
from genex.score import Bar, Meter, TempoMap, TempoWord, Timeline

FERMATA = "fermata"
"""What stands over a bar where a sign cannot be drawn."""


MARKS = {Fraction(1): "quarter", Fraction(3, 2): "dotted_quarter", Fraction(2): "half"}
"""Note values that a metronome mark names, and their words."""


def tempo_words(tempo: TempoMap, meter: Meter, phrases: Mapping[str, str]) -> str:
    """``quarter = 96``; a dotted quarter, in 2/2 a half; first and last where it rises or falls."""
    unit = phrases[MARKS[meter.mark_beats]]
    first, last = first_and_last(tempo, meter, phrases)
    text = f"{unit} = {first}"
    return text if last == first else phrases["tempo_changes"].format(tempo=text, last=last)


def first_and_last(tempo: TempoMap, meter: Meter, phrases: Mapping[str, str]) -> tuple[str, str]:
    """The tempo at the beginning, and where it only rises or only falls that at the end.

    One that goes up and down is told where it changes.
    """
    marks = [change.mark(meter) for change in tempo.changes]
    steady = marks in (sorted(marks), sorted(marks, reverse=True))
    ends = marks[0], marks[-1] if steady else marks[0]
    return plain_number(ends[0], phrases), plain_number(ends[1], phrases)


def plain_number(value: Fraction, phrases: Mapping[str, str]) -> str:
    """A number with at most two decimals, none where there are none; a comma before them but in English
    [published: CLDR, numbers, decimal sign]."""
    text = f"{float(value):.2f}".rstrip("0").rstrip(".")
    return text if phrases["language"] == "en" else text.replace(".", ",")


class TempoSigns:
    """The signs of a timeline on a page that has these of its bars; on a chart, where none are told.

    A page that has the bar where a take obeys a sign writes it there alone; one that folds that bar
    into an earlier one, and a chart, wherever the sign is written.
    """

    def __init__(self, timeline: Timeline, bars: Iterable[Bar] | None = None) -> None:
        onsets = {bar.onset_beats for bar in bars or ()}
        obeyed = {
            sign.written
            for sign in timeline.signs
            if sign.is_played and timeline.bar_at(sign.onset_beats).onset_beats in onsets
        }
        self._signs = [s for s in timeline.signs if s.is_played or s.written not in obeyed]

    def words(self, bar: Bar) -> str:
        """What is written before a bar: ``rit.``, ``a tempo``, both; empty for nothing."""
        return " ".join(self.names(bar))

    def names(self, bar: Bar) -> tuple[TempoWord, ...]:
        """The signs before a bar, in order: a bar may begin in time after one ritardando and with
        another."""
        return tuple(
            sign.name
            for sign in self._signs
            if sign.name != "fermata" and sign.onset_beats == bar.onset_beats
        )

    def fermatas(self, bar: Bar) -> tuple[Fraction, ...]:
        """Onsets of the chords of a bar that are held."""
        return tuple(
            sign.onset_beats
            for sign in self._signs
            if sign.name == "fermata" and bar.onset_beats <= sign.onset_beats < bar.end_beats
        )
