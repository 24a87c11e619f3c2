"""Sections, and the order in which they are played."""

import pytest

from genex.errors import RecipeError
from genex.recipe import parse_recipe


def names(sections):
    return " ".join(section.name for section in sections)


def test_sections_are_played_in_the_order_of_the_form():
    recipe = parse_recipe("sections: {A: C | F, B: {chords: G7, rest: bass}}\nform: A A B A")
    assert [section.name for section in recipe.form] == ["A", "A", "B", "A"]
    assert recipe.form[2].rest == ("bass",)


def test_without_a_form_the_sections_are_played_as_they_stand():
    assert names(parse_recipe("sections: {A: C, B: G7, C: F}").form) == "A B C"


def test_intro_and_outro_stand_around_the_chorus():
    recipe = parse_recipe("sections: {door: G7, A: C, B: F, end: C6}\nintro: door\noutro: end end")
    assert (names(recipe.intro), names(recipe.form), names(recipe.outro)) == ("door", "A B", "end end")
    assert names(recipe.sections) == "door A B end end"


def test_a_section_may_be_the_intro_and_in_the_chorus():
    recipe = parse_recipe("sections: {A: C, B: F}\nintro: A\nform: A B")
    assert (names(recipe.intro), names(recipe.form)) == ("A", "A B")


def test_one_chart_is_one_section():
    (section,) = parse_recipe("chords: '|: C :|x3 F'").form
    assert (section.name, len(section.bars), section.rest) == ("A", 4, ())


def test_a_drill_needs_no_chart():
    (section,) = parse_recipe("exercise: {kind: drill, ask: interval}").form
    assert section.bars[0].chords == ((None, 4),)


@pytest.mark.parametrize(
    ("text", "place", "message", "hint"),
    [
        ("chords: C\nsections: {A: C}", "2:1", "both give a chart", "keep one"),
        ("chords: C\nform: A A", "2:1", "'form' needs 'sections'", "sections"),
        ("title: x", "1:1", "no chords", "Gm7 | C7"),
        ("sections: {A: C | F}\nform: A C", "2:7", "section 'C'", "write one of: A"),
        ("sections: {A: {chord: C}}", "1:16", "'chord'", "did you mean 'chords'?"),
        ("sections: {}", "1:11", "'sections' is empty", "A: Gm7"),
        ("sections: {A: C}\nform: []", "2:7", "'form' is empty", "A A B A"),
        ("sections: {A: C}\nintro: A", "2:8", "none is left for the chorus", "form: A"),
        ("sections: {A: C}\noutro: A", "2:8", "none is left for the chorus", "form: A"),
        ("sections: {A: C}\nintro: X", "2:8", "section 'X'", "write one of: A"),
        ("sections: {A: C, B: '|: F'}", "1:22", "never closes", ":|"),
    ],
)
def test_what_is_wrong_is_said_with_its_place_and_a_hint(text, place, message, hint):
    with pytest.raises(RecipeError) as caught:
        parse_recipe(text, "r.yaml")
    assert message in caught.value.message
    assert str(caught.value.place) == f"r.yaml:{place}"
    assert hint in caught.value.hint


@pytest.mark.parametrize("chart", ["i | #ivo7 | V7", "I | V #"])
def test_a_sharp_that_yaml_takes_for_a_remark_is_noticed(chart):
    text = f"key: G minor\nchords: {chart}"
    if chart.endswith("#"):
        assert parse_recipe(text).form
        return
    with pytest.raises(RecipeError, match="begins a remark") as caught:
        parse_recipe(text, "r.yaml")
    assert str(caught.value.place) == "r.yaml:2:13"
    assert "below 'chords: |'" in caught.value.hint
    assert len(parse_recipe(f"key: G minor\nchords: |\n  {chart}").form[0].bars) == 3


def test_a_turnaround_is_no_longer_than_the_last_section():
    assert len(parse_recipe("chords: C | F\nturnaround: G7").turnaround) == 1
    with pytest.raises(RecipeError, match="3 bars"):
        parse_recipe("chords: C | F\nturnaround: G7 | G7 | G7")
