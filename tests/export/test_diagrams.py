"""Neck diagrams as SVG and PNG."""

from __future__ import annotations

import io
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from PIL import Image

from genex.export.diagrams import PALETTES, DiagramStyle, neck_svg, shape_svg, sheet_svg, svg_to_png
from genex.export.neck_marks import chord_marks, shape_marks
from genex.export.spoken import shape_in_words
from genex.export.typography import font_files, with_signs
from genex.fretboard import STANDARD, chord_shape, chord_shapes, tuning
from genex.theory import parse_chord

SVG = "{http://www.w3.org/2000/svg}"
C7 = parse_chord("C7")
STYLES = [
    DiagramStyle(label, second, theme, spacing, left)
    for label, second in (("degrees", "fingers"), ("fingers", None), ("notes", "degrees"))
    for theme in ("light", "dark")
    for spacing in ("even", "true")
    for left in (False, True)
]


def drawn(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def discs(svg: str, radius: float) -> list[tuple[float, float]]:
    found = drawn(svg).iter(f"{SVG}circle")
    return [(float(c.get("cx")), float(c.get("cy"))) for c in found if float(c.get("r")) == radius]


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in drawn(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("style", STYLES, ids=str)
def test_every_note_has_a_disc_and_every_root_a_ring(style):
    shape = chord_shape(C7, STANDARD, "E")
    svg = shape_svg(shape, STANDARD, style)
    roots = [note for note in shape.notes if note.is_root]
    assert len(discs(svg, 12.8)) == len(discs(svg, 9.8)) == len(roots)
    assert len(discs(svg, 10)) == len(shape.notes) - len(roots)
    wanted = sorted(with_signs(mark.text(style.label)) for mark in shape_marks(shape))
    bold = [
        e.text
        for e in drawn(svg).iter(f"{SVG}text")
        if e.get("font-weight") and e.get("font-size") != "14"
    ]
    assert sorted(bold) == wanted


def test_discs_never_touch_nor_leave_the_picture():
    for style in STYLES:
        for symbol in ("C7", "Bmaj7", "F#m7b5", "Edim7"):
            for shape in chord_shapes(parse_chord(symbol), STANDARD):
                svg = shape_svg(shape, STANDARD, style)
                centres = discs(svg, 12.8) + discs(svg, 10)
                for index, (x, y) in enumerate(centres):
                    for other_x, other_y in centres[:index]:
                        assert (x - other_x) ** 2 + (y - other_y) ** 2 > (12.8 + 10) ** 2
                width, height = (float(drawn(svg).get(name)) for name in ("width", "height"))
                assert all(13 < x < width - 13 and 13 < y < height - 13 for x, y in centres)


def test_left_handed_is_the_mirror_image():
    shape = chord_shape(C7, STANDARD, "E")
    right, left = (shape_svg(shape, STANDARD, DiagramStyle(left_handed=hand)) for hand in (False, True))
    width = float(drawn(right).get("width"))
    mirrored = [(pytest.approx(width - x), y) for x, y in discs(right, 10)]
    assert discs(left, 10) == mirrored


def test_true_spacing_follows_the_rule_of_equal_temperament():
    svg = neck_svg(chord_marks(C7, STANDARD), STANDARD, DiagramStyle(spacing="true"), frets=(1, 12))
    lines = [e for e in drawn(svg).iter(f"{SVG}line") if e.get("x1") == e.get("x2")]
    wires = sorted(float(line.get("x1")) for line in lines)[1:]  # the nut is drawn beside its wire
    widths = [b - a for a, b in pairwise(wires)]
    # [published: equal temperament] each fret is 2^(-1/12) = 0.943874 as wide as the one before
    assert [b / a for a, b in pairwise(widths)] == [pytest.approx(0.943874, abs=1e-3)] * 10


def test_even_spacing_is_even():
    svg = neck_svg(chord_marks(C7, STANDARD), STANDARD, frets=(5, 12))
    lines = [e for e in drawn(svg).iter(f"{SVG}line") if e.get("x1") == e.get("x2")]
    wires = sorted(float(line.get("x1")) for line in lines)
    assert [b - a for a, b in pairwise(wires)] == [pytest.approx(44)] * 8


def luminance(color: str) -> float:
    channels = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: str, b: str) -> float:
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_lightness_alone_tells_roots_from_other_tones(theme):
    palette = PALETTES[theme]
    # [published: W3C WCAG 2.1, success criteria 1.4.6 and 1.4.11] 7:1 for text, 3:1 for graphics
    assert contrast(palette.root, palette.root_text) >= 7
    assert contrast(palette.tone, palette.ink) >= 7
    assert contrast(palette.soft, palette.paper) >= 4.5
    assert contrast(palette.root, palette.tone) >= 7


def test_a_sheet_shows_all_five_positions_over_the_whole_neck():
    shapes = chord_shapes(C7, STANDARD)
    svg = sheet_svg("C7", shapes, STANDARD)
    found = texts(svg)
    assert "C7" in found
    for form in "CAGED":
        assert form in found
        assert any(text.startswith(f"{form} form, ") for text in found)
    assert {"root", "other tone"} <= set(found)
    assert "small number: finger; smaller beside it: finger on the way down" in found


def test_a_sheet_of_another_instrument_numbers_its_forms():
    bass = tuning("four-string bass")
    found = texts(sheet_svg("Gm7", chord_shapes(parse_chord("Gm7"), bass), bass, columns=2))
    assert any(text.startswith("Form 1, ") for text in found)


def test_titles_are_escaped():
    svg = shape_svg(chord_shape(C7, STANDARD, "E"), STANDARD, title="<b>&\"'")
    assert "<b>&\"'" in texts(svg)


def test_same_shape_same_bytes():
    shapes = chord_shapes(C7, STANDARD)
    assert sheet_svg("C7", shapes, STANDARD) == sheet_svg("C7", shapes, STANDARD)
    svg = shape_svg(shapes[0], STANDARD)
    assert svg_to_png(svg) == svg_to_png(svg)


def test_text_is_set_with_the_fonts_that_come_along():
    assert [path.name for path in font_files()] == [
        "DejaVuSans-Bold.ttf",
        "DejaVuSans.ttf",
        "DejaVuSansMono.ttf",
    ]
    svg = shape_svg(chord_shape(C7, STANDARD, "E"), STANDARD)
    blank = svg.replace("♭", " ")
    assert svg_to_png(svg) != svg_to_png(blank), "the flat sign has no glyph"


@pytest.mark.parametrize(("symbol", "width_mm"), [("C7", 61.0), ("Em7", 43.7)])
def test_a_png_is_as_wide_as_asked_at_300_dots_an_inch_and_opaque_to_its_edges(symbol, width_mm):
    """[published: PNG, third edition, pHYs; 300 dots an inch are 11811 a metre]"""
    svg = sheet_svg(symbol, chord_shapes(parse_chord(symbol), STANDARD), STANDARD)
    picture = Image.open(io.BytesIO(svg_to_png(svg, width_mm=width_mm)))
    picture.load()
    assert picture.width == round(width_mm / 25.4 * 300)
    assert picture.info["dpi"] == pytest.approx((300, 300), abs=0.1)
    wide, high = picture.size
    edge = [(x, y) for x in range(wide) for y in (0, high - 1)]
    edge += [(x, y) for y in range(high) for x in (0, wide - 1)]
    paper = (255, 255, 255, 255)
    assert {picture.convert("RGBA").getpixel(at) for at in edge} == {paper}
    assert picture.convert("L").getextrema()[0] < 60, "ink"


def test_pictures_say_in_words_what_they_show():
    svg = sheet_svg("C7", chord_shapes(C7, STANDARD), STANDARD)
    root = drawn(svg)
    assert root[0].tag == f"{SVG}title" and root[0].text == "C7"
    assert root[1].tag == f"{SVG}desc"
    for shape in chord_shapes(C7, STANDARD):
        assert shape_in_words(shape) in root[1].text


@pytest.mark.parametrize("spacing", ["even", "true"])
@pytest.mark.parametrize("left", [False, True])
def test_an_upright_neck_has_its_nut_on_top_and_its_thickest_string_at_the_left(spacing, left):
    """[common practice] The diagram of a grip, turned from that of the tab."""
    style = DiagramStyle(spacing=spacing, left_handed=left, direction="upright")
    for neck in (STANDARD, tuning("seven-string")):
        for shape in chord_shapes(C7, neck):
            svg = shape_svg(shape, neck, style)
            places = sorted(discs(svg, 10) + discs(svg, 12.8))
            ordered = sorted(shape.notes, key=lambda n: (n.string if left else -n.string, n.fret))
            assert len(places) == len(ordered)
            rows = dict.fromkeys(y for _, y in sorted(places, key=lambda place: place[1]))
            frets = sorted({note.fret for note in ordered})
            for note, (_, y) in zip(ordered, places, strict=True):
                assert list(rows).index(y) == frets.index(note.fret)
            assert len({x for x, _ in places}) == len({note.string for note in ordered})
            page = drawn(svg)
            wide, high = float(page.get("width")), float(page.get("height"))
            assert all(12.8 <= x <= wide - 12.8 and 12.8 <= y <= high - 12.8 for x, y in places)
