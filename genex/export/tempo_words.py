"""Where a page writes the signs of tempo: fermatas over their chords, words at their bars."""

from __future__ import annotations

from collections.abc import Iterable

from genex.exact import Fraction
from genex.score import Bar, Timeline

FERMATA = "fermata"
"""What stands over a bar where a sign cannot be drawn."""


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
        """What is written before a bar: ``rit.``, ``a tempo``; empty for nothing."""
        return " ".join(
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
