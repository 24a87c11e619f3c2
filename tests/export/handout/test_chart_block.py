"""The chart on the handout: an order line, or signs of repetition, never both."""

from typing import Any

from genex.compose import build_timeline
from genex.export.handout.chart_block import chart_block
from genex.export.phrases import words
from genex.recipe import parse_recipe
from tests.export.handout.sheets import block, empty


def chart_of_recipe(text):
    recipe = parse_recipe(text)
    return chart_block(build_timeline(recipe, recipe.versions[0]), words("en"))


def test_an_order_line_stands_without_signs_of_repetition():
    found = chart_of_recipe("sections: {A: C | Am, B: F | G}\nform: A A B A")
    assert [(section["name"], section["times"]) for section in found["sections"]] == [("A", 1), ("B", 1)]
    assert any("A  A  B  A" in remark for remark in found["remarks"])


def test_sections_in_a_row_are_played_so_many_times_and_need_no_order():
    found = chart_of_recipe("sections: {A: C | Am, B: F | G}\nform: A A B")
    assert [(section["name"], section["times"]) for section in found["sections"]] == [("A", 2), ("B", 1)]
    assert found["remarks"] == []


def rows(section):
    """``1|: 2 |1. 3:| 4`` a row: its indent, and each bar by its chord with the signs around it."""
    found = []
    for line in section["rows"]:
        told = []
        for bar in line["bars"]:
            before = f"{bar['ending']}." if bar["ending_begins"] else "|:" if bar["opens"] else ""
            behind = (":|" if bar["closes"] else "") + bar["times"] + ("]" if bar["is_last"] else "")
            told.append(before + ("%" if bar["again"] else bar["chords"][0]["symbol"]) + behind)
        found.append((line["indent"], " ".join(told)))
    return found


def test_endings_have_their_signs_and_places():
    (section,) = chart_of_recipe("chords: '|: C | G | [1. F | G :| [2. Am | Am'")["sections"]
    assert rows(section) == [(0, "|:C G 1.F G:|"), (2, "2.Am %]")]
    assert [line["has_brackets"] for line in section["rows"]] == [True, True]
    ends = [bar["ending_is_open"] for bar in section["rows"][1]["bars"]]
    assert ends == [True, True]


def test_a_number_of_passes_stands_at_the_sign():
    (section,) = chart_of_recipe("chords: '|: C | G :|x3 F'")["sections"]
    assert rows(section) == [(0, "|:C G:|3x F]")]


def test_a_section_with_signs_inside_has_none_about_it():
    found = chart_of_recipe("sections: {A: '|: C :| Am', B: F | G}\nform: A A B")
    assert [(s["name"], s["times"]) for s in found["sections"]] == [("A", 1), ("B", 1)]
    assert found["remarks"] == ["Order: A  A  B", "Bar numbers count every pass of a repeat."]


def test_choruses_with_signs_inside_are_told_in_words():
    found = chart_of_recipe("chords: '|: C :| F'\nrepeats: 4")
    assert found["remarks"][0] == "all of it played 4 times"


def test_no_final_bar_line_stands_where_the_form_ends_elsewhere():
    found = chart_of_recipe("sections: {A: C, B: F}\nform: A B A")
    assert [rows(section) for section in found["sections"]] == [[(0, "C")], [(0, "F")]]


def bars_in(section: dict[str, Any]) -> list[dict[str, Any]]:
    return [bar for row in section["rows"] for bar in row["bars"]]


def test_a_section_that_follows_itself_is_a_repeat() -> None:
    score = empty("Gm7 | C7 | Gm7 | C7 | F | F", sections=[("A", 2), ("A", 2), ("B", 2)])
    chart = block(score, "chart")
    assert [(s["name"], s["times"], len(bars_in(s))) for s in chart["sections"]] == [
        ("A", 2, 2),
        ("B", 1, 2),
    ]
    first, second = (bars_in(section) for section in chart["sections"])
    assert [(bar["opens"], bar["closes"]) for bar in first] == [(True, False), (False, True)]
    assert [bar["is_last"] for bar in (*first, *second)] == [False, False, False, True]
    assert chart["remarks"] == []


def test_a_section_that_comes_back_is_written_once_and_the_order_is_told() -> None:
    score = empty("Gm7 | F | Gm7", sections=[("A", 1), ("B", 1), ("A", 1)])
    chart = block(score, "chart")
    assert [s["name"] for s in chart["sections"]] == ["A", "B"]
    assert chart["remarks"] == ["Order: A  B  A"]


def test_sections_of_one_name_and_other_chords_are_written_both() -> None:
    score = empty("Gm7 | F | Bb", sections=[("A", 1), ("B", 1), ("A", 1)])
    assert [s["name"] for s in block(score, "chart")["sections"]] == ["A", "B", "A"]


def test_a_bar_that_holds_the_chord_before_is_a_repeated_bar() -> None:
    (section,) = block(empty("Gm7 | Gm7 | C7 F | F | F"), "chart")["sections"]
    assert [bar["again"] for bar in bars_in(section)] == [False, True, False, False, True]


def test_chords_stand_where_they_begin_in_the_bar() -> None:
    (section,) = block(empty("Gm7 C7 | F"), "chart")["sections"]
    first = bars_in(section)[0]["chords"]
    assert [(c["symbol"], c["at"], c["share"]) for c in first] == [("Gm7", 0.0, 0.5), ("C7", 0.5, 0.5)]


def halves(chart):
    found = chart_of_recipe(chart)["sections"]
    return [section["is_half"] for section in found]


def test_many_short_sections_in_a_row_stand_two_by_two():
    assert halves("sections: {A: C | Am, B: F | G | C, C: F, D: C | F | G | C}") == [True] * 3 + [False]
    assert halves("sections: {A: C | Am, B: F | G | C, D: C | F | G | C}") == [False] * 3
    long = "C#m7b5 D#m7b5"
    assert halves(f"sections: {{A: C | Am, B: F, C: {long}}}") == [False] * 3
    assert halves("sections: {A: '|: C | Am :|', B: F, C: G}") == [False] * 3
