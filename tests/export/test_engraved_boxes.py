"""Boxes of an engraved system: against the fonts themselves and against facts of the music."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from itertools import pairwise
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from genex.export.engraved_boxes import SVG, Box, boxes, text_height, text_width
from genex.export.engraving import engrave
from genex.export.handout.typeset import FONT_FOLDERS
from genex.export.musicxml import musicxml_text
from genex.score import Score
from tests.export.builders import fretted, lead, timeline


def font(name: str) -> TTFont:
    return TTFont(next(file for folder in FONT_FOLDERS for file in Path(folder).glob(f"{name}.*tf")))


@pytest.mark.parametrize(("name", "bold"), [("LinLibertine_R", False), ("LinLibertine_RB", True)])
def test_widths_are_those_of_the_font(name, bold):
    """[package: fonttools]"""
    file = font(name)
    names, advances = file.getBestCmap(), file["hmtx"]
    for text in ("Gm7", "maj7", "12", "(9,11)", "Ø°+"):
        expected = sum(advances[names[ord(c)]][0] for c in text) / file["head"].unitsPerEm
        assert text_width(text, 100, bold=bold) == pytest.approx(100 * expected, abs=0.5)


@pytest.mark.parametrize(("name", "bold"), [("LinLibertine_R", False), ("DejaVuSans", True)])
def test_flats_are_measured_in_the_font_that_sets_them(name, bold):
    """Plain ones in the regular face, those of bold symbols in the face that is named for them.

    [package: fonttools]
    """
    file = font(name)
    advance = file["hmtx"][file.getBestCmap()[ord("♭")]][0] / file["head"].unitsPerEm
    assert text_width("♭", 100, bold=bold) == pytest.approx(100 * advance, abs=0.5)


def test_digits_stand_on_the_line_and_brackets_reach_below_it():
    assert text_height("7", 100)[0] == pytest.approx(0, abs=2)
    assert text_height("(", 100)[0] < -10
    assert 60 < text_height("7", 100)[1] < 72


def found(score: Score) -> list[Box]:
    (system,) = engrave(musicxml_text(score, show_degrees=True), width_mm=170)
    root = ElementTree.fromstring(system.svg)
    return boxes(next(g for g in root.iter(f"{SVG}g") if g.get("class") == "page-margin"))


def test_each_note_has_a_head_and_a_number_one_above_the_other():
    notes = [fretted(at, 1, 3, 5 + at, 1) for at in range(4)]
    drawn = found(Score("T", "swing", timeline("Gm7"), (lead(notes),)))
    heads = [box for box in drawn if box.kind == "notehead"]
    numbers = [box for box in drawn if box.kind == "note" and box.text]
    assert [box.text for box in numbers] == ["5", "6", "7", "8"]
    assert [box.staff for box in (*heads, *numbers)] == [1] * 4 + [2] * 4
    for head, number in zip(heads, numbers, strict=True):
        assert head.bottom < number.top
        assert abs(head.left + head.right - number.left - number.right) < 60


def test_a_rising_line_has_rising_boxes_a_half_space_a_step():
    """155 units are a staff space of 1.55 mm; a step is half of it [common practice]."""
    notes = [fretted(at, 1, 1, fret, 1) for at, fret in enumerate((1, 3, 5, 6))]
    heads = [b for b in found(Score("T", "s", timeline("F"), (lead(notes),))) if b.kind == "notehead"]
    tops = [head.top for head in heads]
    assert [a - b for a, b in pairwise(tops)] == pytest.approx([77.5] * 3, abs=2)


def test_boxes_that_only_touch_do_not_meet():
    element = ElementTree.Element("g")
    first = Box("a", 0, 0, 10, 10, element)
    assert not first.meets(Box("b", 10, 0, 20, 10, element))
    assert first.meets(Box("b", 10, 0, 20, 10, element), 1)
    assert first.meets(Box("b", 9, 9, 20, 20, element))
    assert first.moved(11, 0).left == 11
