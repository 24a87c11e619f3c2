"""The chart on the handout: an order line, or signs of repetition, never both."""

from genex.compose import build_timeline
from genex.export.handout.chart_block import chart_block
from genex.export.phrases import words
from genex.recipe import parse_recipe


def block(text):
    recipe = parse_recipe(text)
    return chart_block(build_timeline(recipe, recipe.versions[0]), words("en"))


def test_an_order_line_stands_without_signs_of_repetition():
    found = block("sections: {A: C | Am, B: F | G}\nform: A A B A")
    assert [(section["name"], section["times"]) for section in found["sections"]] == [("A", 1), ("B", 1)]
    assert any("A  A  B  A" in remark for remark in found["remarks"])


def test_sections_in_a_row_are_played_so_many_times_and_need_no_order():
    found = block("sections: {A: C | Am, B: F | G}\nform: A A B")
    assert [(section["name"], section["times"]) for section in found["sections"]] == [("A", 2), ("B", 1)]
    assert found["remarks"] == []


def rows(section):
    """``1|: 2 |1. 3:| 4`` a row: its indent, and each bar by its chord with the signs around it."""
    found = []
    for row in section["rows"]:
        told = []
        for bar in row["bars"]:
            before = f"{bar['ending']}." if bar["ending_begins"] else "|:" if bar["opens"] else ""
            behind = (":|" if bar["closes"] else "") + bar["times"] + ("]" if bar["is_last"] else "")
            told.append(before + ("%" if bar["again"] else bar["chords"][0]["symbol"]) + behind)
        found.append((row["indent"], " ".join(told)))
    return found


def test_endings_have_their_signs_and_places():
    (section,) = block("chords: '|: C | G | [1. F | G :| [2. Am | Am'")["sections"]
    assert rows(section) == [(0, "|:C G 1.F G:|"), (2, "2.Am %]")]
    assert [row["has_brackets"] for row in section["rows"]] == [True, True]
    ends = [bar["ending_is_open"] for bar in section["rows"][1]["bars"]]
    assert ends == [True, True]


def test_a_number_of_passes_stands_at_the_sign():
    (section,) = block("chords: '|: C | G :|x3 F'")["sections"]
    assert rows(section) == [(0, "|:C G:|3x F]")]


def test_a_section_with_signs_inside_has_none_about_it():
    found = block("sections: {A: '|: C :| Am', B: F | G}\nform: A A B")
    assert [(s["name"], s["times"]) for s in found["sections"]] == [("A", 1), ("B", 1)]
    assert found["remarks"] == ["Order: A  A  B", "Bar numbers count every pass of a repeat."]


def test_choruses_with_signs_inside_are_told_in_words():
    found = block("chords: '|: C :| F'\nrepeats: 4")
    assert found["remarks"][0] == "all of it played 4 times"


def test_no_final_bar_line_stands_where_the_form_ends_elsewhere():
    found = block("sections: {A: C, B: F}\nform: A B A")
    assert [rows(section) for section in found["sections"]] == [[(0, "C")], [(0, "F")]]
