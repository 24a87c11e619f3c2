"""A file name from a title."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.recipe import parse_recipe
from genex.recipe.slug import slug_of


@pytest.mark.parametrize(
    ("title", "slug"),
    [
        ("Rain", "rain"),
        ("../../etc/passwd", "etc-passwd"),
        ("..", "recipe"),
        ("🎸🎸", "recipe"),
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
    slug = slug_of(title)
    assert slug and len(slug) <= 67
    assert set(slug) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert not slug.startswith("-")


def test_without_a_single_letter_it_is_a_lesson():
    assert slug_of("🎸") == "lesson"
    assert slug_of("🎸", "日本") == "lesson"
    assert slug_of("日本語", "my tune") == "my-tune"
