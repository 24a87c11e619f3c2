"""The chord chart as the templates take it: sections with repeat signs, bars in rows."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from itertools import groupby, pairwise
from typing import Any

from genex.exact import Fraction
from genex.export.chart import Chart, ChartBar, ChartSection, chart_of
from genex.export.handout.typeset import plain_text
from genex.export.typography import with_signs
from genex.score import Timeline

LEGIBLE_SYMBOL = 18
"""Characters of a chord symbol that a quarter of a row holds, set a little smaller if need be."""

LONGEST_NAME = 48
"""Characters of a section name that fit beside its first row."""


def chart_block(timeline: Timeline, phrases: Mapping[str, str]) -> dict[str, Any]:
    """Sections, each with how often it is played in a row at its first place, and remarks."""
    chart = chart_of(timeline)
    written = _written(chart)
    remarks = []
    if [section.name for section, times in written for _ in range(times)] != list(chart.order):
        # The order says it all; signs of repetition beside it would be played on top.
        written = [(section, 1) for section, _ in written]
        order = "  ".join(plain_text(name) for name in chart.order)
        remarks.append(phrases["order_of_sections"].format(order=order))
    if chart.times > 1:
        remarks.append(phrases["played_times"].format(count=chart.times))
    return {
        "kind": "chart",
        "heading": phrases["chart"],
        "remarks": remarks,
        "sections": [
            {
                "name": textwrap.shorten(plain_text(section.name), LONGEST_NAME, placeholder=" …"),
                "times": times,
                "columns": _columns(section.bars),
                "bars": [_bar(bar, first=index == 0) for index, bar in enumerate(section.bars)],
            }
            for section, times in written
        ],
    }


def _written(chart: Chart) -> list[tuple[ChartSection, int]]:
    """Sections that follow themselves become one with a repeat."""
    if len(chart.sections) == len(chart.order):
        return [(section, len(list(run))) for section, run in groupby(chart.sections)]
    runs: dict[str, int] = {}
    for name, run in groupby(chart.order):
        runs.setdefault(name, len(list(run)))
    return [(section, runs[section.name]) for section in chart.sections]


def _columns(bars: Sequence[ChartBar]) -> int:
    """Bars in a row: four, or two or one where symbols are too long for that."""
    longest = max(len(symbol) / share for bar in bars for _, share, symbol in _chords(bar))
    return 4 if longest <= LEGIBLE_SYMBOL else 2 if longest <= 2 * LEGIBLE_SYMBOL else 1


def _bar(bar: ChartBar, *, first: bool) -> dict[str, Any]:
    """A section's first bar is written out even where it has the chords of the bar before."""
    return {
        "again": bar.repeats and not first,
        "chords": [
            {"symbol": with_signs(symbol), "at": float(at), "share": float(share)}
            for at, share, symbol in _chords(bar)
        ],
    }


def _chords(bar: ChartBar) -> list[tuple[Fraction, Fraction, str]]:
    """Place, share of the bar and symbol of each chord."""
    edges = [*(at for at, _ in bar.chords), Fraction(1)]
    symbols = [symbol for _, symbol in bar.chords]
    return [(at, end - at, symbol) for (at, end), symbol in zip(pairwise(edges), symbols, strict=True)]
