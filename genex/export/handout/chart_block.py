"""The chord chart as the templates take it: sections, bars in rows, repeat signs and endings."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any

from genex.exact import Fraction
from genex.export.chart_rows import rows_of
from genex.export.chord_chart import (
    Chart,
    ChartBar,
    ChartSection,
    chart_of,
    enclosed,
    named_by_chord,
    section_facts,
    sign_notes,
)
from genex.export.handout.typeset import plain_text
from genex.export.moved_sections import only_chord
from genex.export.note_names import chord_name
from genex.export.page_signs import UNDERSTOOD_TIMES
from genex.export.typography import with_signs
from genex.export.under_chords import Texts, UnderChords, aligned, in_signs, longest_word
from genex.score import Timeline

LEGIBLE_SYMBOL = 18
"""Characters of a chord symbol that a quarter of a row holds, set a little smaller if need be."""

UNDER_LETTERS = 24
"""Letters under the chords of a bar that a quarter of a row holds."""

HALF_BARS = 3
"""Bars that half of a row holds, beside the name of their section."""

MANY_SHORT = 3
"""So many short sections in a row are a list, and stand two by two."""

_HALF_SHARE = 0.55
"""Room for a symbol in a bar of half a row, of that in a quarter of a row."""

MANY_CHORDS = 3
"""So many sections of one chord each are told in cells."""

LONGEST_NAME = 48
"""Characters of a section name that fit beside its first row."""


def chart_block(
    timeline: Timeline,
    phrases: Mapping[str, str],
    under: Collection[UnderChords] = (),
    *,
    texts: Mapping[Fraction, Texts] | None = None,
    capo: int = 0,
    share: float = 1.0,
) -> dict[str, Any]:
    """Sections, each with how often it is played in a row at its first place, and remarks.

    ``texts`` are lines to set under the chords in place of what ``under`` names; with a ``capo``
    their shapes stand first. ``share`` is how much of the usual number of letters a line holds.
    """
    chart = chart_of(timeline, under, texts, capo, phrases)
    is_bare = not under and not texts and not capo and not chart.has_signs and chart.times == 1
    if is_bare and share == 1 and (strip := _strip(timeline, phrases)):
        return {
            "kind": "chart",
            "heading": phrases["chart"],
            "remarks": [],
            "sections": [],
            "strip": strip,
        }
    written = _written(chart)
    if not _is_order(chart, written):
        # The order says it all; signs of repetition beside it would be played on top.
        written = [(section, 1) for section, _ in written]
    remarks = [*form_remarks(chart, phrases), *sign_notes(chart, phrases)]
    meters = _meters([section for section, _ in written])
    sections: list[dict[str, Any]] = [
        {
            "name": textwrap.shorten(plain_text(section.name), LONGEST_NAME, placeholder=" …"),
            "times": times,
            "facts": [with_signs(fact) for fact in section_facts(section, phrases)],
            "columns": HALF_BARS if is_half else _columns(section.bars, share),
            "is_half": is_half,
            "rows": _rows(section, changes, share, is_repeated=times > 1),
        }
        for (section, times), changes, is_half in zip(
            written, meters, _halves([section for section, _ in written], share), strict=True
        )
    ]
    if written[-1][0].name == chart.order[-1]:
        sections[-1]["rows"][-1]["bars"][-1]["is_last"] = True
    return {
        "kind": "chart",
        "heading": phrases["chart"],
        "remarks": remarks,
        "sections": sections,
        "strip": [],
    }


def _strip(timeline: Timeline, phrases: Mapping[str, str]) -> list[dict[str, str]]:
    """The chords of a study that stays on each for a section, with its name and bars, a cell each; none
    of other charts."""
    if len(timeline.sections) < MANY_CHORDS or named_by_chord(timeline) or timeline.jumps:
        return []
    cells = []
    for section in timeline.sections:
        bars = timeline.bars_between(section.onset_beats, section.end_beats)
        chord = only_chord(timeline, section)
        told = section.key is not None or section.sets_tempo
        if chord is None or told or any(bar.meter != timeline.meter for bar in bars):
            return []
        symbol = chord_name(chord, phrases)
        named = [
            sign for sign in (symbol, chord.symbol, chord.plain_symbol) if section.name.startswith(sign)
        ]
        if not named:
            return []  # a tune's, whose name says nothing of its chord
        first, last = bars[0].number, bars[-1].number
        numbers = str(first) if first == last else f"{first}–{last}"
        name = plain_text(section.name.removeprefix(max(named, key=len)))
        cells.append(
            {
                "symbol": with_signs(symbol),
                "name": name.removeprefix(", "),
                "bars": phrases["bar" if first == last else "bars"].format(bars=numbers),
            }
        )
    return cells


def form_remarks(chart: Chart, phrases: Mapping[str, str]) -> list[str]:
    """What the sections by themselves do not tell: in what order and how often they are played."""
    remarks = []
    if not _is_order(chart, _written(chart)):
        order = "  ".join(plain_text(name) for name in chart.order)
        remarks.append(phrases["order_of_sections"].format(order=order))
    if chart.times > 1:
        told = "all_played_times" if chart.has_signs else "played_times"
        remarks.append(phrases[told].format(count=chart.times))
    if chart.has_signs:
        remarks.append(phrases["bars_as_played"])
    return remarks


def _is_order(chart: Chart, written: Sequence[tuple[ChartSection, int]]) -> bool:
    """Whether the chart is played as its sections are written."""
    return [section.name for section, times in written for _ in range(times)] == list(chart.order)


def _written(chart: Chart) -> list[tuple[ChartSection, int]]:
    """Sections that follow themselves become one with a repeat, unless there are repeats inside."""
    if len(chart.sections) == len(chart.order):
        runs = [(section, len(list(run))) for section, run in groupby(chart.sections)]
        return [
            written
            for section, count in runs
            for written in ([(section, 1)] * count if section.has_signs else [(section, count)])
        ]
    first_runs: dict[str, int] = {}
    for name, run in groupby(chart.order):
        first_runs.setdefault(name, len(list(run)))
    return [
        (section, 1 if section.has_signs else first_runs[section.name]) for section in chart.sections
    ]


def _halves(sections: Sequence[ChartSection], line_share: float) -> list[bool]:
    """Whether each section is set in half a row: where many short ones follow each other."""
    found: list[bool] = []
    for is_short, run in groupby(_is_short(section, line_share) for section in sections):
        count = len(list(run))
        found += [is_short and count >= MANY_SHORT] * count
    return found


def _is_short(section: ChartSection, line_share: float) -> bool:
    return (
        len(section.bars) <= HALF_BARS
        and not section.has_signs
        and not any(texts for bar in section.bars for texts in bar.under)
        and _needed(section.bars, line_share) <= _HALF_SHARE
    )


def _columns(bars: Sequence[ChartBar], line_share: float) -> int:
    """Bars in a row: four, or two or one where symbols or what is under them are too long for that."""
    needed = _needed(bars, line_share)
    return 4 if needed <= 1 else 2 if needed <= 2 else 1


def _needed(bars: Sequence[ChartBar], line_share: float) -> float:
    """The room that bars need each, in quarters of a row."""
    needed = 0.0
    for bar in bars:
        for (_, symbol), share in zip(bar.chords, bar.shares, strict=True):
            needed = max(needed, float(len(symbol) / share) / LEGIBLE_SYMBOL)
        for texts, share in zip(bar.under, bar.shares, strict=bool(bar.under)):
            needed = max(needed, float((longest_word(texts) + 1) / share) / UNDER_LETTERS)
    return needed / line_share


def _meters(sections: Sequence[ChartSection]) -> list[list[str]]:
    """For each bar of each section its meter where it is another one than that of the bar before."""
    before = sections[0].bars[0].meter
    found: list[list[str]] = []
    for section in sections:
        found.append([])
        for bar in section.bars:
            found[-1].append("" if bar.meter == before else str(bar.meter))
            before = bar.meter
    return found


def _rows(
    section: ChartSection, meters: list[str], share: float, *, is_repeated: bool
) -> list[dict[str, Any]]:
    """Rows of bars; the signs of a section that is played several times in a row are its first
    and last bar's."""
    bars = enclosed(section.bars, opens=is_repeated, closes=is_repeated)
    # Of a section's first bar the chords are named even where they are those of the bar before.
    bars[0] = replace(bars[0], repeats=False)
    columns = _columns(bars, share)
    rows = []
    changes = iter(meters)
    for row in rows_of(bars, columns):
        below = _below(row.bars, int(UNDER_LETTERS * share * 4) // columns)
        rows.append(
            {
                "indent": row.indent,
                "has_brackets": any(bar.stands_above or bar.fermatas for bar in row.bars),
                "has_hits": any(bar.drawn_hits is not None for bar in row.bars),
                "lines_under": max((len(lines) for bar in below for lines in bar), default=0),
                "bars": [
                    _bar(bar, lines, next(changes)) for bar, lines in zip(row.bars, below, strict=True)
                ],
            }
        )
    return rows


def _below(row: Sequence[ChartBar], letters: int) -> list[list[list[str]]]:
    """For each bar of a row, which holds so many letters, the lines under each of its chords."""
    told = [bar.under if not bar.repeats else () for bar in row]
    lines = iter(
        aligned(
            [
                (tuple(map(in_signs, texts)), int(share * letters) - 1)
                for bar, under in zip(row, told, strict=True)
                for texts, share in zip(under, bar.shares, strict=bool(under))
            ]
        )
    )
    return [[next(lines) for _ in under] for under in told]


def _bar(bar: ChartBar, below: Sequence[Sequence[str]], meter: str) -> dict[str, Any]:
    signs = bar.signs
    lines = below or [[]] * len(bar.chords)
    return {
        "again": bar.repeats,
        "meter": meter,
        "opens": signs.opens,
        "closes": signs.closes,
        "is_last": False,
        "times": f"{signs.times}x" if signs.times > UNDERSTOOD_TIMES else "",
        "goes_to": bar.before,
        "fermatas": [float(at) for at in bar.fermatas],
        "said": signs.said,
        "hits": [
            {
                "at": bar.share_of(hit.onset_beats),
                "end": bar.share_of(hit.end_beats) if hit.is_held else 0.0,
                "count": hit.struck_count,
            }
            for hit in bar.drawn_hits or ()
        ],
        "is_silent": bar.drawn_hits == (),
        "ending": signs.ending,
        "ending_begins": signs.ending_begins,
        "ending_ends": signs.ending_ends,
        "ending_is_open": signs.is_last_ending,
        "chords": [
            {"symbol": with_signs(symbol), "at": float(at), "share": float(share), "under": [*texts]}
            for (at, symbol), share, texts in zip(bar.chords, bar.shares, lines, strict=True)
        ],
    }
