"""Rows of characters that grow to the right."""

from genex.export.text_canvas import TextCanvas


def test_rows_hold_what_is_put_and_grow_to_the_right():
    canvas = TextCanvas(2, "-", 4)
    assert canvas.is_blank
    canvas.put(0, 2, "12h")
    canvas.put(1, 6, "x")
    canvas.put(1, 0, "")
    assert [canvas.text(row) for row in (0, 1)] == ["--12h", "------x"]
    assert not canvas.is_blank
