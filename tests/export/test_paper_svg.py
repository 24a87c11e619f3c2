"""Systems as they are set: the same picture with less in it, rendered by resvg."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ElementTree

import pytest
import resvg_py
from fontTools.ttLib import TTFont
from PIL import Image, ImageChops

from genex.export.engraved_rows import System
from genex.export.engraving import engrave
from genex.export.handout.typeset import FONT_FOLDERS
from genex.export.musicxml import musicxml_text
from genex.export.paper_svg import ADVANCES
from genex.score import Score, Slide
from tests.export.builders import fretted, lead, timeline

FONTS = [str(file) for folder in FONT_FOLDERS for file in folder.glob("*.*tf")]


@pytest.fixture(scope="module")
def systems() -> tuple[System, ...]:
    """Everything that is drawn in a way of its own: slides, ties, sections, accidentals, bar numbers."""
    notes = [
        fretted(0, 1, 4, 5, 1),
        fretted(1, 1, 4, 7, 1, slide=Slide(-2, "1/4")),  # type: ignore[arg-type]
        fretted("5/2", 3, 3, 11, 3),
        fretted("11/2", "1/2", 1, 13, 4),
        *(fretted(8 + index, 1, 2, fret, 1) for index, fret in enumerate((4, 5, 9, 12))),
    ]
    charted = timeline("Gbm7b5 | C7 | Bb7 | F#°7", sections=[("A", 1), ("B", 3)])
    text = musicxml_text(Score("T", "swing", charted, (lead(notes),)), show_degrees=True)
    return engrave(text, width_mm=170, system_starts=(0, 2))


def rendered(svg: str, size: tuple[float, float]) -> Image.Image:
    width, height = (round(length * 8) for length in size)
    made = resvg_py.svg_to_bytes(
        svg_string=svg, width=width, height=height, background="#fff", skip_system_fonts=True,
        font_files=FONTS,
    )  # fmt: skip
    return Image.open(io.BytesIO(bytes(made))).convert("L")


def test_it_is_the_same_picture(systems: tuple[System, ...]) -> None:
    """But for the engraver's hair lines around signs, a hundredth of a millimetre."""
    for system in systems:
        size = system.width_mm, system.height_mm
        one, other = rendered(system.svg, size), rendered(system.paper_svg, size)
        assert min(one.get_flattened_data()) < 40, "there is something to see"
        differing = sum(value > 130 for value in ImageChops.difference(one, other).get_flattened_data())
        assert differing < 0.0005 * one.width * one.height


def test_it_has_a_third_of_the_elements_and_none_that_only_holds_others(
    systems: tuple[System, ...],
) -> None:
    for system in systems:
        before, after = (
            list(ElementTree.fromstring(svg).iter()) for svg in (system.svg, system.paper_svg)
        )
        assert len(after) * 3 < len(before)
        assert sum(element.tag.endswith("}g") for element in after) == 1


def test_the_advances_of_digits_are_those_of_the_font() -> None:
    """[package: fonttools]"""
    file = TTFont(next(path for path in FONTS if "LinLibertine_R." in path))
    names, advances = file.getBestCmap(), file["hmtx"]
    assert file["head"].unitsPerEm == 1000
    assert {sign: advances[names[ord(sign)]][0] for sign in ADVANCES} == ADVANCES
