"""Recipes as they are written: what is understood, what is refused and how that is said."""

import json
from fractions import Fraction as F
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


def test_sections_are_played_in_the_order_of_the_form():
    recipe = parse_recipe("sections: {A: C | F, B: {chords: G7, rest: bass}}\nform: A A B A")
    assert [section.name for section in recipe.form] == ["A", "A", "B", "A"]
    assert recipe.form[2].rest == ("bass",)


def test_a_wish_for_a_count_in_brings_the_take_that_has_it():
    assert "take" in parse_recipe("chords: C\ncount_in: 2").outputs
    assert "take" not in parse_recipe("chords: C").outputs
    assert parse_recipe("chords: C\noutputs: tab").outputs == ("tab",)


def test_numerals_and_numbers_are_read_in_the_key():
    recipe = parse_recipe("key: Bb\nchords: ii7 | 5 7 | Imaj7 | V7/ii")
    chords = [str(chord) for bar in recipe.form[0].bars for chord, _ in bar.chords]
    assert chords == ["Cm7", "F7", "Bbmaj7", "G7"]


def test_versions_are_keys_times_tempos():
    plain = parse_recipe("chords: Dm7 | G7 | C\ntempo: 99.5")
    assert [(str(v.key), v.tempo, v.suffix) for v in plain.versions] == [("C major", F("99.5"), "")]
    twelve = parse_recipe("chords: Am | E7 | Am\nkeys: fourths")
    assert len(twelve.versions) == 12
    assert [v.suffix for v in twelve.versions][:3] == [".Am", ".Dm", ".Gm"]
    ladder = parse_recipe("chords: C\ntempos: {start: 80, end: 100, step: 10}")
    assert [v.suffix for v in ladder.versions] == [".80", ".90", ".100"]
    down = parse_recipe("chords: C\ntempos: {start: 100, end: 85, step: 10}")
    assert [v.suffix for v in down.versions] == [".100", ".90"]


def test_an_exercise_brings_its_part():
    assert "exercise" in parse_recipe("chords: C\nexercise: arpeggio").parts
    assert parse_recipe("chords: C\nparts: bass").parts == ("bass",)


@pytest.mark.parametrize(
    ("title", "slug"),
    [
        ("Rain", "rain"),
        ("../../etc/passwd", "etc-passwd"),
        ("..", "lesson"),
        ("🎸🎸", "lesson"),
        ("Été à la plage", "ete-a-la-plage"),
        ("B♭ blues / slow", "bb-blues-slow"),
        ("CON", "lesson-con"),
        ("x" * 300, "x" * 60),
        ("a\\b:c*d?", "a-b-c-d"),
        (" . hidden", "hidden"),
    ],
)
def test_a_title_becomes_a_safe_slug(title, slug):
    assert parse_recipe(f"chords: C\ntitle: {json.dumps(title)}").slug == slug


@given(st.text(max_size=300))
def test_any_title_becomes_a_safe_slug(title):
    from genex.recipe.slug import slug_of

    slug = slug_of(title)
    assert slug and len(slug) <= 67
    assert set(slug) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert not slug.startswith("-")


@pytest.mark.parametrize(
    ("text", "place", "message", "hint"),
    [
        ("chords: C\ntempoo: 3", "2:1", "no field 'tempoo'", "did you mean 'tempo'?"),
        ("chords: C\ntempo: 0", "2:8", "0 is too small", "least is 20"),
        ("chords: C\ntempo: 10000", "2:8", "10000 is too large", "most is 400"),
        ("chords: C\ntempo: .nan", "2:8", "usable number", "plain number"),
        ("chords: C\ntempo: fast", "2:8", "'fast' is not a number", "plain number"),
        ("chords: C\ntempo: true", "2:8", "not a number", "plain number"),
        ("chords: C\nrepeats: 2.5", "2:10", "not a whole number", "without a point"),
        ("chords: C\nrepeats:", "2:1", "'repeats' is empty", "behind the colon"),
        ("chords: C\nparts: drums bas", "2:8", "'bas'", "did you mean 'bass'?"),
        ("chords: C\nparts: []", "2:8", "'parts' is empty", "drums bass comping"),
        ("chords: C\nexercise: arpegio", "2:11", "'arpegio'", "did you mean 'arpeggio'?"),
        ("chords: C\nexercise: {kind: arpeggio, rythm: eighths}", "2:28", "'rythm'", "'rhythm'"),
        ("chords: C\nguide:\n  rhythm: wole", "3:11", "'wole'", "did you mean 'whole'?"),
        ("chords: C\nmix: {bass: {level: loud}}", "2:21", "'mix.bass.level'", "plain number"),
        ("chords: C\nkey: H minor", "2:6", "not a key", "Bb or G minor"),
        ("chords: C\nkey: G# major", "2:6", "8 accidentals", "Ab major"),
        ("chords: C\nmeter: 4", "2:8", "not a meter", "12/8"),
        ("chords: C | Hm7 | D", "1:13", "Hm7", None),
        ("chords: ii7 | V7", "1:9", "needs a key", "key: G minor"),
        ("key: C\nchords: ii7 | V7/zz", "2:15", "V7/zz", None),
        ("chords: C\nkeys: fourth", "2:7", "not a key", "fourths"),
        ("chords: C\nkeys: [F, A minor]", "2:11", "same kind", "A major"),
        ("chords: C\nkeys: []", "2:7", "'keys' is empty", "fourths"),
        ("chords: C\ntempos: []", "2:9", "'tempos' is empty", "90"),
        ("chords: C\ntempos: [90, 1000]", "2:14", "too large", "400"),
        ("chords: C\ntempos: {start: 20, end: 400, step: 1}", "2:37", "381 tempos", "larger steps"),
        ("chords: C\ntempos: {start: 20, stop: 40}", "2:21", "'stop'", "step"),
        ("title: x", "1:1", "no chords", "Gm7 | C7"),
        ("chords: ''", "1:10", "chart is empty", "Gm7 | C7"),
        ("chords: [C]", "1:9", "text is missing in 'chords'", "one value"),
        ("chords: C\nsections: {A: C}", "2:1", "both give a chart", "keep one"),
        ("chords: C\nform: A A", "2:1", "'form' needs 'sections'", "sections"),
        ("sections: {A: C | F}\nform: A C", "2:7", "section 'C'", "write one of: A"),
        ("sections: {A: {chord: C}}", "1:16", "'chord'", "did you mean 'chords'?"),
        ("sections: {}", "1:11", "'sections' is empty", "A: Gm7"),
        ("", "1:1", "empty", "chords: Gm7"),
        ("- a", "1:1", "list of fields", "title"),
        ("just words", "1:1", "list of fields", "title"),
        ("chords: |: " + "C | " * 400 + ":|x16", None, "cannot be read as YAML", "from |: on"),
        ("chords: " + "C | " * 1000 + "\nrepeats: 64", "2:10", "64000 bars", "lower 'repeats'"),
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
