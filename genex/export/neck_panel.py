"""One neck of a diagram: lying as in tab, or upright as grips are printed.

All places are those of the lying neck, along it and across it; an upright one turns them: the nut on
top, the thickest string at the left (at the right for left-handed players) [common practice].
Lengths are SVG user units (CSS pixels).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Literal

from genex.export.neck_marks import Label, Mark, inlay_dots
from genex.export.phrases import capitalised, words
from genex.export.svg_strokes import circle, line, text_at
from genex.export.tab_layout import string_names
from genex.export.typography import with_signs
from genex.fretboard import Tuning

Theme = Literal["light", "dark"]
Spacing = Literal["even", "true"]
Direction = Literal["lying", "upright"]

STRING_GAP = 26.0
FRET_WIDTH = 44.0
RADIUS = 10.0
RING = 12.8
MARGIN = 14.0
NAME_WIDTH = 20.0
OPEN_WIDTH = 34.0
TITLE_HEIGHT = 26.0
NUMBER_HEIGHT = 22.0
UPRIGHT_GAP = 38.0
"""Between the strings of an upright neck: small labels stand between discs."""
FRET_COLUMN = 52.0
SMALL_WIDTH = 14.0
TITLE_LETTER = 8.6
"""Of an upright neck: from the edge to the nearest string, with the numbers of frets; beyond the last
one, for small labels; a letter of the title."""
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
    direction: Direction = "lying"

    @property
    def palette(self) -> Palette:
        return PALETTES[self.theme]


@dataclass(frozen=True)
class Panel:
    """One neck, lying. ``spans`` are ``(form, first fret, last fret)`` of brackets above it."""

    marks: tuple[Mark, ...]
    tuning: Tuning
    style: DiagramStyle
    title: str
    frets: tuple[int, int]
    spans: tuple[tuple[str, int, int], ...] = field(default=())
    language: str = "en"

    def titled(self, title: str) -> Panel:
        """The same neck under another title."""
        return replace(self, title=title)

    @property
    def phrases(self) -> Mapping[str, str]:
        return words(self.language)

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

    def at(self, distance: float, string: float) -> tuple[float, float]:
        """Where a string is, so far from the nut."""
        return self.x(distance), self.top + STRING_GAP * (string - 1)

    def along(self, fret: int) -> float:
        """How far from the nut the middle of a fret's cell is; open strings lie before it."""
        if fret == 0:
            return -OPEN_WIDTH / 2
        index = fret - self.frets[0]
        return (self.wires[index] + self.wires[index + 1]) / 2

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
        count = len(self.tuning.strings)
        for fret in range(self.frets[0], self.frets[1] + 1):
            dots = inlay_dots(fret, self.tuning.capo)
            middle = (count + 1) / 2
            for string in {0: [], 1: [middle], 2: [middle - 1, middle + 1]}[dots]:
                drawn.append(circle(*self.at(self.along(fret), string), 4.5, palette.faint))
            drawn.append(self._fret_number(fret, palette))
        if self.tuning.capo:
            said = self.phrases["capo_short"].format(capo=self.tuning.capo)
            drawn.append(self._capo(said, palette))
        for index, wire in enumerate(self.wires):
            is_nut = index == 0 and self.has_nut
            color, thick = (palette.ink, 4.0) if is_nut else (palette.soft, 1.2)
            place = wire - 1.4 if is_nut else wire
            drawn.append(line(*self.at(place, 1), *self.at(place, count), color, thick))
        for string, name in enumerate(string_names(self.tuning.strings, self.phrases), start=1):
            thick = 0.9 + 0.22 * (string - 1)
            start, end = self.at(0, string), self.at(self.wires[-1], string)
            drawn.append(line(*start, *end, palette.soft, thick))
            drawn.append(self._name(string, with_signs(capitalised(name)), palette))
        return drawn

    def _fret_number(self, fret: int, palette: Palette) -> str:
        x, _ = self.at(self.along(fret), 1)
        return text_at(x, self.height - 6, str(fret), palette.soft, 10)

    def _capo(self, said: str, palette: Palette) -> str:
        """At the nut's end of the row of fret numbers, which count from it."""
        edge, anchor = (self.width - 4, "end") if self.style.left_handed else (4.0, "start")
        return text_at(edge, self.height - 6, said, palette.ink, 10, anchor=anchor, bold=True)

    def _name(self, string: int, name: str, palette: Palette) -> str:
        x = MARGIN + NAME_WIDTH / 2
        x = self.width - x if self.style.left_handed else x
        return text_at(x, self.at(0, string)[1] + 4, name, palette.soft, 11)

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
        x, y = self.at(self.along(mark.fret), mark.string)
        drawn = []
        if mark.is_root:
            drawn.append(circle(x, y, RING, palette.paper, palette.root, 1.6))
            drawn.append(circle(x, y, RADIUS - 0.2, palette.root))
        else:
            drawn.append(circle(x, y, RADIUS, palette.tone, palette.ink, 1.4))
        text = with_signs(mark.text(self.style.label, self.phrases))
        if mark.other_finger is not None and self.style.label == "fingers":
            text += f"({mark.other_finger})"
        color = palette.root_text if mark.is_root else palette.ink
        size = {0: 11, 1: 11.5, 2: 10, 3: 8, 4: 8}.get(len(text), 7)
        if text:
            drawn.append(text_at(x, y + size * 0.36, text, color, size, bold=True))
        if self.style.second is not None and (
            small := with_signs(mark.text(self.style.second, self.phrases))
        ):
            drawn.append(
                text_at(x + RING + 4.5, y - RADIUS + 1, small, palette.ink, 9, halo=palette.paper)
            )
        if mark.other_finger is not None and self.style.second == "fingers":
            other = str(mark.other_finger)
            left, size = x + RING + 11.5, self.style.other_size
            drawn.append(text_at(left, y - RADIUS + 1, other, palette.ink, size, halo=palette.paper))
        return drawn


@dataclass(frozen=True)
class UprightPanel(Panel):
    """One neck as grips are printed: nut on top, frets downwards, their numbers beside them."""

    @property
    def width(self) -> float:
        strings = UPRIGHT_GAP * (len(self.tuning.strings) - 1)
        return max(
            FRET_COLUMN + strings + MARK_CLEARANCE + SMALL_WIDTH, MARGIN + TITLE_LETTER * len(self.title)
        )

    @property
    def neck_top(self) -> float:
        """Height of the nut, under the names of the strings and what they sound open."""
        has_open = self.has_nut and any(mark.fret == 0 for mark in self.marks)
        title = TITLE_HEIGHT if self.title else 0.0
        return title + MARGIN + NAME_WIDTH + (OPEN_WIDTH if has_open else 6.0)

    @property
    def height(self) -> float:
        return self.neck_top + self.wires[-1] + MARGIN

    def at(self, distance: float, string: float) -> tuple[float, float]:
        across = UPRIGHT_GAP * (len(self.tuning.strings) - string)
        x = self.width - FRET_COLUMN - across if self.style.left_handed else FRET_COLUMN + across
        return x, self.neck_top + distance

    def _fret_number(self, fret: int, palette: Palette) -> str:
        edge, anchor = (self.width - MARGIN, "end") if self.style.left_handed else (MARGIN, "start")
        _, y = self.at(self.along(fret), 1)
        return text_at(edge, y + 4, str(fret), palette.soft, 10, anchor=anchor)

    def _capo(self, said: str, palette: Palette) -> str:
        edge, anchor = (self.width - MARGIN, "end") if self.style.left_handed else (MARGIN, "start")
        return text_at(edge, self.neck_top - 4, said, palette.ink, 8, anchor=anchor, bold=True)

    def _name(self, string: int, name: str, palette: Palette) -> str:
        x, _ = self.at(0, string)
        title = TITLE_HEIGHT if self.title else 0.0
        return text_at(x, title + MARGIN + 8, name, palette.soft, 11)
