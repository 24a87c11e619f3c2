"""Sizes of pictures on paper."""

from __future__ import annotations

import pytest

from genex.export.diagrams import neck_svg
from genex.export.handout.pictures import DIAGRAM_MARGIN, paper_picture, svg_size
from genex.export.neck_marks import chord_marks
from genex.fretboard import STANDARD
from genex.theory import parse_chord


def test_a_neck_is_as_wide_on_paper_as_was_asked_for() -> None:
    svg = neck_svg(chord_marks(parse_chord("C"), STANDARD, last_fret=4), STANDARD)
    width, height = svg_size(svg)
    made = paper_picture(svg, 60.0, alt="C")
    unit = made["width_mm"] / width
    assert made["width_mm"] - 2 * DIAGRAM_MARGIN * unit == pytest.approx(60.0)
    assert made["height_mm"] == pytest.approx(height * unit)
    assert "100%" not in made["svg"], "no background over the captions"


def test_a_picture_without_a_size_is_our_fault() -> None:
    with pytest.raises(ValueError, match="without a size"):
        svg_size("<svg/>")
