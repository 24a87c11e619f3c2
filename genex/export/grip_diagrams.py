"""Grips as vertical diagrams, the trade's form: SVG.

How a diagram reads
-------------------
The nut is on top, the thickest string at the left (at the right for left-handed players). Away from
the nut the number of the first fret stands beside it. Over the strings an x is a muted string, an o
an open one. Discs hold fingers, those of the root are dark; a finger across several strings is a
bar. Below the strings degrees or notes may stand. Nothing depends on colour.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from genex.export.held_grips import ShownGrip, grips_by_section
from genex.export.neck_marks import Label
from genex.export.neck_panel import MARGIN, PALETTES, Palette, Theme
from genex.export.note_names import chord_name, note_name
from genex.export.phrases import words
from genex.export.svg_strokes import circle, line, number, svg_page, text_at
from genex.export.typography import with_signs
from genex.fretboard import Grip, Tuning
from genex.score import HeldGrip, Score
from genex.theory import Chord, Degree

STRING_GAP = 17.0
FRET_HEIGHT = 23.0
RADIUS = 6.8
RING = 8.3
FEWEST_FRETS = 4
NUMBER_WIDTH = 18.0
TITLE_HEIGHT = 20.0
HEAD_HEIGHT = 16.0
BELOW_HEIGHT = 16.0
GAP = 22.0
LINE_HEIGHT = 22.0
HEADING_HEIGHT = 26.0
CAPTION_HEIGHT = 15.0


@dataclass(frozen=True, slots=True)
class GripStyle:
    """How grips are drawn. ``below`` is what stands under the strings."""

    below: Label = "none"
    theme: Theme = "light"
    left_handed: bool = False

    @property
    def palette(self) -> Palette:
        return PALETTES[self.theme]


@dataclass(frozen=True)
class GripDots:
    """A grip as it is drawn, by string: fret, finger, degree, note; strings left out are muted."""

    title: str
    frets: Mapping[int, int]
    fingers: Mapping[int, int | None]
    degrees: Mapping[int, Degree | None]
    notes: Mapping[int, str]

    @property
    def first_fret(self) -> int:
        """The first fret shown: 1 with the nut, else the lowest one that is stopped."""
        stopped = [fret for fret in self.frets.values() if fret]
        return 1 if not stopped or max(stopped) <= FEWEST_FRETS else min(stopped)

    @property
    def rows(self) -> int:
        """Frets shown."""
        return max(FEWEST_FRETS, max(self.frets.values(), default=0) - self.first_fret + 1)

    @property
    def barres(self) -> list[tuple[int, int, int]]:
        """Fret, lowest and highest string of each finger that lies across several strings."""
        found = []
        for finger in sorted({finger for finger in self.fingers.values() if finger}):
            strings = [s for s, other in self.fingers.items() if other == finger and self.frets[s]]
            if len(strings) > 1:
                found.append((self.frets[strings[0]], max(strings), min(strings)))
        return found

    def in_words(self, count: int, language: str = "en") -> str:
        """The diagram in words, from the lowest of ``count`` strings."""
        phrases = words(language)
        told = []
        for string in range(count, 0, -1):
            fret, finger, degree = (
                each.get(string) for each in (self.frets, self.fingers, self.degrees)
            )
            key = "muted" if fret is None else "open" if fret == 0 else "stopped"
            if key == "stopped" and not finger:
                key = "unfingered"
            text = phrases[f"string_{key}"].format(string=string, fret=fret, finger=finger)
            told.append(text if degree is None or fret is None else f"{text} ({degree})")
        return ", ".join(told)


def dots_of(grip: Grip, title: str = "", language: str = "en") -> GripDots:
    """What is drawn of a grip."""
    phrases = words(language)
    notes = {
        s: note_name(pitch.name, phrases) for s, pitch in zip(grip.strings, grip.pitches, strict=True)
    }
    return GripDots(title, grip.held.frets, grip.held.fingers, grip.degrees, notes)


def dots_of_held(held: HeldGrip, title: str = "", language: str = "en") -> GripDots:
    """What is drawn of a grip that is played."""
    phrases = words(language)
    by_string = {note.fretting.string: note for note in held.notes if note.fretting is not None}
    return GripDots(
        title,
        {string: fret for string, (fret, _) in held.places.items()},
        {string: finger for string, (_, finger) in held.places.items()},
        {string: note.degree for string, note in by_string.items()},
        {string: note_name(note.pitch.name, phrases) for string, note in by_string.items()},
    )


def grip_svg(dots: GripDots, tuning: Tuning, style: GripStyle = GripStyle(), *, rows: int = 0) -> str:
    """A picture of one grip, ``rows`` frets high at least; its title stands above it."""
    panel = _Panel(dots, tuning, style, max(rows, dots.rows))
    about = dots.in_words(len(tuning.strings))
    return svg_page(
        panel.width, panel.height, dots.title, style.palette.paper, panel.draw(), about=about
    )


def grip_size(tuning: Tuning, style: GripStyle, rows: int) -> tuple[float, float]:
    """Width and height of a diagram without a title, so many frets high."""
    panel = _Panel(GripDots("", {}, {}, {}, {}), tuning, style, rows)
    return panel.width, panel.height


def grips_svg(
    chord: Chord,
    grips: Sequence[Grip],
    tuning: Tuning,
    style: GripStyle = GripStyle("degrees"),
    *,
    language: str = "en",
    columns: int = 8,
) -> str:
    """All grips of a chord in one picture, kind by kind; sets of strings stand side by side."""
    if not grips:
        raise ValueError("a picture needs at least one grip")
    phrases, palette = words(language), style.palette
    heading = with_signs(chord_name(chord, phrases))
    if tuning.capo:
        heading += f", {phrases['capo'].format(capo=tuning.capo)}"
    drawn = [text_at(MARGIN, MARGIN + 14, heading, palette.ink, 18, anchor="start", bold=True)]
    top, told = MARGIN + HEADING_HEIGHT, []
    legend = _legend_text(phrases, style)
    width = 2 * MARGIN + 6.2 * len(legend)
    for kind, of_kind in groupby(grips, key=lambda grip: grip.kind):
        drawn.append(text_at(MARGIN, top + 12, kind, palette.ink, 13, anchor="start", bold=True))
        top += LINE_HEIGHT
        for row in _rows(list(of_kind), columns):
            rows = max(dots_of(grip).rows for grip in row)
            x, before = MARGIN, None
            for grip in row:
                panel = _Panel(dots_of(grip, language=language), tuning, style, rows)
                text = phrases["on_strings"].format(strings=" ".join(map(str, grip.strings)))
                if grip.strings != before:
                    drawn.append(text_at(x, top + 11, text, palette.soft, 11, anchor="start"))
                before = grip.strings
                drawn.append(f'<g transform="translate({number(x)} {number(top + CAPTION_HEIGHT)})">')
                drawn += [*panel.draw(), "</g>"]
                told.append(f"{kind}, {text}: {panel.dots.in_words(len(tuning.strings), language)}.")
                x += panel.width + GAP
            width = max(width, x - GAP + MARGIN)
            top += CAPTION_HEIGHT + panel.height + GAP / 2
    drawn.append(text_at(MARGIN, top + 8, legend, palette.soft, 11, anchor="start"))
    return svg_page(width, top + LINE_HEIGHT, heading, palette.paper, drawn, about=" ".join(told))


def played_svg(
    score: Score,
    tuning: Tuning,
    style: GripStyle = GripStyle("degrees"),
    *,
    language: str = "en",
    columns: int = 8,
) -> str:
    """The grips of a score's part of chords in one picture, in order of play, section by section.

    Over each stand its chord and, small, the number of its bar. Raises ValueError without such a part.
    """
    part = next((part for part in score.lead_parts if part.chordal), None)
    if part is None:
        raise ValueError("there is no part of chords")
    phrases, palette = words(language), style.palette
    sections = grips_by_section(part, score.timeline)
    count = len(tuning.strings)
    drawn = [text_at(MARGIN, MARGIN + 14, score.title, palette.ink, 18, anchor="start", bold=True)]
    top, told = MARGIN + HEADING_HEIGHT, []
    legend = f"{_legend_text(phrases, style)}; {phrases['bar_over']}"
    width = 2 * MARGIN + 6.2 * len(legend)
    for section in sections:
        if len(score.timeline.sections) > 1:
            drawn.append(text_at(MARGIN, top + 12, section.name, palette.soft, 13, anchor="start"))
            top += LINE_HEIGHT
        for start in range(0, len(section.grips), columns):
            row = section.grips[start : start + columns]
            dots = [dots_of_held(each.held, chord_over(each, phrases), language) for each in row]
            rows, x = max(each.rows for each in dots), MARGIN
            for each, bar in zip(dots, (shown.bar for shown in row), strict=True):
                panel = _Panel(each, tuning, style, rows)
                drawn.append(text_at(x, top + 12, str(bar.number), palette.soft, 10, anchor="start"))
                drawn.append(f'<g transform="translate({number(x)} {number(top)})">')
                drawn += [*panel.draw(), "</g>"]
                at = phrases["bar"].format(bars=bar.number)
                told.append(f"{at}, {each.title}: {each.in_words(count, language)}.")
                x += panel.width + GAP
            width = max(width, x - GAP + MARGIN)
            top += panel.height + GAP / 2
    drawn.append(text_at(MARGIN, top + 8, legend, palette.soft, 11, anchor="start"))
    return svg_page(width, top + LINE_HEIGHT, score.title, palette.paper, drawn, about=" ".join(told))


def chord_over(shown: ShownGrip, phrases: Mapping[str, str]) -> str:
    """The chord that stands over a grip."""
    return with_signs(chord_name(shown.chord, phrases))


def _rows(grips: Sequence[Grip], columns: int) -> Iterator[list[Grip]]:
    """Lines of diagrams; a set of strings is broken only where it is wider than a line."""
    row: list[Grip] = []
    for _, group in groupby(grips, key=lambda grip: grip.strings):
        together = list(group)
        if row and len(row) + len(together) > columns:
            yield row
            row = []
        row += together
        while len(row) > columns:
            yield row[:columns]
            row = row[columns:]
    yield row


def _legend_text(phrases: Mapping[str, str], style: GripStyle) -> str:
    below = {"degrees": "below_degrees", "notes": "below_notes"}.get(style.below)
    return "; ".join([phrases["grip_signs"], *([phrases[below]] if below else [])])


@dataclass(frozen=True)
class _Panel:
    """One diagram, ``rows`` frets high."""

    dots: GripDots
    tuning: Tuning
    style: GripStyle
    rows: int

    @property
    def count(self) -> int:
        return len(self.tuning.strings)

    @property
    def has_nut(self) -> bool:
        return self.dots.first_fret == 1

    @property
    def width(self) -> float:
        """As wide as any of its kind: room for the fret's number is kept where there is a nut."""
        return NUMBER_WIDTH + STRING_GAP * (self.count - 1) + 2 * RING

    @property
    def top(self) -> float:
        """Height of the nut."""
        return (TITLE_HEIGHT if self.dots.title else 0.0) + HEAD_HEIGHT

    @property
    def bottom(self) -> float:
        return self.top + FRET_HEIGHT * self.rows

    @property
    def height(self) -> float:
        return self.bottom + (BELOW_HEIGHT if self.style.below != "none" else 5.0)

    def x(self, string: int) -> float:
        """The place of a string: the thickest at the left, for left-handed players at the right."""
        place = NUMBER_WIDTH + RING + STRING_GAP * (self.count - string)
        return self.width - place if self.style.left_handed else place

    def y(self, fret: int) -> float:
        return self.top + FRET_HEIGHT * (fret - self.dots.first_fret + 0.5)

    def draw(self) -> list[str]:
        palette, dots = self.style.palette, self.dots
        drawn = []
        middle = (self.x(1) + self.x(self.count)) / 2
        if dots.title:
            drawn.append(text_at(middle, 13, dots.title, palette.ink, self._title_size(), bold=True))
        drawn += self._neck(palette)
        for string in range(1, self.count + 1):
            if dots.frets.get(string) is None:
                drawn += self._muted(self.x(string), self.top - 8, palette)
            elif dots.frets[string] == 0:
                drawn.append(circle(self.x(string), self.top - 8, 3.8, "none", palette.ink, 1.2))
        for fret, low, high in dots.barres:
            drawn.append(self._bar(fret, low, high, palette))
        barred = {
            (string, fret)
            for fret, low, high in dots.barres
            for string in range(high, low + 1)
            if dots.frets.get(string) == fret
        }
        for string, fret in dots.frets.items():
            if fret:
                drawn += self._dot(string, fret, palette, on_bar=(string, fret) in barred)
            if self.style.below != "none":
                drawn += self._below(string, palette)
        return drawn

    def _title_size(self) -> float:
        return min(13.0, 1.75 * self.width / max(1, len(self.dots.title)))

    def _neck(self, palette: Palette) -> list[str]:
        left, right = sorted((self.x(1), self.x(self.count)))
        drawn = []
        for row in range(self.rows + 1):
            y = self.top + FRET_HEIGHT * row
            drawn.append(line(left - 0.6, y, right + 0.6, y, palette.soft, 1.1))
        for string in range(1, self.count + 1):
            thick = 0.8 + 0.16 * (string - 1)
            drawn.append(
                line(self.x(string), self.top, self.x(string), self.bottom, palette.soft, thick)
            )
        if self.has_nut:
            drawn.append(line(left - 1.0, self.top - 1.2, right + 1.0, self.top - 1.2, palette.ink, 3.8))
        else:
            x, anchor = (0.0, "start") if not self.style.left_handed else (self.width, "end")
            y = self.y(self.dots.first_fret) + 4
            drawn.append(text_at(x, y, str(self.dots.first_fret), palette.ink, 11.5, anchor=anchor))
        return drawn

    def _muted(self, x: float, y: float, palette: Palette) -> list[str]:
        arm = 3.3
        return [
            line(x - arm, y - arm, x + arm, y + arm, palette.ink, 1.2),
            line(x - arm, y + arm, x + arm, y - arm, palette.ink, 1.2),
        ]

    def _bar(self, fret: int, low: int, high: int, palette: Palette) -> str:
        left, right = sorted((self.x(low), self.x(high)))
        return (
            f'<rect x="{number(left - RADIUS)}" y="{number(self.y(fret) - RADIUS)}" '
            f'width="{number(right - left + 2 * RADIUS)}" height="{number(2 * RADIUS)}" '
            f'rx="{number(RADIUS)}" fill="{palette.tone}" stroke="{palette.ink}" stroke-width="1.3"/>'
        )

    def _dot(self, string: int, fret: int, palette: Palette, *, on_bar: bool) -> list[str]:
        x, y = self.x(string), self.y(fret)
        is_root = self.dots.degrees.get(string) == Degree(1)
        drawn = []
        if is_root:
            drawn.append(circle(x, y, RADIUS + 0.6, palette.root))
        elif not on_bar:
            drawn.append(circle(x, y, RADIUS, palette.tone, palette.ink, 1.3))
        finger = self.dots.fingers.get(string)
        if finger:
            color = palette.root_text if is_root else palette.ink
            drawn.append(text_at(x, y + 3.5, str(finger), color, 9.8, bold=True))
        return drawn

    def _below(self, string: int, palette: Palette) -> list[str]:
        degree = self.dots.degrees.get(string)
        shown = self.dots.notes.get(string, "") if self.style.below == "notes" else str(degree or "")
        if not shown:
            return []
        return [text_at(self.x(string), self.bottom + 12, with_signs(shown), palette.ink, 9)]
