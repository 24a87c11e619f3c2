"""The chord chart: bars in a grid, section by section, as text and as SVG.

Sections that are played several times with the same bars are printed once; the order of the form
stands below. Choruses that are alike are told by their number. Repeats and endings are drawn as the
chart was written. A bar like the one before is a ``%`` [common practice].
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape

from genex.exact import Fraction
from genex.export.chart_rows import Row, rows_of
from genex.export.diagrams import PALETTES, Palette, Theme
from genex.export.phrases import words
from genex.export.repeat_signs import PLAIN, UNDERSTOOD_TIMES, PageBar, Signs, chart_page
from genex.export.tab import plain_number
from genex.export.typography import FONT_FAMILY, with_signs, xml_safe
from genex.score import Meter, Score, Timeline

REPEAT_SIGN = "%"
BARS_A_LINE = (4, 2, 1)

CELL_WIDTH, CELL_HEIGHT = 156.0, 60.0
PADDING = 16.0
"""From a bar line to the first chord; repeat dots fit in."""
READABLE = 14.0
"""Chords that would have to be smaller than this side by side stand in two lines, a line a half bar."""
ROW_GAP = 10.0
BRACKET_HEIGHT = 18.0
"""Room above a row for the brackets of its endings."""
BRACKET_GAP = 4.0
"""From the end of a bracket to the next one."""
GAP_LETTERS = 1
MARGIN = 22.0
CHORD_SIZE, SMALLEST_CHORD = 19.0, 7.0
LETTER_WIDTH = 0.66
"""Width of a letter of DejaVu Sans Bold as a share of its size, on average over chord symbols."""


@dataclass(frozen=True, slots=True)
class ChartBar:
    """A bar: chords with their place in it as a share of the bar, 0 to 1.

    Without any in a piece that has no chords at all.
    """

    meter: Meter
    chords: tuple[tuple[Fraction, str], ...]
    repeats: bool = False
    signs: Signs = PLAIN


@dataclass(frozen=True, slots=True)
class ChartSection:
    """A section as printed; ``name`` may be empty."""

    name: str
    bars: tuple[ChartBar, ...]

    @property
    def has_signs(self) -> bool:
        return any(bar.signs != PLAIN for bar in self.bars)


@dataclass(frozen=True)
class Chart:
    """Sections as printed, the order in which they are played, and how often all of it is."""

    sections: tuple[ChartSection, ...]
    order: tuple[str, ...]
    times: int

    @property
    def has_signs(self) -> bool:
        """Whether there are repeats inside of a section."""
        return any(section.has_signs for section in self.sections)

    @property
    def is_one_repeat(self) -> bool:
        """Whether all of it stands between repeat signs; never about other ones."""
        return self.times > 1 and not self.has_signs


def chart_of(timeline: Timeline) -> Chart:
    """The chart of a timeline. Sections of one name are printed once if they are the same."""
    page = chart_page(timeline)
    played: list[ChartSection] = []
    for span in timeline.sections:
        bars = [e for e in page.bars if span.onset_beats <= e.bar.onset_beats < span.end_beats]
        if bars:
            played.append(ChartSection(span.name, tuple(_bars(timeline, bars))))
    printed = tuple(dict.fromkeys(played))
    if len({section.name for section in printed}) < len(printed):
        printed = tuple(played)
    return Chart(printed, tuple(section.name for section in played), page.times)


def _bars(timeline: Timeline, page: Sequence[PageBar]) -> list[ChartBar]:
    found: list[ChartBar] = []
    before: tuple[tuple[Fraction, str], ...] = ()
    for entry in page:
        bar = entry.bar
        if entry.signs.is_fresh:
            before = ()
        opening = timeline.chord_at(bar.onset_beats)
        spans = [(bar.onset_beats, opening)]
        spans += [(s.onset_beats, s) for s in timeline.chords_in(bar) if s.onset_beats > bar.onset_beats]
        chords = tuple(
            ((at - bar.onset_beats) / bar.length_beats, timeline.chord_label(span))
            for at, span in spans
            if timeline.has_chords
        )
        found.append(
            ChartBar(bar.meter, chords, repeats=bool(chords) and chords == before, signs=entry.signs)
        )
        before = chords
    return found


def chart_text(score: Score, *, width: int = 80, language: str = "en") -> str:
    """The chart in plain text, at most ``width`` columns wide where the symbols allow it."""
    phrases = words(language)
    chart = chart_of(score.timeline)
    lines = textwrap.wrap(score.title, width)
    lines += textwrap.wrap("   ".join(chart_facts(score, phrases)), width)
    marks = _Marks.of(chart)
    cell = max(len(marks.cell(bar, 0)) for section in chart.sections for bar in section.bars)
    cell = max(cell, 8)
    count = next((n for n in BARS_A_LINE if n * (cell + marks.width + 3) + 1 <= width), 1)
    meter = chart.sections[0].bars[0].meter
    for section in chart.sections:
        lines.append("")
        if section.name.strip():
            lines.append(f"[{section.name}]")
        rows = rows_of(section.bars, count)
        for index, row in enumerate(rows):
            cells = []
            for bar in row.bars:
                text = marks.cell(bar, cell)
                if bar.meter != meter:
                    text = f"({bar.meter}) {text}".rstrip().ljust(cell)
                    meter = bar.meter
                cells.append(text)
            opens = section is chart.sections[0] and index == 0
            closes = section is chart.sections[-1] and index == len(rows) - 1
            lines.append(marks.line(row, cells, opens=opens, closes=closes))
    notes = chart_notes(chart, phrases)
    if notes:
        lines += ["", *notes]
    return "\n".join(lines) + "\n"


@dataclass(frozen=True, slots=True)
class _Marks:
    """How bar lines are written: with room behind each for ``:``, ``1.`` where there are any.

    outer  everything stands between repeat signs
    width  columns of that room
    """

    outer: bool
    width: int

    @classmethod
    def of(cls, chart: Chart) -> _Marks:
        bars = [bar for section in chart.sections for bar in section.bars]
        return cls(chart.is_one_repeat, max(len(_begin(bar.signs)) for bar in bars))

    def cell(self, bar: ChartBar, width: int) -> str:
        """What stands in a bar; a passage played more than twice says so where it closes."""
        if bar.signs.times <= UNDERSTOOD_TIMES:
            return _bar_text(bar, width)
        times = f" ({bar.signs.times}x)"
        return _bar_text(bar, max(0, width - len(times))) + times

    def line(self, row: Row[ChartBar], cells: Sequence[str], *, opens: bool, closes: bool) -> str:
        """A row; ``opens`` and ``closes`` tell whether the chart begins or ends with it."""
        begin = "||: " if opens and self.outer else "|   " if self.outer else "|"
        text = ""
        for bar, cell in zip(row.bars, cells, strict=True):
            sign = "" if self.outer and not text else f"{_begin(bar.signs):<{self.width}} "
            text += f"{sign}{cell}{':' if bar.signs.closes else ' '}|"
        if closes:
            text = text[:-1] + (":||" if self.outer else "||")
        indent = row.indent * (len(cells[0]) + self.width + 3)
        return " " * indent + begin + text


def _begin(signs: Signs) -> str:
    """What is written behind the bar line before a bar."""
    if signs.ending_begins:
        return f"{signs.ending}."
    return ":" if signs.opens else ""


def chart_facts(score: Score, phrases: Mapping[str, str]) -> list[str]:
    """Key, tempo, meter and feel, each with its name."""
    timeline = score.timeline
    key = f"{timeline.key.tonic} {phrases[timeline.key.mode]}"
    tempo = plain_number(timeline.tempo.changes[0].pulses(timeline.meter))
    return [
        f"{phrases['key']}: {key}",
        f"{phrases['tempo']}: {tempo}",
        f"{phrases['meter']}: {timeline.meter}",
        f"{phrases['feel']}: {score.feel}",
    ]


def chart_notes(chart: Chart, phrases: Mapping[str, str]) -> list[str]:
    """The order of the sections where it is not that of the page, and the number of choruses."""
    notes = []
    if chart.order != tuple(section.name for section in chart.sections):
        notes.append(phrases["order_of_sections"].format(order=" ".join(chart.order)))
    if chart.times > 1:
        told = "played_times" if chart.is_one_repeat else "all_played_times"
        notes.append(phrases[told].format(count=chart.times))
    return notes


def _bar_text(bar: ChartBar, width: int) -> str:
    """A bar's chords, each at its share of ``width``, at least two columns apart."""
    if bar.repeats:
        return REPEAT_SIGN.ljust(width)
    line = ""
    for share, name in bar.chords:
        column = int(share * width)
        if line:
            column = max(column, len(line) + 2)
        line = line.ljust(column) + name
    return line.ljust(width)


def chart_svg(score: Score, *, theme: Theme = "light", language: str = "en") -> str:
    """The chart as a picture, four bars a line, in SVG user units (CSS pixels)."""
    palette = PALETTES[theme]
    phrases = words(language)
    chart = chart_of(score.timeline)
    width = 2 * MARGIN + 4 * CELL_WIDTH
    drawn = [
        _text(MARGIN, MARGIN + 16, score.title, palette.ink, _fit(score.title, 20, width - 2 * MARGIN))
    ]
    facts = with_signs(" · ".join(chart_facts(score, phrases)))
    drawn.append(_text(MARGIN, MARGIN + 38, facts, palette.soft, 12, bold=False))
    top = MARGIN + 58
    meter = chart.sections[0].bars[0].meter
    for section in chart.sections:
        if section.name.strip():
            size = _fit(section.name, 14, width - 2 * MARGIN)
            drawn.append(_text(MARGIN, top + 14, section.name, palette.ink, size))
            top += 24
        opens = chart.is_one_repeat and section is chart.sections[0]
        closes = chart.is_one_repeat and section is chart.sections[-1]
        rows = rows_of(enclosed(section.bars, opens=opens, closes=closes), 4)
        for number, row in enumerate(rows):
            left = MARGIN + CELL_WIDTH * row.indent
            if any(bar.signs.ending or bar.signs.times > UNDERSTOOD_TIMES for bar in row.bars):
                top += BRACKET_HEIGHT
                drawn += _brackets(row.bars, left, top, palette)
            drawn += _row(row.bars, left, top, palette)
            for index, bar in enumerate(row.bars):
                if bar.meter != meter:
                    meter = bar.meter
                    x = left + CELL_WIDTH * index + 6
                    drawn.append(_text(x, top + 12, str(meter), palette.soft, 10, bold=False))
            is_end = section is chart.sections[-1] and number == len(rows) - 1
            if is_end and not row.bars[-1].signs.closes:
                drawn += _heavy_line(left + CELL_WIDTH * len(row.bars), top, -1, palette)
            top += CELL_HEIGHT + ROW_GAP
        top += 8
    for note in chart_notes(chart, phrases):
        drawn.append(_text(MARGIN, top + 12, note, palette.soft, 12, bold=False))
        top += 20
    height = top + MARGIN / 2
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" font-family="{FONT_FAMILY}, sans-serif" role="img">'
    )
    paper = f'<rect width="100%" height="100%" fill="{palette.paper}"/>'
    return xml_safe(
        "\n".join([head, f"<title>{escape(score.title, quote=False)}</title>", paper, *drawn, "</svg>"])
        + "\n"
    )


def enclosed(bars: Sequence[ChartBar], *, opens: bool, closes: bool) -> list[ChartBar]:
    """The bars with the sign of a repeat that opens before the first, or closes behind the last."""
    found = list(bars)
    if opens:
        found[0] = replace(found[0], signs=replace(found[0].signs, opens=True))
    if closes:
        found[-1] = replace(found[-1], signs=replace(found[-1].signs, closes=True))
    return found


def _brackets(row: Sequence[ChartBar], start: float, bottom: float, palette: Palette) -> list[str]:
    """What stands above a row of bars: a bracket for each ending, and how often a passage is played.

    The bracket of the last ending is open at its end, as the music goes on from there.
    """
    drawn = []
    top = bottom - BRACKET_HEIGHT + 2
    for index, bar in enumerate(row):
        signs = bar.signs
        left, right = start + CELL_WIDTH * index, start + CELL_WIDTH * (index + 1)
        if signs.times > UNDERSTOOD_TIMES:
            times = f"{signs.times}x"
            drawn.append(_text(right, bottom - 5, times, palette.ink, 12, anchor="end"))
        if not signs.ending:
            continue
        ends = signs.ending_ends
        drawn.append(_line(left, top, right - (BRACKET_GAP if ends else 0), top, palette.ink, 1.2))
        if signs.ending_begins:
            drawn.append(_line(left, top, left, bottom - 4, palette.ink, 1.2))
            drawn.append(_text(left + 6, bottom - 5, f"{signs.ending}.", palette.ink, 12))
        if ends and not signs.is_last_ending:
            x = right - BRACKET_GAP
            drawn.append(_line(x, top, x, bottom - 4, palette.ink, 1.2))
    return drawn


def _row(row: Sequence[ChartBar], start: float, top: float, palette: Palette) -> list[str]:
    bottom = top + CELL_HEIGHT
    drawn = []
    for index in range(len(row) + 1):
        x = start + CELL_WIDTH * index
        drawn.append(_line(x, top, x, bottom, palette.ink, 1.2))
    middle = top + CELL_HEIGHT / 2
    for index, bar in enumerate(row):
        left = start + CELL_WIDTH * index
        shift = 5.0 if bar.signs.opens else 0.0
        inner = CELL_WIDTH - PADDING - shift - (PADDING if bar.signs.closes else 6)
        if bar.signs.opens:
            drawn += _repeat(left, top, 1, palette)
        if bar.signs.closes:
            drawn += _repeat(left + CELL_WIDTH, top, -1, palette)
        if bar.repeats:
            sign = _text(
                left + CELL_WIDTH / 2, middle + 7, REPEAT_SIGN, palette.soft, CHORD_SIZE, anchor="middle"
            )
            drawn.append(sign)
            continue
        left += shift
        names = [(share, with_signs(name)) for share, name in bar.chords]
        halves = [
            [c for c in names if c[0] < Fraction(1, 2)],
            [c for c in names if c[0] >= Fraction(1, 2)],
        ]
        one_line, two_lines = _size(names, inner), min(_size(half, inner) for half in halves)
        if one_line >= READABLE or not all(halves):
            drawn += _chords(names, left, middle, inner, one_line, Fraction(0), Fraction(1), palette)
            continue
        for half, y, share in zip(
            halves, (middle - 12, middle + 14), (Fraction(0), Fraction(1, 2)), strict=True
        ):
            drawn += _chords(half, left, y, inner, two_lines, share, Fraction(1, 2), palette)
    return drawn


def _size(chords: Sequence[tuple[Fraction, str]], inner: float) -> float:
    """The size at which chords stand side by side in a bar."""
    letters = sum(len(name) for _, name in chords) + GAP_LETTERS * (len(chords) - 1)
    return _fit("x" * letters, CHORD_SIZE, inner)


def _chords(
    chords: Sequence[tuple[Fraction, str]],
    left: float,
    y: float,
    inner: float,
    size: float,
    start: Fraction,
    length: Fraction,
    palette: Palette,
) -> list[str]:
    """Chords on a line, each where it begins in the bar if those after it leave the room.

    The line shows the part of the bar from ``start`` on that is ``length`` long, as shares.
    """
    letter = size * LETTER_WIDTH
    drawn: list[str] = []
    reached = 0.0
    for index, (share, name) in enumerate(chords):
        rest = chords[index:]
        room = sum(len(text) for _, text in rest) + GAP_LETTERS * (len(rest) - 1)
        x = max(reached, min(float((share - start) / length) * inner, inner - room * letter))
        drawn.append(_text(left + PADDING + x, y + size * 0.36, name, palette.ink, size))
        reached = x + (len(name) + GAP_LETTERS) * letter
    return drawn


def _fit(text: str, size: float, room: float) -> float:
    """The size at which a text fits into its room, not larger than ``size``."""
    return max(SMALLEST_CHORD, min(size, room / max(1, len(text)) / LETTER_WIDTH))


def _repeat(x: float, top: float, side: int, palette: Palette) -> list[str]:
    """Repeat dots right (1) or left (-1) of a heavy bar line."""
    drawn = _heavy_line(x, top, side, palette)
    for share in (0.38, 0.62):
        y = top + CELL_HEIGHT * share
        drawn.append(f'<circle cx="{x + 11 * side:g}" cy="{y:g}" r="2.2" fill="{palette.ink}"/>')
    return drawn


def _heavy_line(x: float, top: float, side: int, palette: Palette) -> list[str]:
    """A heavy stroke at ``x`` and a light one on the side of the bar that it opens or closes."""
    bottom = top + CELL_HEIGHT
    return [
        _line(x + 1.5 * side, top, x + 1.5 * side, bottom, palette.ink, 4),
        _line(x + 6 * side, top, x + 6 * side, bottom, palette.ink, 1.2),
    ]


def _line(x1: float, y1: float, x2: float, y2: float, color: str, width: float) -> str:
    ends = f'x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}"'
    return f'<line {ends} stroke="{color}" stroke-width="{width:g}"/>'


def _text(
    x: float, y: float, text: str, color: str, size: float, *, anchor: str = "start", bold: bool = True
) -> str:
    weight = ' font-weight="bold"' if bold else ""
    place = f'x="{x:.6g}" y="{y:.6g}" fill="{color}" font-size="{size:.4g}"'
    return f'<text {place} text-anchor="{anchor}"{weight}>{escape(text, quote=False)}</text>'
