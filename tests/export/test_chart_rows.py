"""Repeats and endings on the chart, as text and as a picture."""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings

from genex.compose import compose
from genex.export.chart_rows import rows_of
from genex.export.chord_chart import chart_of, chart_text
from genex.export.chord_chart_svg import chart_svg
from genex.export.page_signs import Signs
from genex.recipe import parse_recipe

from .test_chord_chart import SVG, texts
from .test_repeat_signs import charts, composed


def staff(chart: str, more: str = "", **wish: int) -> str:
    """The bars of the chart as text, without what stands above them."""
    return chart_text(composed(chart, f"key: C\n{more}"), **wish).split("[A]\n", 1)[1].rstrip("\n")


def test_the_second_ending_stands_below_the_first():
    assert (
        staff("|: Dm7 | G7 | [1. Cmaj7 | A7 :| [2. C6 | F7")
        == """\
|:  Dm7      |   G7       |1. Cmaj7    |   A7      :|
                          |2. C6       |   F7       ||"""
    )


def test_endings_that_fit_stand_side_by_side():
    assert (
        staff("|: C | [1. F :| [2. G :| [3. Am | Dm")
        == """\
|:  C        |1. F       :|2. G       :|3. Am       |
|   Dm       ||"""
    )


def test_a_repeat_of_a_whole_row_begins_a_row_and_says_its_number_of_passes():
    assert (
        staff("C | |: Dm7 | G7 | Em7 | A7 :|x3")
        == """\
|  C        |
|: Dm7      |  G7       |  Em7      |  A7  (3x):||"""
    )


def test_a_bar_at_the_beginning_of_a_repeat_or_an_ending_is_never_a_percent_sign():
    assert (
        staff("C | |: C | C | [1. C :| [2. C")
        == """\
|   C        |:  C        |   %        |1. C       :|
                                       |2. C        ||"""
    )


def test_choruses_are_told_in_words_where_there_are_signs_inside():
    text = staff("|: C | G | [1. F :| [2. Am", "repeats: 3")
    assert text.split("\n\n")[1] == "all of it played 3 times"
    assert "||:" not in text


def test_without_repeats_nothing_changes():
    assert staff("C | F | G | C") == "| C        | F        | G        | C        ||"


def test_a_narrow_chart_keeps_its_endings():
    rows = staff("|: Dm7 | [1. G7 | C :| [2. F | C", width=30).split("\n")
    assert rows == ["|:  Dm7      |1. G7       |", "|   C       :|", "|2. F        |   C        ||"]


def test_a_section_with_endings_is_printed_once_in_its_order():
    recipe = "sections: {A: '|: C | [1. F :| [2. G', B: Dm | Em}\nform: A B A"
    text = chart_text(compose(parse_recipe(recipe)).score)
    assert text.count("|:  C") == 1
    assert "Order: A B A" in text


def brackets(svg: str) -> list[str]:
    return [text for text in texts(svg) if re.fullmatch(r"\d\.", text)]


def test_the_picture_has_brackets_dots_and_numbers():
    svg = chart_svg(composed("|: Dm7 | [1. G7 :| [2. C | |: F | G :|x3"))
    root = ElementTree.fromstring(svg)
    assert brackets(svg) == ["1.", "2."]
    assert "3x" in texts(svg)
    assert len(list(root.iter(f"{SVG}circle"))) == 8, "two dots for each of four signs"


def test_the_bracket_of_the_last_ending_is_open():
    """A bracket that is closed has two short strokes down, an open one has one."""
    root = ElementTree.fromstring(chart_svg(composed("|: C | [1. F :| [2. G | Am")))
    lines = [
        {k: float(line.get(k)) for k in ("x1", "x2", "y1", "y2")} for line in root.iter(f"{SVG}line")
    ]
    flat = sorted((line for line in lines if line["y1"] == line["y2"]), key=lambda line: line["x1"])
    hooks = [
        sum(other["x1"] in (line["x1"], line["x2"]) and other["y1"] == line["y1"]
            and other["y2"] > line["y1"] for other in lines)
        for line in flat
    ]  # fmt: skip
    assert hooks == [2, 1]


@dataclass(frozen=True)
class Bar:
    signs: Signs


BAR, OPENS, CLOSES = Bar(Signs()), Bar(Signs(opens=True)), Bar(Signs(closes=True))


def ending(number: int, length: int, last: bool = False) -> list[Bar]:
    return [
        Bar(
            Signs(
                ending=number,
                ending_begins=at == 0,
                ending_ends=at == length - 1,
                closes=at == length - 1 and not last,
                is_last_ending=last,
            )
        )
        for at in range(length)
    ]


@pytest.mark.parametrize(
    ("bars", "expected"),
    [
        ([BAR] * 9, [(0, 4), (0, 4), (0, 1)]),
        # the second ending below the first, what follows on a row of its own
        ([OPENS, BAR, *ending(1, 2), *ending(2, 2, last=True), BAR], [(0, 4), (2, 2), (0, 1)]),
        ([OPENS, *ending(1, 1), *ending(2, 1, last=True), BAR], [(0, 4)]),
        # an ending too long for the room below the first begins at the left
        ([OPENS, BAR, BAR, *ending(1, 1), *ending(2, 4, last=True)], [(0, 4), (0, 4)]),
        # a repeat of a row or more begins one, a short one need not
        ([BAR, OPENS, BAR, BAR, CLOSES], [(0, 1), (0, 4)]),
        ([BAR, OPENS, CLOSES, BAR], [(0, 4)]),
    ],
)
def test_rows(bars, expected):
    assert [(row.indent, len(row.bars)) for row in rows_of(bars, 4)] == expected


@given(charts())
@settings(max_examples=40, deadline=None)
def test_no_bar_is_lost_and_no_row_too_long(chart):
    (section,) = chart_of(composed(chart, "key: C").timeline).sections
    for columns in (4, 2, 1):
        rows = rows_of(section.bars, columns)
        assert [bar for row in rows for bar in row.bars] == list(section.bars)
        assert all(row.bars and row.indent + len(row.bars) <= columns for row in rows)


@given(charts())
@settings(max_examples=40, deadline=None)
def test_the_text_is_played_as_the_recipe_says(chart):
    """The printed chart is a chart again: read as a recipe, it gives the same bars."""
    score = composed(chart, "key: C")
    text = re.sub(r"\((\d)x\)\s*:\|", r":|x\1", staff(chart))
    again = re.sub(r"\|\s*(\d)\. ", r"| [\1. ", text).replace("||", "|")
    again = "\n".join(line.strip() for line in again.split("\n"))
    assert chords(composed(again.replace("\n", " "), "key: C")) == chords(score)


def chords(score) -> list[str]:
    return [str(span.chord) for span in score.timeline.chords]


def test_a_coda_begins_a_row_of_its_own():
    rows = staff("Segno C | F To Coda | G7 D.S. al Coda | Coda Am | F | C").splitlines()
    assert [row.split()[0] for row in rows] == ["Segno", "|", "Coda", "|"]
