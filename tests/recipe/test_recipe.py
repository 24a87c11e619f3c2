"""Recipes as they are written: what is understood, what is refused and how that is said."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import InputError, RecipeError
from genex.recipe import json_schema, parse_recipe, read_recipe, starter_text

FOLDER = Path(__file__).parents[2] / "recipes"
SERIES = ("book-of-sevenths", "first-term", "triads-in-three-keys")
EXAMPLES = sorted(path for path in FOLDER.glob("*.yaml") if path.stem not in SERIES)


def test_two_lines_are_enough():
    recipe = parse_recipe("chords: Gm7 | C7 | Fmaj7 | D7b9 |\ntempo: 132", "rain-in-may.yaml")
    assert (recipe.title, recipe.slug) == ("Rain in may", "rain-in-may")
    assert str(recipe.key) == "F major"
    assert recipe.parts == ("drums", "bass", "comping", "guide")
    assert recipe.outputs == ("midi", "loop", "band", "tab")


def test_a_wish_for_a_count_in_brings_the_take_that_has_it():
    assert "take" in parse_recipe("chords: C\ncount_in: 2").outputs
    assert "take" not in parse_recipe("chords: C").outputs
    assert parse_recipe("chords: C\noutputs: tab").outputs == ("tab",)


def test_numerals_and_numbers_are_read_in_the_key():
    recipe = parse_recipe("key: Bb\nchords: ii7 | 5 7 | Imaj7 | V7/ii")
    chords = [str(chord) for bar in recipe.form[0].bars for chord, _ in bar.chords]
    assert chords == ["Cm7", "F7", "Bbmaj7", "G7"]


def test_an_exercise_brings_its_part():
    assert "exercise" in parse_recipe("chords: C\nexercise: arpeggio").parts
    assert parse_recipe("chords: C\nparts: bass").parts == ("bass",)


@pytest.mark.parametrize(
    ("text", "place", "message", "hint"),
    [
        ("chords: C\nparts: []", "2:8", "'parts' is empty", "drums bass comping"),
        ("chords: C\nkey: H minor", "2:6", "not a key", "did you mean B minor?"),
        ("chords: C\nkey: G# major", "2:6", "8 accidentals", "Ab major"),
        ("chords: C\nmeter: 4", "2:8", "not a meter", "12/8"),
        ("chords: C | Hm7 | D", "1:13", "Hm7", None),
        ("chords: ii7 | V7", "1:9", "needs a key", "key: G minor"),
        ("key: C\nchords: ii7 | V7/zz", "2:15", "V7/zz", None),
        ("chords: ''", "1:10", "chart is empty", "Gm7 | C7"),
        ("", "1:1", "empty", "chords: Gm7"),
        ("- a", "1:1", "list of fields", "without the dash"),
        ("just words", "1:1", "list of fields", "title"),
        (
            "chords: |: " + "C | " * 400 + ":|x16",
            None,
            "bar line on the line of its field",
            "from |: on",
        ),
        ("chords: " + "C | " * 1000 + "\nrepeats: 64", "2:10", "64000 bars", "lower 'repeats'"),
        (
            f"sections: {{A: {'C | ' * 500}, B: {'C | ' * 1000}}}\n"
            "form: A\nrepeats: 5\nintro: B\noutro: B",
            "3:10",
            "4500 bars",
            "lower 'repeats'",
        ),
        (
            f"sections: {{A: C, B: {'C | ' * 1000}}}\nform: A\nintro: B B B\noutro: B B",
            "2:7",
            "5001 bars",
            "shorten",
        ),
    ],
)
def test_what_is_wrong_is_said_with_its_place_and_a_hint(text, place, message, hint):
    with pytest.raises(RecipeError) as caught:
        parse_recipe(text, "r.yaml")
    error = caught.value
    assert error.exit_code == 2
    assert message in error.message
    if place:
        assert str(error.place) == f"r.yaml:{place}"
    if hint:
        assert hint in error.hint


def test_the_first_fault_of_the_file_is_reported_first():
    with pytest.raises(RecipeError) as caught:
        parse_recipe("tempo: 0\nchords: C\nsed: 3")
    assert caught.value.place.line == 1


def test_the_schema_describes_every_field():
    schema = json_schema()
    assert schema["additionalProperties"] is False
    for name, field in schema["properties"].items():
        assert field.get("description"), name


def test_the_starter_recipe_is_in_order():
    for title in ("Rain", "Blues: no. 1", 'say "A"', "# 1", "été", "{x}"):
        assert parse_recipe(starter_text(title, "x.yaml")).title == title


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_examples_are_in_order(path):
    recipe = read_recipe(path)
    assert recipe.slug == path.stem
    assert recipe.fields.title


@st.composite
def mutated(draw):
    """A good recipe with one stretch cut out, doubled, swapped for noise, or a value replaced."""
    text = draw(st.sampled_from(EXAMPLES)).read_text("utf-8")
    start = draw(st.integers(0, len(text) - 1))
    end = min(len(text), start + draw(st.integers(1, 40)))
    noise = draw(
        st.one_of(
            st.just(""),
            st.just(text[start:end] * 2),
            st.text(max_size=12),
            st.sampled_from(
                ["|", ":", "%", "[1.", "{", "- ", "\t", "&a ", "*a", "0", "-1", "1e400", "~", "#"]
            ),
        )
    )
    return text[:start] + noise + text[end:]


@settings(max_examples=150, deadline=None)
@given(mutated())
def test_a_spoiled_recipe_is_read_or_refused_with_a_place(text):
    try:
        parse_recipe(text, "spoiled.yaml")
    except InputError as error:
        assert isinstance(error, RecipeError)
        assert error.place is not None and error.place.line is not None
        assert 1 <= error.place.line <= text.count("\n") + 2
        assert "\n" not in error.message
