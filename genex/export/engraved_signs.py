"""Signs of an engraved system that are set elsewhere than the engraver does: strokes of the plectrum in
a row of their own, numbers of tuplets clear of everything, accidentals clear of heads.

Lengths are the engraver's units, a hundredth of a millimetre.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Sequence

from genex.export.engraved_boxes import HREF, SVG, Box

STROKE_GAP = 45
"""Between the strokes and the heads, beams and stems under them, to which they belong."""

_STROKE_GLYPHS = {"E610", "E611", "E612", "E613"}
"""Signs of the bow, which are those of the plectrum [published: SMuFL 1.4, string techniques]."""

_NUMBER_STEP, _NUMBER_STEPS = 15, 40
"""A number is moved up or down by such steps, at most so many: 6 mm."""

_ACCIDENTAL_STEP, _ACCIDENTAL_STEPS = 10, 20
"""An accidental that meets a head is moved to the left by such steps, at most so many: 2 mm."""

_LINE_BELOW = 38
"""From the foot of a degree to the line under it."""

_MARK_BELOW, _MARK_RADIUS, _MARK_STROKE, _MARK_GAP = 72, 46, 16, 10
"""From the foot of a degree to the middle of a square or disc, half the width of these, about as large
as those of the necks, their line, and the room around them."""

_HYPHEN, _HYPHEN_THICK, _HYPHEN_UP, _HYPHEN_GAP = 64, 16, 62, 12
"""How long a hyphen is between two syllables, how thick, how far above their line, and the least room on
either side of it."""

_KEPT_CLEAR = {"notehead", "accid", "dots", "rest", "flag", "stem", "tupletNum", "artic", "ledgerLines"}
_TRANSLATED = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\)")


def name_strokes(page: ElementTree.Element) -> None:
    """Give strokes of the plectrum, which the engraver sets on the heads like accents, a class of their
    own."""
    for group in page.iter(f"{SVG}g"):
        glyphs = [use.get(HREF, "").lstrip("#")[:4] for use in group.findall(f"{SVG}use")]
        if group.get("class", "").startswith("artic") and glyphs and set(glyphs) <= _STROKE_GLYPHS:
            group.set("class", "stroke")


def stroke_row(found: Sequence[Box], top: float) -> float:
    """The strokes in a row above ``top``; the new top."""
    return min([top, *(_translated(box, 0, top - STROKE_GAP - box.bottom).top for box in found)])


def clear_of_numbers(found: Sequence[Box]) -> list[Box]:
    """All boxes, after the number of every tuplet that covers something was moved the shortest way up or
    down to where it does not; on a beam only where there is no other place."""
    moved = list(found)
    for index, box, others in _movable(moved, "tupletNum"):
        near = [
            other
            for other in others
            if other.staff == 1 and other.left < box.right and box.left < other.right
        ]
        signs = [other for other in near if other.kind in _KEPT_CLEAR]
        if not any(box.meets(other) for other in signs):
            continue
        for kept in ([*signs, *(other for other in near if other.kind == "beam")], signs):
            by = _way_out(box, kept)
            if by is not None:
                moved[index] = _translated(box, 0, by)
                break
    return moved


def clear_of_heads(found: Sequence[Box]) -> list[Box]:
    """All boxes, after accidentals that meet a head (of a chord with a second, on the other side of its
    stem) or one right of them were moved to the left, to where they meet neither."""
    moved = list(found)
    for index, box, others in _movable(moved, "accid"):
        signs = [
            other
            for other in others
            if other.kind in ("notehead", "accid") and other.measure == box.measure
        ]
        met = [other for other in signs if box.meets(other)]
        if not any(other.kind == "notehead" or box.left <= other.left for other in met):
            continue  # of two accidentals the left one goes
        for step in range(1, _ACCIDENTAL_STEPS + 1):
            by = -step * _ACCIDENTAL_STEP
            if not any(box.moved(by, 0).meets(other) for other in signs):
                moved[index] = _translated(box, by, 0)
                break
    return moved


def mark_under(
    lines: int, left: float, right: float, base: float, found: Sequence[Box]
) -> ElementTree.Element:
    """What stands under a degree from ``left`` to ``right``: a line, two lines as a square, three as a
    disc; a line, too, where the mark would meet a digit of the tab under it."""
    middle, y = (left + right) / 2, base + _MARK_BELOW
    around = Box(
        "",
        middle - _MARK_RADIUS,
        y - _MARK_RADIUS,
        middle + _MARK_RADIUS,
        y + _MARK_RADIUS,
        found[0].element,
    )
    has_room = not any(box.staff == 2 and box.text and around.meets(box, _MARK_GAP) for box in found)
    if lines == 1 or not has_room:
        d = f"M{left:.0f} {base + _LINE_BELOW:.0f} L{right:.0f} {base + _LINE_BELOW:.0f}"
        return ElementTree.Element(f"{SVG}path", {"d": d, "stroke-width": str(_MARK_STROKE)})
    corners = 4 if lines == 2 else 16
    radius = (_MARK_RADIUS - _MARK_STROKE / 2) * (math.sqrt(2) if lines == 2 else 1)
    angles = [math.pi * (2 * corner + 1) / corners for corner in range(corners)]
    points = [(middle + radius * math.sin(angle), y + radius * math.cos(angle)) for angle in angles]
    d = "M" + " L".join(f"{x:.0f} {y:.0f}" for x, y in points) + " Z"
    fill = {"fill": "none"} if lines == 2 else {}
    return ElementTree.Element(f"{SVG}path", {"d": d, "stroke-width": str(_MARK_STROKE), **fill})


def place_hyphens(page: ElementTree.Element, found: Sequence[Box]) -> None:
    """Each hyphen in the middle between its syllables, or behind the last one of a system; none where
    the two nearly touch. The engraver has set them between words that were moved and set smaller."""
    words = sorted((box for box in found if box.kind == "syl"), key=lambda box: box.left)
    after = {box.element: place for place, box in enumerate(words, start=1)}
    for group in page.iter(f"{SVG}g"):
        if group.get("class") != "syl":
            continue
        hyphens = group.findall(f"{SVG}rect")
        for hyphen in hyphens:
            group.remove(hyphen)
        place = after.get(next(iter(group.findall(f"{SVG}text")), group))
        if not hyphens or place is None:
            continue
        left = words[place - 1].right
        room = words[place].left - left if place < len(words) else 2 * _HYPHEN_GAP + _HYPHEN
        length = min(_HYPHEN, room - 2 * _HYPHEN_GAP)
        if length >= _HYPHEN / 3:
            base = float(words[place - 1].element.get("y", "0"))
            at = {"x": left + (room - length) / 2, "y": base - _HYPHEN_UP, "width": length}
            said = {name: f"{value:.0f}" for name, value in (at | {"height": _HYPHEN_THICK}).items()}
            ElementTree.SubElement(group, f"{SVG}rect", said)


def _movable(moved: Sequence[Box], kind: str) -> Iterator[tuple[int, Box, Sequence[Box]]]:
    """Index and box of each glyph of a kind, and all other boxes where they stand by then."""
    for index, box in enumerate(moved):
        if box.kind == kind and box.element.get("transform"):
            yield index, box, [*moved[:index], *moved[index + 1 :]]


def _way_out(box: Box, kept: Sequence[Box]) -> float | None:
    for step in range(1, _NUMBER_STEPS + 1):
        for by in (-step * _NUMBER_STEP, step * _NUMBER_STEP):
            if not any(box.moved(0, by).meets(other) for other in kept):
                return by
    return None


def _translated(box: Box, dx: float, dy: float) -> Box:
    """A glyph so much farther to the right and lower."""
    call = box.element.get("transform", "")

    def place(at: re.Match[str]) -> str:
        return f"translate({float(at[1]) + dx:.0f}, {float(at[2]) + dy:.0f})"

    box.element.set("transform", _TRANSLATED.sub(place, call, count=1))
    return box.moved(dx, dy)
