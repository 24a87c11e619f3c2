"""A font that a recipe names: in every file that a title stands in, and part of what makes it stale."""

from __future__ import annotations

import io

import pypdf
import pytest
from PIL import Image

from genex.errors import InputError
from genex.export.chord_chart_svg import chart_svg
from genex.export.diagrams import svg_to_png
from genex.publishing.fonts import fonts_digest
from genex.publishing.maker import files_of, prepare
from genex.readers.font import read_font
from genex.recipe import parse_recipe, read_recipe
from tests.export.builders import small_score
from tests.fonts import box_font

RECIPE = """
title: 夜汽車 Blues
chords: C7 | F7 |
parts: exercise
exercise: {kind: targets}
handout: {blocks: chart}
outputs: handout
"""


@pytest.fixture
def recipe(tmp_path):
    (tmp_path / "box.ttf").write_bytes(box_font())
    path = tmp_path / "night.yaml"
    path.write_text(RECIPE + "font: box.ttf\n", "utf-8")
    return path


def fonts_in(pdf: bytes) -> set[str]:
    found = set()
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        found |= {font.get_object()["/BaseFont"] for font in page["/Resources"]["/Font"].values()}
    return found


def test_letters_are_set_in_it_and_it_is_embedded_as_a_subset(recipe) -> None:
    ((_, pdf),) = files_of(prepare(read_recipe(recipe)), None)
    own = [name for name in fonts_in(pdf) if "+BoxGothic" in name]
    assert len(own) == 1  # six letters and a plus stand for a subset [published: PDF 1.7, 9.6.4]
    assert "夜汽車 Blues" in pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()


def test_a_letter_that_is_missing_is_told_before_anything_is_made(recipe, tmp_path) -> None:
    recipe.write_text(RECIPE, "utf-8")
    with pytest.raises(InputError, match="the handout's fonts have no '夜'") as refused:
        prepare(read_recipe(recipe))
    assert "name a font that has it" in refused.value.hint
    recipe.write_text(RECIPE.replace("夜汽車", "夜汽船") + "font: box.ttf\n", "utf-8")
    with pytest.raises(InputError, match="the font 'Box Gothic' has no '船'") as refused:
        prepare(read_recipe(recipe))
    assert refused.value.place.line == 2


@pytest.mark.parametrize(
    ("data", "said"),
    [(None, "cannot be read: No such file"), (b"wOF2    ", "box.ttf: the file is a font for web")],
)
def test_bad_fonts_are_told_with_the_place_of_their_name(recipe, data, said) -> None:
    font = recipe.with_name("box.ttf")
    font.unlink() if data is None else font.write_bytes(data)
    for outputs in ("handout", "chart", "page"):
        recipe.write_text(
            RECIPE.replace("outputs: handout", f"outputs: {outputs}") + "font: box.ttf\n", "utf-8"
        )
        with pytest.raises(InputError, match=said) as refused:
            prepare(read_recipe(recipe))
        assert refused.value.place.line == 8


def test_another_font_of_that_name_makes_the_lesson_stale(recipe, tmp_path, genex) -> None:
    build = ("build", recipe, "--out", tmp_path / "out")
    assert genex(*build).code == 0
    assert "unchanged" in genex(*build).out
    recipe.with_name("box.ttf").write_bytes(box_font("夜汽車船"))
    told = genex(*build).out
    assert "unchanged" not in told and "handout" in told


def test_fonts_are_told_by_what_is_in_them(recipe) -> None:
    """By which bound sheets are made anew: a cover may have letters that no sheet has."""
    one, none = read_recipe(recipe), parse_recipe("title: Rain\nchords: C\n")
    before = fonts_digest([none, one, one])
    assert before == fonts_digest([one]) != fonts_digest([none])
    recipe.with_name("box.ttf").write_bytes(box_font("夜汽車船"))
    assert fonts_digest([one]) != before


def test_pictures_take_letters_from_it() -> None:
    font = read_font(box_font(), "box.ttf")
    assert "font-family=\"DejaVu Sans, 'Box Gothic', sans-serif\"" in chart_svg(small_score(), font=font)
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="80" height="40" viewBox="0 0 80 40">\n'
        '<rect width="100%" height="100%" fill="#ffffff"/>\n'
        '<text x="5" y="30" font-size="24" font-family="DejaVu Sans">夜車</text></svg>'
    )
    dark = [
        sum(Image.open(io.BytesIO(png)).convert("L").histogram()[:128])
        for png in (svg_to_png(svg, font=font), svg_to_png(svg))
    ]
    assert dark[0] > 2 * dark[1]  # solid boxes, and empty ones for what is missing
