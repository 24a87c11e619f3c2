"""Small necks: forms, places and size."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

from genex.export.neck_window import FRET_WIDTH, SIDE, STRING_GAP, Dot, neck_window

SVG = "{http://www.w3.org/2000/svg}"


def discs(svg: str) -> list[tuple[float, float, float]]:
    root = ElementTree.fromstring(svg)
    return [tuple(float(c.get(k, "0")) for k in ("cx", "cy", "r")) for c in root.iter(f"{SVG}circle")]  # type: ignore[misc]


def test_a_dot_lies_on_its_string_in_the_middle_of_its_fret():
    window = neck_window([Dot(1, 5, "root"), Dot(6, 8, "tone")], 6)
    first, second = discs(window.svg)
    assert first[:2] == (round(SIDE + FRET_WIDTH / 2, 2), SIDE)
    assert second[1] - first[1] == 5 * STRING_GAP
    assert abs(second[0] - first[0] - 3 * FRET_WIDTH) < 0.02
    assert re.search(r">5</text>", window.svg)


def test_forms_differ_without_colour():
    drawn = {
        form: re.sub(r'c[xy]="[^"]*"|[xy]="[^"]*"', "", neck_window([Dot(3, 5, form)], 6).svg)
        for form in ("root", "guide", "tone", "goes", "comes", "stays")
    }
    assert len({drawn[f] for f in ("root", "guide", "tone")}) == 3
    assert len({drawn[f] for f in ("goes", "comes", "stays")}) == 3


def test_an_open_string_lies_before_a_thick_nut():
    window = neck_window([Dot(2, 0, "root"), Dot(3, 2, "tone")], 6)
    (open_x, *_), (stopped_x, *_) = discs(window.svg)
    nut = re.search(r'<line x1="([\d.]+)"[^>]*stroke-width="0.5"', window.svg)
    assert nut and open_x < float(nut[1]) < stopped_x


def test_left_handed_necks_are_mirrored():
    dots = [Dot(1, 5, "root"), Dot(2, 8, "tone")]
    plain, mirrored = neck_window(dots, 6), neck_window(dots, 6, left_handed=True)
    for a, b in zip(discs(plain.svg), discs(mirrored.svg), strict=True):
        assert abs(a[0] + b[0] - plain.width_mm) < 0.02
        assert a[1:] == b[1:]


def test_a_move_is_a_stroke_between_its_dots_and_the_title_is_text():
    start, end = Dot(3, 5, "goes"), Dot(3, 4, "comes")
    svg = neck_window([start, end], 6, moves=[(start, end)], title='C "7" < F').svg
    assert "C &quot;7&quot; &lt; F" in svg
    assert len(ElementTree.fromstring(svg).findall(f"{SVG}line")) == 6 + 5 + 1
