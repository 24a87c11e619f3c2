"""The chord chart as rows of bars under section names, folded as a lead sheet is.

A section that is played again with the same chords is written once: with repeat signs where it
follows itself, else by its name in the order of sections.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from genex.score import Bar, ChordSpan, Timeline

Content = tuple[tuple[str, tuple[tuple[Fraction, Fraction, str], ...]], ...]


@dataclass(frozen=True, slots=True)
class GridBar:
    """A bar: onset and length in quarter notes and symbol (None for N.C.) of each chord.

    again  the bar has the chord of the bar before and nothing else
    """

    number: int
    length_beats: Fraction
    chords: tuple[tuple[Fraction, Fraction, str | None], ...]
    again: bool = False


@dataclass(frozen=True, slots=True)
class GridSection:
    """A section as it is written, played ``times`` in a row at its first place."""

    name: str
    bars: tuple[GridBar, ...]
    times: int = 1


@dataclass(frozen=True, slots=True)
class Grid:
    """The whole chart. ``order`` lists section names as played in a chorus."""

    sections: tuple[GridSection, ...]
    order: tuple[str, ...]
    choruses: int

    @property
    def shows_order(self) -> bool:
        """Whether the order does not follow from reading the sections once, with their repeats."""
        written = [section.name for section in self.sections for _ in range(section.times)]
        return written != list(self.order)


def chart_grid(timeline: Timeline) -> Grid:
    """The chart of the first chorus."""
    played = [
        (span.name, tuple(_bars(timeline, span.onset_beats, span.end_beats)))
        for span in timeline.sections
        if span.chorus == 1
    ]
    written: dict[tuple[str, object], GridSection] = {}
    for (name, _), group in groupby(played, key=lambda item: (item[0], _content(item[1]))):
        found = list(group)
        bars = found[0][1]
        written.setdefault((name, _content(bars)), GridSection(name, bars, len(found)))
    choruses = max(span.chorus for span in timeline.sections)
    return Grid(tuple(written.values()), tuple(name for name, _ in played), choruses)


def _bars(timeline: Timeline, start: Fraction, end: Fraction) -> list[GridBar]:
    found: list[GridBar] = []
    held: str | None = None
    for bar in timeline.bars:
        if not start <= bar.onset_beats < end:
            continue
        chords = tuple(_written(span, bar) for span in timeline.chords_in(bar))
        single = chords[0][2] if len(chords) == 1 else None
        again = bool(found) and single is not None and single == held
        found.append(GridBar(bar.form_number, bar.length_beats, chords, again))
        held = single
    return found


def _written(span: ChordSpan, bar: Bar) -> tuple[Fraction, Fraction, str | None]:
    symbol = span.chord.symbol if span.chord is not None else None
    return span.onset_beats - bar.onset_beats, min(span.length_beats, bar.length_beats), symbol


def _content(bars: tuple[GridBar, ...]) -> tuple[object, ...]:
    return tuple((bar.length_beats, bar.chords) for bar in bars)
