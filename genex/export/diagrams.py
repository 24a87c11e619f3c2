"""Neck diagrams as pictures: SVG, and PNG made from it.

How a diagram reads
-------------------
The neck lies as in tab: string 1 on top, the nut at the left (at the right for left-handed
players). Roots are dark discs inside a ring; all other tones are light discs with a dark edge.
Nothing depends on colour: the colours only make light and dark pages pleasant. Each disc holds
a degree, a finger or a note name; a second label may stand small at its upper right, and
beside a finger, smaller, the one that takes the note on the way down where it is another.

Frets are spaced evenly or by the rule of equal temperament, fret n at 1 - 2^(-n/12) of the
string [published: the 17.817 rule in its exact form; Fletcher and Rossing 1998, chapter 9].
Lengths are SVG user units (CSS pixels).
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import replace
from typing import TYPE_CHECKING

from genex.export.neck_marks import Mark, fret_window, shape_marks, tone_marks
from genex.export.neck_panel import (
    MARGIN,
    PALETTES,
    RADIUS,
    RING,
    DiagramStyle,
    Direction,
    Palette,
    Panel,
    Spacing,
    Theme,
    UprightPanel,
)
from genex.export.neck_text import shape_heading
from genex.export.phrases import words
from genex.export.spoken import shape_in_words
from genex.export.svg_strokes import circle, number, svg_page, text_at
from genex.export.typography import FONT_FAMILY, font_file, font_files, with_signs
from genex.fretboard import OPEN_FORM, Shape, Tuning
from genex.lazy import lazy
from genex.readers.font import Font

if TYPE_CHECKING:
    import resvg_py
else:
    resvg_py = lazy("resvg_py")  # pictures of lines do without

__all__ = [
    "PALETTES",
    "UNIT_MM",
    "DiagramStyle",
    "Direction",
    "Palette",
    "Spacing",
    "Theme",
    "neck_svg",
    "shape_svg",
    "sheet_svg",
    "svg_to_png",
]

LEGEND_HEIGHT = 38.0
PLAIN_STYLE, SHEET_STYLE = DiagramStyle(), DiagramStyle(second="fingers")

DOTS_PER_INCH = 300
"""Of PNGs: what printers ask for line drawings as the least [common practice]."""
UNIT_MM = 0.25
"""A unit on paper where no width is asked for: the smallest labels have 5 points and more."""
MM_PER_INCH = 25.4


def shape_svg(
    shape: Shape,
    tuning: Tuning,
    style: DiagramStyle = PLAIN_STYLE,
    *,
    title: str | None = None,
    language: str = "en",
) -> str:
    """A picture of one shape; its form and position as title unless another is given."""
    panel = _shape_panel(shape, tuning, style, language)
    titled = panel.titled(title) if title is not None else panel
    return _page([(0.0, 0.0, titled)], style, about=f"{shape_in_words(shape, language)}.")


def neck_svg(
    marks: Sequence[Mark],
    tuning: Tuning,
    style: DiagramStyle = PLAIN_STYLE,
    *,
    title: str = "",
    frets: tuple[int, int] | None = None,
    language: str = "en",
) -> str:
    """A picture of any marks; ``frets`` is the first and last fret shown."""
    window = frets or fret_window(marks)
    panel = Panel(tuple(marks), tuning, style, title, window, language=language)
    return _page([(0.0, 0.0, panel)], style)


def sheet_svg(
    name: str,
    shapes: Sequence[Shape],
    tuning: Tuning,
    style: DiagramStyle = SHEET_STYLE,
    *,
    columns: int = 3,
    language: str = "en",
) -> str:
    """All shapes of a chord or scale in one picture, below the whole neck that they cover.

    ``name`` is the heading (a chord symbol). Brackets over the neck show where each shape lies.
    """
    if not shapes:
        raise ValueError("a sheet needs at least one shape")
    tones = {note.degree: None for shape in shapes for note in shape.notes}
    last = max(12, *(note.fret for shape in shapes for note in shape.notes))
    overview_style = replace(style, second=None, direction="lying")
    if style.label == "fingers":
        overview_style = replace(overview_style, label="degrees")
    marks = tone_marks(tones, shapes[0].root, tuning, last_fret=last)
    phrases = words(language)
    spans = tuple(
        (
            phrases["open_form"] if shape.form == OPEN_FORM else shape.form,
            min(note.fret for note in shape.notes),
            max(note.fret for note in shape.notes),
        )
        for shape in shapes
    )
    title = with_signs(name)
    if tuning.capo:
        title += f", {phrases['capo'].format(capo=tuning.capo)}"
    overview = Panel(
        marks, tuning, overview_style, title, (1, min(last, tuning.last_fret)), spans, language
    )
    panels = [_shape_panel(shape, tuning, style, language) for shape in shapes]
    placed: list[tuple[float, float, Panel]] = [(0.0, 0.0, overview)]
    top = overview.height + MARGIN
    column_width = max(panel.width for panel in panels) + MARGIN
    for row in range(0, len(panels), columns):
        for index, panel in enumerate(panels[row : row + columns]):
            placed.append((index * column_width, top, panel))
        top += max(panel.height for panel in panels[row : row + columns]) + MARGIN
    both_ways = any(shape.other_fingers for shape in shapes)
    foot = _legend(style, top + 4, phrases, both_ways)
    about = ". ".join(shape_in_words(shape, language) for shape in shapes)
    return _page(placed, style, foot=foot, foot_height=LEGEND_HEIGHT, about=f"{about}.")


def svg_to_png(svg: str, *, width_mm: float | None = None, font: Font | None = None) -> bytes:
    """A PNG of an SVG with 300 dots an inch, so wide on paper; in genex's own fonts, and behind them
    the ``font`` that is given.

    Without a width it is as large as its labels need.

    The paper's colour goes to the edge: no pixel there is half transparent. The file says how wide it
    is to be printed [published: PNG, third edition, 11.3.4.3 pHYs].
    """
    width, height, paper = _page_of(svg)
    pixels = max(1, round((width_mm or width * UNIT_MM) / MM_PER_INCH * DOTS_PER_INCH))
    with nullcontext() if font is None else font_file(font) as own:
        made = bytes(
            resvg_py.svg_to_bytes(
                svg_string=svg,
                width=pixels,
                height=max(1, round(pixels * height / width)),
                background=paper,
                skip_system_fonts=True,
                font_files=[str(path) for path in (*font_files(), *([own] if own else []))],
                font_family=FONT_FAMILY,
                sans_serif_family=FONT_FAMILY,
            )
        )
    return _with_resolution(made)


_PAGE = re.compile(r'<svg [^>]*width="([\d.]+)" height="([\d.]+)"[^>]*>')
_PAPER = re.compile(r'<rect width="100%" height="100%" fill="([^"]+)"/>')


def _page_of(svg: str) -> tuple[float, float, str]:
    """Width, height and paper of a picture."""
    page, paper = _PAGE.search(svg), _PAPER.search(svg)
    if page is None or paper is None:
        raise ValueError("a picture without a size or without paper")
    return float(page[1]), float(page[2]), paper[1]


def _with_resolution(png: bytes) -> bytes:
    """The PNG with a ``pHYs`` chunk behind its header: dots a metre, both ways."""
    dots = round(DOTS_PER_INCH / MM_PER_INCH * 1000)
    chunk = b"pHYs" + struct.pack(">IIB", dots, dots, 1)
    whole = struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk))
    header = 8 + 25  # signature and IHDR
    return png[:header] + whole + png[header:]


def _shape_panel(shape: Shape, tuning: Tuning, style: DiagramStyle, language: str = "en") -> Panel:
    marks = shape_marks(shape)
    title = shape_heading(shape, language)
    panel = UprightPanel if style.direction == "upright" else Panel
    return panel(marks, tuning, style, title, fret_window(marks), language=language)


def _legend(style: DiagramStyle, y: float, phrases: Mapping[str, str], both_ways: bool) -> list[str]:
    """A line that says what the discs and the small labels are."""
    palette = style.palette
    x = MARGIN + RING
    drawn = [
        circle(x, y, RING * 0.7, palette.paper, palette.root, 1.4),
        circle(x, y, RADIUS * 0.65, palette.root),
        text_at(x + 16, y + 4, phrases["root"], palette.soft, 11, anchor="start"),
    ]
    x += 16 + 7 * len(phrases["root"]) + 26
    drawn += [
        circle(x, y, RADIUS * 0.7, palette.tone, palette.ink, 1.3),
        text_at(x + 14, y + 4, phrases["other_tone"], palette.soft, 11, anchor="start"),
    ]
    if style.second not in (None, "none"):
        x += 14 + 7 * len(phrases["other_tone"]) + 20
        text = phrases[f"small_{style.second}"]
        if both_ways and style.second == "fingers":
            text += "; " + phrases["other_finger"]
        elif both_ways and style.label == "fingers":
            text += "; " + phrases["other_finger_in_disc"]
        drawn.append(text_at(x, y + 4, text, palette.soft, 11, anchor="start"))
    return drawn


def _page(
    panels: Sequence[tuple[float, float, Panel]],
    style: DiagramStyle,
    *,
    foot: Sequence[str] = (),
    foot_height: float = 0.0,
    about: str = "",
) -> str:
    width = max(x + panel.width for x, _, panel in panels)
    height = max(y + panel.height for _, y, panel in panels) + foot_height
    drawn = []
    for x, y, panel in panels:
        drawn += [f'<g transform="translate({number(x)} {number(y)})">', *panel.draw(), "</g>"]
    return svg_page(width, height, panels[0][2].title, style.palette.paper, [*drawn, *foot], about=about)
