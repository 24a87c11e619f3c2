"""Words for students: the marks of CommonMark that mean something, and all else as it stands."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.text.marked_text import Paragraph, Span, read_marked


def test_paragraphs_are_parted_by_empty_lines():
    assert [p.plain for p in read_marked("One line\ngoes on.\n\nAnother.")] == [
        "One line goes on.",
        "Another.",
    ]


@pytest.mark.parametrize(
    ("text", "spans"),
    [
        # [published: CommonMark 0.31, 6.2 emphasis and strong emphasis]
        ("*foo bar*", [("foo bar", "emphasis")]),
        ("a * foo bar*", [("a * foo bar*", "")]),
        ("**foo bar**", [("foo bar", "strong")]),
        ("foo*bar*", [("foo", ""), ("bar", "emphasis")]),
        ("\\*not emphasized*", [("*not emphasized*", "")]),
    ],
)
def test_emphasis_is_read_as_the_standard_does(text, spans):
    (paragraph,) = read_marked(text)
    assert "".join(s.text for s in paragraph.spans) == "".join(t for t, _ in spans)
    told = [(s.text, s.stress) for s in paragraph.spans if s.stress]
    assert told == [(t, stress) for t, stress in spans if stress]


def test_lists_have_markers_and_numbers_and_lie_in_each_other():
    found = read_marked("- low\n- high\n  1. first\n  2. second\n\nAfter")
    assert [(p.marker, p.plain, p.depth) for p in found] == [
        ("•", "low", 1),
        ("•", "high", 1),
        ("1.", "first", 2),
        ("2.", "second", 2),
        ("", "After", 0),
    ]


def test_a_list_may_begin_at_another_number():
    assert [p.marker for p in read_marked("3. a\n4. b")] == ["3.", "4."]


@pytest.mark.parametrize(
    "text",
    ["<b>x</b>", "[a](http://x)", "![a](x.png)", "`code`", "#let x = 1", "# heading", "$x$", "&lt;"],
)
def test_nothing_else_means_anything(text):
    assert read_marked(text) == (Paragraph((Span(text),)),)


@given(st.text(max_size=200))
def test_every_text_has_a_reading_and_keeps_its_letters(text):
    letters = [c for c in text if c.isalnum()]
    found = "".join(p.plain + p.marker for p in read_marked(text))
    assert sum(c.isalpha() for c in found) == sum(c.isalpha() for c in letters)
