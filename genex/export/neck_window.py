"""A piece of the neck a thumb wide: where the hand is, or how two tones move.

Too small for letters: what a dot is, its form tells. A root is a disc, a guide tone a ring, any other
tone a point. Between two chords the tones that go are squares, those that come are discs, and a
stroke leads from one to the other. The neck lies as in tab, string 1 on top, mirrored for
left-handed players; the number beneath is that of the first fret shown.

Lengths are millimetres on paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal

from genex.export.engraving import TEXT_FAMILY

Form = Literal["root", "guide", "tone", "goes", "comes", "stays"]

STRING_GAP = 1.75
FRET_WIDTH = 4.1
SIDE = 1.4
"""Room beside and above the neck for dots on its edges."""

FOOT = 2.9
"""Room for the number of the fret."""

FEWEST_FRETS = 4
_INK, _SOFT = "#1f1f1f", "#8a8a8a"


@dataclass(frozen=True, slots=True)
class Dot:
    """A tone on the neck. Open strings lie before the nut."""

    string: int
    fret: int
    form: Form


@dataclass(frozen=True, slots=True)
class Window:
    """A picture and its size."""

    svg: str
    width_mm: float
    height_mm: float


def neck_window(
    dots: Sequence[Dot],
    strings: int,
    *,
    moves: Iterable[tuple[Dot, Dot]] = (),
    left_handed: bool = False,
    title: str = "",
) -> Window:
    """The piece of the neck that holds the dots. ``title`` is the text that is read aloud."""
    stopped = [dot.fret for dot in dots if dot.fret > 0] or [1]
    first, last = min(stopped), max(stopped)
    if any(dot.fret == 0 for dot in dots):
        first = 1
    last = max(last, first + FEWEST_FRETS - 1)
    before = FRET_WIDTH * 0.7 if any(dot.fret == 0 for dot in dots) else 0.0
    count = last - first + 1
    width = 2 * SIDE + before + count * FRET_WIDTH
    neck_height = (strings - 1) * STRING_GAP
    height = 2 * SIDE + neck_height + FOOT

    def x(distance: float) -> float:
        place = SIDE + before + distance
        return width - place if left_handed else place

    def place(dot: Dot) -> tuple[float, float]:
        along = -before / 2 if dot.fret == 0 else (dot.fret - first + 0.5) * FRET_WIDTH
        return x(along), SIDE + (dot.string - 1) * STRING_GAP

    drawn = []
    for string in range(strings):
        y = SIDE + string * STRING_GAP
        drawn.append(_line(x(0), y, x(count * FRET_WIDTH), y, _SOFT, 0.14))
    for wire in range(count + 1):
        thick = 0.5 if wire == 0 and first == 1 else 0.18
        at = x(wire * FRET_WIDTH)
        drawn.append(_line(at, SIDE, at, SIDE + neck_height, _INK if thick > 0.4 else _SOFT, thick))
    for start, end in moves:
        drawn.append(_line(*place(start), *place(end), _INK, 0.3))
    drawn += [_FORMS[dot.form](*place(dot)) for dot in dots]
    drawn.append(
        f'<text x="{x(FRET_WIDTH / 2):.2f}" y="{height - 0.5:.2f}" text-anchor="middle" '
        f'font-family="{TEXT_FAMILY}" font-size="2.6" fill="{_INK}">{first}</text>'
    )
    named = f"<title>{escape(title)}</title>" if title else ""
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.2f}mm" height="{height:.2f}mm" '
        f'viewBox="0 0 {width:.2f} {height:.2f}">{named}{"".join(drawn)}</svg>'
    )
    return Window(svg, width, height)


def _line(x1: float, y1: float, x2: float, y2: float, color: str, thick: float) -> str:
    return (
        f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" '
        f'stroke="{color}" stroke-width="{thick}"/>'
    )


def _disc(x: float, y: float) -> str:
    return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="0.85" fill="{_INK}"/>'


def _ring(x: float, y: float) -> str:
    return (
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="0.7" fill="#ffffff" stroke="{_INK}" stroke-width="0.34"/>'
    )


def _point(x: float, y: float) -> str:
    return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="0.42" fill="{_INK}"/>'


def _square(x: float, y: float) -> str:
    return (
        f'<rect x="{x - 0.68:.2f}" y="{y - 0.68:.2f}" width="1.36" height="1.36" fill="#ffffff" '
        f'stroke="{_INK}" stroke-width="0.3"/>'
    )


def _disc_in_square(x: float, y: float) -> str:
    square = (
        f'<rect x="{x - 0.85:.2f}" y="{y - 0.85:.2f}" width="1.7" height="1.7" fill="#ffffff" '
        f'stroke="{_INK}" stroke-width="0.3"/>'
    )
    return square + f'<circle cx="{x:.2f}" cy="{y:.2f}" r="0.6" fill="{_INK}"/>'


_FORMS = {
    "root": _disc,
    "guide": _ring,
    "tone": _point,
    "goes": _square,
    "comes": _disc,
    "stays": _disc_in_square,
}
