"""The chord chart as SVG: four bars a row, or fewer where what stands under the chords needs room."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from html import escape

from genex.exact import Fraction
from genex.export.chart_rows import rows_of
from genex.export.chord_chart import (
    BARS_A_LINE,
    REPEAT_SIGN,
    Chart,
    ChartBar,
    chart_facts,
    chart_notes,
    chart_of,
    enclosed,
    section_facts,
)
from genex.export.neck_panel import PALETTES, Palette, Theme
from genex.export.page_signs import UNDERSTOOD_TIMES
from genex.export.phrases import words
from genex.export.repeat_signs import chart_page
from genex.export.spoken import chart_in_words
from genex.export.typography import families, with_signs, xml_safe
from genex.export.under_chords import UnderChords, aligned, in_signs, longest_word
from genex.readers.font import Font
from genex.score import PUSH_SIGN, Score

ROW_WIDTH, CELL_HEIGHT = 624.0, 60.0
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
SMALL = 11.0
"""Chords that would have to be smaller than this to have room above their texts get wider bars."""
HITS_HEIGHT = 26.0
"""Room at the bottom of a row for the slashes of hits and their counts."""
UNDER_SIZE, UNDER_LINE, UNDER_LETTER = 10.0, 13.0, 6.3
"""Size of what stands under chords, from line to line, and a letter of it in DejaVu Sans."""


@dataclass(frozen=True, slots=True)
class _Grid:
    """Bars in a row, and the width of each."""

    columns: int
    cell: float

    @classmethod
    def of(cls, chart: Chart) -> _Grid:
        """The grid in whose cells what stands under the chords can be read."""
        bars = [bar for section in chart.sections for bar in section.bars if bar.under]
        grids = [cls(count, ROW_WIDTH / count) for count in BARS_A_LINE]
        return next((grid for grid in grids if all(map(grid._holds, bars))), grids[-1])

    def _holds(self, bar: ChartBar) -> bool:
        inner = self.cell - 2 * PADDING
        return bar.repeats or all(
            longest_word(texts) <= _letters(share * inner)
            and _fit(f"{name} ", CHORD_SIZE, float(share * inner)) >= SMALL
            for (_, name), share, texts in zip(bar.chords, bar.shares, bar.under, strict=True)
        )


def chart_svg(
    score: Score,
    *,
    theme: Theme = "light",
    language: str = "en",
    under: Collection[UnderChords] = (),
    capo: int = 0,
    font: Font | None = None,
) -> str:
    """The chart as a picture, in SVG user units (CSS pixels). ``font`` has what genex's own lack."""
    palette = PALETTES[theme]
    phrases = words(language)
    chart = chart_of(score.timeline, under, capo=capo, phrases=phrases)
    grid = _Grid.of(chart)
    width = 2 * MARGIN + ROW_WIDTH
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
            if facts := with_signs(" · ".join(section_facts(section, phrases))):
                x = MARGIN + (len(section.name) + 2) * size * LETTER_WIDTH
                drawn.append(_text(x, top + 14, facts, palette.soft, 12, bold=False))
            top += 24
        opens = chart.is_one_repeat and section is chart.sections[0]
        closes = chart.is_one_repeat and section is chart.sections[-1]
        rows = rows_of(enclosed(section.bars, opens=opens, closes=closes), grid.columns)
        for number, row in enumerate(rows):
            left = MARGIN + grid.cell * row.indent
            if any(bar.stands_above for bar in row.bars):
                top += BRACKET_HEIGHT
                drawn += _brackets(row.bars, left, top, grid, palette)
            below = _below(row.bars, grid)
            height = CELL_HEIGHT + max(
                (UNDER_LINE * len(lines[0]) for lines in below if lines), default=0.0
            )
            if any(bar.drawn_hits is not None for bar in row.bars):
                height += HITS_HEIGHT
            drawn += _row(row.bars, left, top, height, grid, palette)
            drawn += _under(row.bars, below, left, top, grid, palette)
            drawn += _hits(row.bars, left, top + height, grid, palette)
            for index, bar in enumerate(row.bars):
                if bar.meter != meter:
                    meter = bar.meter
                    x = left + grid.cell * index + 6
                    drawn.append(_text(x, top + 12, str(meter), palette.soft, 10, bold=False))
            is_end = section is chart.sections[-1] and number == len(rows) - 1
            if is_end and not row.bars[-1].signs.closes:
                drawn += _heavy_line(left + grid.cell * len(row.bars), top, height, -1, palette)
            top += height + ROW_GAP
        top += 8
    for note in chart_notes(chart, phrases):
        drawn.append(_text(MARGIN, top + 12, note, palette.soft, 12, bold=False))
        top += 20
    height = top + MARGIN / 2
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" font-family="{families(font)}" role="img">'
    )
    bars = [entry.bar for entry in chart_page(score.timeline).bars]
    about = chart_in_words(score.timeline, bars, phrases)
    paper = f'<rect width="100%" height="100%" fill="{palette.paper}"/>'
    return xml_safe(
        "\n".join(
            [
                head,
                f"<title>{escape(score.title, quote=False)}</title>",
                f"<desc>{escape(about, quote=False)}</desc>",
                paper,
                *drawn,
                "</svg>",
            ]
        )
        + "\n"
    )


def _brackets(
    row: Sequence[ChartBar], start: float, bottom: float, grid: _Grid, palette: Palette
) -> list[str]:
    """What stands above a row of bars: a bracket for each ending, and how often a passage is played.

    The bracket of the last ending is open at its end, as the music goes on from there.
    """
    drawn = []
    top = bottom - BRACKET_HEIGHT + 2
    for index, bar in enumerate(row):
        signs = bar.signs
        left, right = start + grid.cell * index, start + grid.cell * (index + 1)
        if signs.times > UNDERSTOOD_TIMES:
            times = f"{signs.times}x"
            drawn.append(_text(right, bottom - 5, times, palette.ink, 12, anchor="end"))
        if before := bar.before:
            shift = 22 if signs.ending_begins else 0
            drawn.append(_text(left + shift, bottom - 5, before, palette.ink, 12))
        if signs.said:
            size = _fit(signs.said, 12, grid.cell - 10 * len(before))
            drawn.append(_text(right - 2, bottom - 5, signs.said, palette.ink, size, anchor="end"))
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


def _below(row: Sequence[ChartBar], grid: _Grid) -> list[list[list[str]]]:
    """For each bar the lines under each of its chords; none under a bar like the one before."""
    told = [bar.under if not bar.repeats else () for bar in row]
    blocks = [
        (tuple(map(in_signs, texts)), _letters(share * _inner(bar, grid)))
        for bar, under in zip(row, told, strict=True)
        for texts, share in zip(under, bar.shares, strict=bool(under))
    ]
    lines = iter(aligned(blocks))
    return [[next(lines) for _ in under] for under in told]


def _under(
    row: Sequence[ChartBar],
    below: Sequence[Sequence[Sequence[str]]],
    start: float,
    top: float,
    grid: _Grid,
    palette: Palette,
) -> list[str]:
    """What stands under the chords of a row, each where its chord begins."""
    drawn = []
    for index, (bar, blocks) in enumerate(zip(row, below, strict=True)):
        left = start + grid.cell * index + PADDING + _shift(bar)
        inner = _inner(bar, grid)
        for (at, _), share, lines in zip(bar.chords, bar.shares, blocks, strict=bool(blocks)):
            x, room = left + float(at) * inner, float(share) * inner
            y = top + CELL_HEIGHT
            for line in lines:
                if line:
                    size = min(UNDER_SIZE, room / (len(line) + GAP_LETTERS) * UNDER_SIZE / UNDER_LETTER)
                    drawn.append(_text(x, y, line, palette.soft, max(size, 4.0), bold=False))
                y += UNDER_LINE
    return drawn


def _hits(
    row: Sequence[ChartBar], start: float, bottom: float, grid: _Grid, palette: Palette
) -> list[str]:
    """The hits of a row, each a slash where it comes in its bar over its count; a held one with a line
    to its end."""
    drawn = []
    for index, bar in enumerate(row):
        left, inner = start + grid.cell * index + PADDING + _shift(bar), _inner(bar, grid)
        for hit in bar.drawn_hits or ():
            x, y = left + bar.share_of(hit.onset_beats) * inner, bottom - HITS_HEIGHT + 2
            drawn.append(_line(x, y + 5, x + 7, y - 5, palette.ink, 3))
            if hit.is_held:
                end = left + bar.share_of(hit.end_beats) * inner - 4
                drawn.append(_line(x + 8, y, max(x + 10, end), y, palette.ink, 1.2))
            count = hit.struck_count
            drawn.append(_text(x, y + 17, count, palette.soft, UNDER_SIZE, bold=False))
        if bar.drawn_hits == ():
            y = bottom - HITS_HEIGHT + 2
            drawn.append(_line(left + inner / 2 - 8, y, left + inner / 2 + 8, y, palette.ink, 4))
    return drawn


def _shift(bar: ChartBar) -> float:
    """How far the first chord moves to the right for the dots of a repeat."""
    return 5.0 if bar.signs.opens else 0.0


def _inner(bar: ChartBar, grid: _Grid) -> float:
    """Room for the chords of a bar."""
    return grid.cell - PADDING - _shift(bar) - (PADDING if bar.signs.closes else 6)


def _letters(room: float) -> int:
    """Letters of a line under a chord that has so much room, with a gap before the next."""
    return int(float(room) / UNDER_LETTER) - GAP_LETTERS


def _row(
    row: Sequence[ChartBar],
    start: float,
    top: float,
    height: float,
    grid: _Grid,
    palette: Palette,
) -> list[str]:
    bottom = top + height
    drawn = []
    for index in range(len(row) + 1):
        x = start + grid.cell * index
        drawn.append(_line(x, top, x, bottom, palette.ink, 1.2))
    middle = top + CELL_HEIGHT / 2
    for index, bar in enumerate(row):
        left = start + grid.cell * index
        inner = _inner(bar, grid)
        if bar.signs.opens:
            drawn += _repeat(left, top, height, 1, palette)
        if bar.signs.closes:
            drawn += _repeat(left + grid.cell, top, height, -1, palette)
        for share in bar.fermatas:
            drawn += _fermata(left + _shift(bar) + PADDING + float(share) * inner, top + 10, palette)
        if bar.repeats:
            sign = _text(
                left + grid.cell / 2, middle + 7, REPEAT_SIGN, palette.soft, CHORD_SIZE, anchor="middle"
            )
            drawn.append(sign)
            continue
        left += _shift(bar)
        if bar.under:
            for (at, name), share in zip(bar.chords, bar.shares, strict=True):
                size = _fit(f"{name} ", CHORD_SIZE, float(share) * inner)
                x = left + PADDING + float(at) * inner
                drawn.append(_text(x, middle + size * 0.36, with_signs(name), palette.ink, size))
            continue
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
    letters = sum(_letters_of(name) for _, name in chords) + GAP_LETTERS * (len(chords) - 1)
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
        room = sum(_letters_of(text) for _, text in rest) + GAP_LETTERS * (len(rest) - 1)
        x = max(reached, min(float((share - start) / length) * inner, inner - room * letter))
        drawn.append(_text(left + PADDING + x, y + size * 0.36, name, palette.ink, size))
        reached = x + (_letters_of(name) + GAP_LETTERS) * letter
    return drawn


def _letters_of(name: str) -> int:
    """Letters as wide as a symbol; the sign of a pushed chord is as wide as two."""
    return len(name) + name.startswith(PUSH_SIGN)


def _fit(text: str, size: float, room: float) -> float:
    """The size at which a text fits into its room, not larger than ``size``."""
    return max(SMALLEST_CHORD, min(size, room / max(1, len(text)) / LETTER_WIDTH))


def _repeat(x: float, top: float, height: float, side: int, palette: Palette) -> list[str]:
    """Repeat dots right (1) or left (-1) of a heavy bar line."""
    drawn = _heavy_line(x, top, height, side, palette)
    for share in (0.38, 0.62):
        y = top + CELL_HEIGHT * share
        drawn.append(f'<circle cx="{x + 11 * side:g}" cy="{y:g}" r="2.2" fill="{palette.ink}"/>')
    return drawn


def _heavy_line(x: float, top: float, height: float, side: int, palette: Palette) -> list[str]:
    """A heavy stroke at ``x`` and a light one on the side of the bar that it opens or closes."""
    bottom = top + height
    return [
        _line(x + 1.5 * side, top, x + 1.5 * side, bottom, palette.ink, 4),
        _line(x + 6 * side, top, x + 6 * side, bottom, palette.ink, 1.2),
    ]


def _fermata(x: float, y: float, palette: Palette) -> list[str]:
    """An arc over a dot, above the chord that begins at ``x``."""
    arc = f"M {x:g} {y + 5:g} a 8 8 0 0 1 16 0"
    return [
        f'<path d="{arc}" fill="none" stroke="{palette.ink}" stroke-width="1.8"/>',
        f'<circle cx="{x + 8:g}" cy="{y + 3:g}" r="1.7" fill="{palette.ink}"/>',
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
