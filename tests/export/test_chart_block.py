"""The chart on the handout: an order line, or signs of repetition, never both."""

from genex.compose import build_timeline
from genex.export.handout.chart_block import chart_block
from genex.export.words import words
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
