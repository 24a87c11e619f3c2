"""Neck diagrams in text."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import InputError
from genex.export.neck_marks import chord_marks, fret_window, shape_marks
from genex.export.neck_text import neck_text, shape_heading, shape_text, shapes_text
from genex.export.phrases import words
from genex.fretboard import STANDARD, TUNINGS, chord_shape, chord_shapes, tuning
from genex.theory import parse_chord

C = parse_chord("C")


def test_the_g_form_of_c():
    # [common practice] 6/8 5/7 4/5 3/5 2/5 2/8 1/8
    assert (
        shape_text(chord_shape(C, STANDARD, "G"), STANDARD)
        == """\
G form, 5th position
     5     6     7     8
e |-----|-----|-----|-[1]-|
B |- 3 -|-----|-----|- 5 -|
G |-[1]-|-----|-----|-----|
D |- 5 -|-----|-----|-----|
A |-----|-----|- 3 -|-----|
E |-----|-----|-----|-[1]-|
     •           •"""
    )


def test_left_handed_is_the_mirror_image():
    right = neck_text(shape_marks(chord_shape(C, STANDARD, "G")), STANDARD, label="fingers")
    left = neck_text(
        shape_marks(chord_shape(C, STANDARD, "G")), STANDARD, label="fingers", left_handed=True
    )
    flip = str.maketrans("[]", "][")
    for right_row, left_row in zip(right.split("\n")[1:-1], left.split("\n")[1:-1], strict=True):
        name, neck = right_row.split(" ", 1)
        assert left_row == f"{neck[::-1].translate(flip)} {name}"


def test_open_strings_stand_before_the_nut():
    text = neck_text(chord_marks(parse_chord("Am7"), STANDARD, last_fret=3), STANDARD, label="notes")
    assert text.split("\n")[1].startswith("e  E  ‖")
    assert text.split("\n")[5].startswith("A [A] ‖")
    assert text.split("\n")[2].startswith("B     ‖- C -")


def places(text: str, count: int, first: int) -> set[tuple[int, int]]:
    """String and fret of each label, read from the cells."""
    rows = text.split("\n")[1 : count + 1]
    found = set()
    for string, row in enumerate(rows, start=1):
        head, *cells = re.split(r"[|‖]", row)
        found |= {(string, 0)} if re.search(r"[\d\]]", head) else set()
        found |= {(string, first + at) for at, cell in enumerate(cells) if cell.strip("-")}
    return found


@settings(max_examples=40)
@given(
    st.sampled_from(["C", "Gm7b5", "F#7", "Bbmaj7", "Edim7", "Am7"]),
    st.sampled_from(sorted(TUNINGS)),
    st.just("degrees"),
)
def test_every_mark_is_shown_at_its_place(symbol, name, label):
    instrument = tuning(name)
    for shape in chord_shapes(parse_chord(symbol), instrument):
        marks = shape_marks(shape)
        first, last = fret_window(marks)
        text = neck_text(marks, instrument, label=label)
        assert places(text, len(instrument.strings), first) == {(m.string, m.fret) for m in marks}
        assert text.count("[") == sum(mark.is_root for mark in marks)
        assert last - first >= 3


def test_shapes_stand_side_by_side_as_wide_as_the_page_allows():
    shapes = chord_shapes(parse_chord("C7"), STANDARD)
    for width in (60, 80, 120, 200):
        text = shapes_text(shapes, STANDARD, width=width)
        assert max(map(len, text.split("\n"))) <= width
        assert all(shape_heading(shape) in text for shape in shapes)
    assert shapes_text(shapes, STANDARD, width=200).split("\n")[0].count("form") > 2


def test_an_unknown_language_is_refused():
    assert words("en")["root"] == "root"
    with pytest.raises(InputError, match="language 'tlh'"):
        words("tlh")
