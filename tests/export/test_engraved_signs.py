"""Strokes of the plectrum in a row, and numbers of tuplets that cover nothing."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import replace

from genex.export.engraved_boxes import SVG, Box, boxes
from genex.export.engraved_signs import clear_of_heads, clear_of_numbers
from genex.export.engraving import engrave
from genex.export.musicxml import parts_document
from genex.export.repeat_signs import full_page
from genex.score import Score, Stroke
from tests.export.builders import fretted, lead, timeline


def drawn(score: Score) -> list[Box]:
    (system,) = engrave(parts_document(score, score.lead_parts, full_page(score.timeline)), width_mm=176)
    root = ElementTree.fromstring(system.svg)
    return boxes(next(g for g in root.iter(f"{SVG}g") if g.get("class") == "page-margin"))


def test_strokes_stand_in_one_row_between_fingers_and_staff() -> None:
    ways = (Stroke.DOWN, Stroke.UP)
    notes = [replace(fretted(at, 1, 4 - at, 5, 1), stroke=ways[at % 2]) for at in range(4)]
    found = drawn(Score("T", "swing", timeline("Gm7"), (lead(notes),)))
    strokes = [box for box in found if box.kind == "stroke"]
    assert len(strokes) == 4
    assert max(b.bottom for b in strokes) - min(b.bottom for b in strokes) < 2
    heads = [box for box in found if box.staff == 1 and box.kind in ("notehead", "stem")]
    assert max(b.bottom for b in strokes) < min(b.top for b in heads)
    assert max(b.bottom for b in found if b.kind == "fing") < min(b.top for b in strokes)


def glyph(kind: str, left: float, top: float) -> Box:
    use = ElementTree.Element("use", {"transform": "translate(0, 100) scale(0.62, 0.62)"})
    return Box(kind, left, top, left + 100, top + 100, use, "", 0, 1)


def test_an_accidental_goes_left_off_a_head_and_off_other_accidentals() -> None:
    sign = glyph("accid", 0, 50)
    found = clear_of_heads([sign, glyph("notehead", 70, 0), glyph("accid", -60, 120)])
    assert found[0].left == -160, "past the other one"
    assert sign.element.get("transform") == "translate(-160, 100) scale(0.62, 0.62)"
    assert clear_of_heads([glyph("accid", 0, 300), *found[1:]])[0].left == 0, "it meets nothing"


def test_the_number_of_a_tuplet_goes_the_shortest_way_off_a_head() -> None:
    number = glyph("tupletNum", 0, 50)
    found = clear_of_numbers([number, glyph("notehead", 0, 0), glyph("beam", 0, -110)])
    assert found[0].top - 50 == 60 and not found[0].meets(found[1])
    assert number.element.get("transform") == "translate(0, 160) scale(0.62, 0.62)"
    assert clear_of_numbers([glyph("tupletNum", 0, 500), *found[1:]])[0].top == 500, "it meets nothing"
