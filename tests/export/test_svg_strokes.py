"""Lines of SVG."""

from __future__ import annotations

from xml.etree import ElementTree

from genex.export.svg_strokes import circle, line, number, svg_page, text_at


def test_numbers_are_short() -> None:
    assert [number(value) for value in (1.0, 0.5, 2.346, 10)] == ["1", "0.5", "2.35", "10"]


def test_a_page_is_xml_that_says_what_it_shows() -> None:
    drawn = [
        line(0, 0, 1, 1, "#000", 1),
        circle(1, 1, 2, "none", "#000", 1),
        text_at(0, 0, "<b>", "#000", 9),
    ]
    root = ElementTree.fromstring(svg_page(20, 10.5, "A & B", "#fff", drawn, about="two < three"))
    space = "{http://www.w3.org/2000/svg}"
    assert root.findtext(f"{space}title") == "A & B" and root.findtext(f"{space}desc") == "two < three"
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("20", "10.5", "0 0 20 10.5")
    assert [child.tag.removeprefix(space) for child in root] == [
        "title", "desc", "rect", "line", "circle", "text",
    ]  # fmt: skip
    assert root.findtext(f"{space}text") == "<b>"
    assert "desc" not in svg_page(1, 1, "", "#fff", [])
