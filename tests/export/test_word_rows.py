"""Digits of a diagram as one text: where they stand, rendered by resvg and held to the font."""

from __future__ import annotations

import io
import re

import pytest
import resvg_py
from fontTools.ttLib import TTFont
from PIL import Image, ImageChops

from genex.export import word_rows
from genex.export.diagrams import DiagramStyle, neck_svg
from genex.export.neck_marks import chord_marks
from genex.export.typography import font_files
from genex.export.word_rows import in_one_text, with_digits_in_rows
from genex.fretboard import STANDARD
from genex.theory import parse_chord


@pytest.mark.parametrize(("table", "name"), [("_REGULAR", "DejaVuSans"), ("_BOLD", "DejaVuSans-Bold")])
def test_advances_are_those_of_the_font(table: str, name: str) -> None:
    """[package: fonttools]"""
    file = TTFont(next(path for path in font_files() if path.stem == name))
    names, advances = file.getBestCmap(), file["hmtx"]
    assert file["head"].unitsPerEm == word_rows._UNITS
    held = getattr(word_rows, table)
    assert {sign: advances[names[ord(sign)]][0] for sign in held} == held


def test_a_word_says_how_far_it_is_from_the_end_of_the_one_before() -> None:
    words = [("12", 100.0, 20.0, "middle"), ("3", 150.0, 20.0, "start"), ("4", 90.0, 50.0, "end")]
    made = in_one_text(words, dict.fromkeys("1234", 10.0), 'font-size="9"')
    assert re.findall(r'd[xy]="([^"]*)"', made) == ["90 0 40 -80", "20 0 0 30"]
    assert ">1234<" in made


def rendered(svg: str) -> Image.Image:
    made = resvg_py.svg_to_bytes(
        svg_string=svg, width=1600, background="#fff", skip_system_fonts=True,
        font_files=[str(path) for path in font_files()],
    )  # fmt: skip
    return Image.open(io.BytesIO(bytes(made))).convert("L")


def test_a_neck_looks_as_it_did() -> None:
    marks = chord_marks(parse_chord("Ebm7b5"), STANDARD, last_fret=15)
    before = neck_svg(marks, STANDARD, DiagramStyle(second="notes"), frets=(1, 15))
    after = with_digits_in_rows(before)
    assert after.count("<text") * 2 < before.count("<text")
    difference = ImageChops.difference(rendered(before), rendered(after)).get_flattened_data()
    assert sum(value > 130 for value in difference) < 0.0005 * len(difference)
