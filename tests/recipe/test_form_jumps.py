"""Jumps from one section of a form to another: the order of play, and what is wrong with a form."""

import pytest

from genex.errors import InputError
from genex.recipe import parse_recipe

A, B = "C | F Fine", "Am | Dm D.C. al Fine"


def recipe_of(form, **sections):
    written = "".join(f"  {name}: '{chart}'\n" for name, chart in sections.items())
    return parse_recipe(f"key: C\nsections:\n{written}form: {form}\n")


def played(form, **sections):
    return [(one.name, len(one.bars)) for one in recipe_of(form, **sections).form]


@pytest.mark.parametrize(
    ("form", "sections", "order"),
    [
        ("A A B", {"A": A, "B": B}, "A2 A2 B2 A2"),
        # the last A of the form is what the jump plays
        ("A A B A", {"A": A, "B": B}, "A2 A2 B2 A2"),
        ("A B A", {"A": "|: C | [1. F :| [2. G7 Fine | C", "B": B}, "A5 B2 A2"),
        ("A B A B", {"A": A, "B": B}, "A2 B2 A2 B2 A2"),
        ("A B", {"A": "C | F Fine | G7", "B": B}, "A3 B2 A2"),
        ("A B C", {"A": "C | Segno F", "B": "Am To Coda | Dm D.S. al Coda", "C": "Coda G7"},
         "A2 B2 A1 B1 C1"),
        # repeats stay inside of their section, and are not taken after the jump
        ("A B", {"A": "C | F :| Fine", "B": "Am | Dm :| D.C. al Fine"}, "A4 B4 A2"),
        ("A B", {"A": "|: C | [1. F :| [2. G7 Fine", "B": "Am D.C. al Fine"}, "A4 B1 A2"),
        ("A B C D", {"A": "C Fine | F", "B": "Am To Coda | Dm D.C. al Coda", "C": "Coda G7",
                     "D": "E7 D.C. al Fine"},
         "A2 B2 A2 B1 C1 D1 A1"),
        # a section all of whose signs stand in it keeps its jump to itself
        ("A B", {"A": "C Fine | F D.C. al Fine", "B": "Am"}, "A3 B1"),
    ],
)  # fmt: skip
def test_sections_are_played_in_the_order_of_the_signs(form, sections, order):
    assert " ".join(f"{name}{bars}" for name, bars in played(form, **sections)) == order


def test_parted_sections_keep_what_is_theirs():
    recipe = parse_recipe(
        "key: C\nsections:\n  A: {chords: 'C :|x2 Fine', rest: drums}\n"
        "  B: {chords: 'Am | Dm D.C. al Fine', key: A minor, tempo: 90}\nform: A B\n"
    )
    first, middle, again = recipe.form
    assert first.rest == again.rest == ("drums",) and first.repeats and not again.repeats
    assert (str(middle.key), middle.tempo) == ("A minor", 90)
    (jump,) = recipe.form_jumps
    assert (jump.target, jump.at, jump.again, jump.end) == (0, 4, (0,), 5)


@pytest.mark.parametrize(
    ("form", "sections", "place", "message"),
    [
        ("A B A A", {"A": A, "B": B}, "4:15", "nothing leads to the bars behind 'D.C. al Fine'"),
        ("A B", {"A": "C | F", "B": B}, "4:15", "'D.C. al Fine' has no 'Fine' to go by"),
        ("A B", {"A": A, "B": "Am"}, "3:13", "no jump leads to this sign"),
        ("A B", {"A": "|: C | F Fine", "B": B}, "3:7", "never closes"),
        ("A B", {"A": "C", "B": "F", "D": B}, "5:15", "has no 'Fine'"),
        ("A B", {"A": "C :| [2. F Fine", "B": B}, "3:12", "ending 2 stands"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(form, sections, place, message):
    with pytest.raises(InputError) as caught:
        recipe_of(form, **sections)
    assert message in caught.value.message
    assert str(caught.value.place) == f"recipe.yaml:{place}"
    assert caught.value.hint


def test_the_hint_speaks_of_what_is_written():
    for text, hint in (
        ("chords: C | F D.C. | G", "end the chart with the jump"),
        ("sections: {A: C To Coda | F D.C. al Coda, B: G, C: Coda G}\nform: A B C", "end 'form' with"),
    ):
        with pytest.raises(InputError, match="nothing leads to the bars") as caught:
            parse_recipe(text)
        assert hint in (caught.value.hint or "")
