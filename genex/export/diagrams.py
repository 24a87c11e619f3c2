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

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from genex.export.neck_marks import Label, Mark, fret_window, inlay_dots, shape_marks, tone_marks
from genex.export.neck_text import shape_heading
from genex.export.phrases import words
from genex.export.svg_strokes import circle, line, number, svg_page, text_at
from genex.export.tab_layout import string_names
from genex.export.typography import FONT_FAMILY, font_files, with_signs
from genex.fretboard import Shape, Tuning
from genex.lazy import lazy

if TYPE_CHECKING:
    import resvg_py
else:
    resvg_py = lazy("resvg_py")  # pictures of lines do without

Theme = Literal["light", "dark"]
Spacing = Literal["even", "true"]

STRING_GAP = 26.0
FRET_WIDTH = 44.0
RADIUS = 10.0
RING = 12.8
MARGIN = 14.0
NAME_WIDTH = 20.0
OPEN_WIDTH = 34.0
TITLE_HEIGHT = 26.0
NUMBER_HEIGHT = 22.0
LEGEND_HEIGHT = 38.0
MARK_CLEARANCE = RING + 2.0
"""Room above the first and below the last string, so that no disc is cut."""


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours of a theme. ``root`` and ``tone`` fill discs; their texts contrast by lightness."""

    paper: str
    ink: str
    soft: str
    faint: str
    root: str
    root_text: str
    tone: str


PALETTES: dict[Theme, Palette] = {
    "light": Palette("#ffffff", "#20262e", "#6b7480", "#d5d9de", "#24445c", "#ffffff", "#ffffff"),
    "dark": Palette("#14181d", "#e8eaed", "#98a1ab", "#3a424c", "#ecd9a8", "#14181d", "#14181d"),
}


@dataclass(frozen=True, slots=True)
class DiagramStyle:
    """How diagrams are drawn. ``second`` is the small label, None for none; ``other_size`` that of a
    finger on the way down, beside it."""

    label: Label = "degrees"
    second: Label | None = None
    theme: Theme = "light"
    spacing: Spacing = "even"
    left_handed: bool = False
    other_size: float = 7.5

    @property
    def palette(self) -> Palette:
        return PALETTES[self.theme]


def shape_svg(
    shape: Shape, tuning: Tuning, style: DiagramStyle = DiagramStyle(), *, title: str | None = None
) -> str:
    """A picture of one shape; its form and position as title unless another is given."""
    panel = _shape_panel(shape, tuning, style)
    return _page([(0.0, 0.0, panel.titled(title) if title is not None else panel)], style)


def neck_svg(
    marks: Sequence[Mark],
    tuning: Tuning,
    style: DiagramStyle = DiagramStyle(),
    *,
    title: str = "",
    frets: tuple[int, int] | None = None,
) -> str:
    """A picture of any marks; ``frets`` is the first and last fret shown."""
    return _page(
        [(0.0, 0.0, _Panel(tuple(marks), tuning, style, title, frets or fret_window(marks)))], style
    )


def sheet_svg(
    name: str,
    shapes: Sequence[Shape],
    tuning: Tuning,
    style: DiagramStyle = DiagramStyle(second="fingers"),
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
    overview_style = DiagramStyle(style.label, None, style.theme, style.spacing, style.left_handed)
    if style.label == "fingers":
        overview_style = DiagramStyle("degrees", None, style.theme, style.spacing, style.left_handed)
    marks = tone_marks(tones, shapes[0].root, tuning, last_fret=last)
    spans = tuple(
        (shape.form, min(note.fret for note in shape.notes), max(note.fret for note in shape.notes))
        for shape in shapes
    )
    phrases = words(language)
    title = with_signs(name)
    if tuning.capo:
        title += f", {phrases['capo'].format(capo=tuning.capo)}"
    overview = _Panel(
        marks, tuning, overview_style, title, (1, min(last, tuning.last_fret)), spans, language
    )
    panels = [_shape_panel(shape, tuning, style, language) for shape in shapes]
    placed: list[tuple[float, float, _Panel]] = [(0.0, 0.0, overview)]
    top = overview.height + MARGIN
    column_width = max(panel.width for panel in panels) + MARGIN
    for row in range(0, len(panels), columns):
        for index, panel in enumerate(panels[row : row + columns]):
            placed.append((index * column_width, top, panel))
        top += max(panel.height for panel in panels[row : row + columns]) + MARGIN
    both_ways = any(shape.other_fingers for shape in shapes)
    foot = _legend(style, top + 4, phrases, both_ways)
    return _page(placed, style, foot=foot, foot_height=LEGEND_HEIGHT)


def svg_to_png(svg: str, *, scale: float = 2.0) -> bytes:
    """A PNG of an SVG drawn by this module, ``scale`` pixels to a unit; only genex's own fonts."""
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=svg,
            zoom=scale,
            skip_system_fonts=True,
            font_files=[str(path) for path in font_files()],
            font_family=FONT_FAMILY,
            sans_serif_family=FONT_FAMILY,
        )
    )


def _shape_panel(shape: Shape, tuning: Tuning, style: DiagramStyle, language: str = "en") -> _Panel:
    marks = shape_marks(shape)
    title = shape_heading(shape, language)
    return _Panel(marks, tuning, style, title, fret_window(marks), language=language)


@dataclass(frozen=True)
class _Panel:
    """One neck. ``spans`` are ``(form, first fret, last fret)`` of brackets above it."""

    marks: tuple[Mark, ...]
    tuning: Tuning
    style: DiagramStyle
    title: str
    frets: tuple[int, int]
    spans: tuple[tuple[str, int, int], ...] = field(default=())
    language: str = "en"

    def titled(self, title: str) -> _Panel:
        return replace(self, title=title)

    @property
    def has_nut(self) -> bool:
        return self.frets[0] == 1

    @property
    def neck_left(self) -> float:
        has_open = self.has_nut and any(mark.fret == 0 for mark in self.marks)
        return MARGIN + NAME_WIDTH + (OPEN_WIDTH if has_open else 6.0)

    @property
    def wires(self) -> list[float]:
        """Distance of each fret wire from the left end of the neck, the first at 0."""
        first, last = self.frets
        count = last - first + 1
        if self.style.spacing == "even":
            return [FRET_WIDTH * index for index in range(count + 1)]
        places = [self.tuning.fret_mm(fret) for fret in range(first - 1, last + 1)]
        narrowest = min(b - a for a, b in pairwise(places))
        scale = max(FRET_WIDTH * count / (places[-1] - places[0]), (2 * RING + 6) / narrowest)
        return [(place - places[0]) * scale for place in places]

    @property
    def width(self) -> float:
        return self.neck_left + self.wires[-1] + MARGIN

    @property
    def brackets_height(self) -> float:
        return 18.0 * self.levels

    @property
    def levels(self) -> int:
        return max((level for *_, level in self.bracket_levels), default=-1) + 1

    @property
    def bracket_levels(self) -> list[tuple[str, int, int, int]]:
        """The spans with the row each is drawn in, so that none overlap."""
        found: list[tuple[str, int, int, int]] = []
        for form, first, last in self.spans:
            taken = {level for _, a, b, level in found if a <= last and first <= b}
            found.append((form, first, last, min(set(range(len(taken) + 1)) - taken)))
        return found

    @property
    def top(self) -> float:
        """Height of string 1."""
        return (TITLE_HEIGHT if self.title else 0.0) + MARGIN + self.brackets_height + MARK_CLEARANCE

    @property
    def bottom(self) -> float:
        """Height of the last string."""
        return self.top + STRING_GAP * (len(self.tuning.strings) - 1)

    @property
    def height(self) -> float:
        return self.bottom + MARK_CLEARANCE + NUMBER_HEIGHT

    def x(self, distance: float) -> float:
        """A distance from the nut end as a horizontal place; mirrored for left-handed players."""
        place = self.neck_left + distance
        return self.width - place if self.style.left_handed else place

    def y(self, string: int) -> float:
        return self.top + STRING_GAP * (string - 1)

    def cell(self, fret: int) -> float:
        """Middle of a fret's cell; open strings lie before the nut."""
        if fret == 0:
            return self.x(-OPEN_WIDTH / 2)
        index = fret - self.frets[0]
        return self.x((self.wires[index] + self.wires[index + 1]) / 2)

    def draw(self) -> list[str]:
        palette = self.style.palette
        drawn = []
        if self.title:
            drawn.append(
                text_at(MARGIN, MARGIN + 12, self.title, palette.ink, 14, anchor="start", bold=True)
            )
        drawn += self._neck(palette)
        drawn += self._brackets(palette)
        shown = range(self.frets[0], self.frets[1] + 1)
        for mark in self.marks:
            if mark.fret in shown or (mark.fret == 0 and self.has_nut):
                drawn += self._mark(mark, palette)
        return drawn

    def _neck(self, palette: Palette) -> list[str]:
        drawn = []
        wires = self.wires
        strings = range(1, len(self.tuning.strings) + 1)
        middle = (self.top + self.bottom) / 2
        for fret in range(self.frets[0], self.frets[1] + 1):
            dots = inlay_dots(fret, self.tuning.capo)
            heights = {0: [], 1: [middle], 2: [middle - STRING_GAP, middle + STRING_GAP]}[dots]
            drawn += [circle(self.cell(fret), height, 4.5, palette.faint) for height in heights]
            drawn.append(text_at(self.cell(fret), self.height - 6, str(fret), palette.soft, 10))
        if self.tuning.capo:
            # At the nut's end of the row of fret numbers, which count from it.
            edge, anchor = (self.width - 4, "end") if self.style.left_handed else (4.0, "start")
            said = words(self.language)["capo_short"].format(capo=self.tuning.capo)
            drawn.append(text_at(edge, self.height - 6, said, palette.ink, 10, anchor=anchor, bold=True))
        for index, wire in enumerate(wires):
            is_nut = index == 0 and self.has_nut
            color, thick = (palette.ink, 4.0) if is_nut else (palette.soft, 1.2)
            x = self.x(wire - 1.4 if is_nut else wire)
            drawn.append(line(x, self.top, x, self.bottom, color, thick))
        for string, name in zip(strings, string_names(self.tuning.strings), strict=True):
            y = self.y(string)
            thick = 0.9 + 0.22 * (string - 1)
            drawn.append(line(self.x(0), y, self.x(wires[-1]), y, palette.soft, thick))
            name_x = MARGIN + NAME_WIDTH / 2
            name_x = self.width - name_x if self.style.left_handed else name_x
            shown = with_signs(name[:1].upper() + name[1:])
            drawn.append(text_at(name_x, y + 4, shown, palette.soft, 11))
        return drawn

    def _brackets(self, palette: Palette) -> list[str]:
        drawn = []
        for form, first, last, level in self.bracket_levels:
            y = self.top - MARK_CLEARANCE - 8 - 18.0 * level
            start = self.wires[max(0, first - self.frets[0])] + 3
            end = self.wires[last - self.frets[0] + 1] - 3
            left, right = sorted((self.x(start), self.x(end)))
            middle = (left + right) / 2
            gap = 5 + 4 * len(form)
            for a, b in ((left, middle - gap), (middle + gap, right)):
                drawn.append(line(a, y, b, y, palette.soft, 1.2))
            for x in (left, right):
                drawn.append(line(x, y, x, y + 5, palette.soft, 1.2))
            drawn.append(text_at(middle, y + 4, form, palette.ink, 11, bold=True))
        return drawn

    def _mark(self, mark: Mark, palette: Palette) -> list[str]:
        x, y = self.cell(mark.fret), self.y(mark.string)
        drawn = []
        if mark.is_root:
            drawn.append(circle(x, y, RING, palette.paper, palette.root, 1.6))
            drawn.append(circle(x, y, RADIUS - 0.2, palette.root))
        else:
            drawn.append(circle(x, y, RADIUS, palette.tone, palette.ink, 1.4))
        text = with_signs(mark.text(self.style.label))
        if mark.other_finger is not None and self.style.label == "fingers":
            text += f"({mark.other_finger})"
        color = palette.root_text if mark.is_root else palette.ink
        size = {0: 11, 1: 11.5, 2: 10, 3: 8, 4: 8}.get(len(text), 7)
        if text:
            drawn.append(text_at(x, y + size * 0.36, text, color, size, bold=True))
        if self.style.second is not None and (small := with_signs(mark.text(self.style.second))):
            drawn.append(
                text_at(x + RING + 4.5, y - RADIUS + 1, small, palette.ink, 9, halo=palette.paper)
            )
        if mark.other_finger is not None and self.style.second == "fingers":
            other = str(mark.other_finger)
            left, size = x + RING + 11.5, self.style.other_size
            drawn.append(text_at(left, y - RADIUS + 1, other, palette.ink, size, halo=palette.paper))
        return drawn


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
    panels: Sequence[tuple[float, float, _Panel]],
    style: DiagramStyle,
    *,
    foot: Sequence[str] = (),
    foot_height: float = 0.0,
) -> str:
    width = max(x + panel.width for x, _, panel in panels)
    height = max(y + panel.height for _, y, panel in panels) + foot_height
    drawn = []
    for x, y, panel in panels:
        drawn += [f'<g transform="translate({number(x)} {number(y)})">', *panel.draw(), "</g>"]
    return svg_page(width, height, panels[0][2].title, style.palette.paper, [*drawn, *foot])
