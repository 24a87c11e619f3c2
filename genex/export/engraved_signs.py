"""Signs of an engraved system that are set elsewhere than the engraver does: strokes of the plectrum in
a row of their own, numbers of tuplets clear of everything, accidentals clear of heads.

Lengths are the engraver's units, a hundredth of a millimetre.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence

from genex.export.engraved_boxes import HREF, SVG, Box

STROKE_GAP = 45
"""Between the strokes and the heads, beams and stems under them, to which they belong."""

_STROKE_GLYPHS = {"E610", "E611", "E612", "E613"}
"""Signs of the bow, which are those of the plectrum [published: SMuFL 1.4, string techniques]."""

_NUMBER_STEP, _NUMBER_STEPS = 15, 40
"""A number is moved up or down by such steps, at most so many: 6 mm."""

_ACCIDENTAL_STEP, _ACCIDENTAL_STEPS = 10, 20
"""An accidental that meets a head is moved to the left by such steps, at most so many: 2 mm."""

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
    for index, box in enumerate(moved):
        if box.kind != "tupletNum" or not box.element.get("transform"):
            continue
        near = [
            other
            for at, other in enumerate(moved)
            if at != index and other.staff == 1 and other.left < box.right and box.left < other.right
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
    for index, box in enumerate(moved):
        if box.kind != "accid" or not box.element.get("transform"):
            continue
        signs = [
            other
            for at, other in enumerate(moved)
            if at != index and other.kind in ("notehead", "accid") and other.measure == box.measure
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
