"""Letterheads as they are read from a recipe or a series."""

from __future__ import annotations

import pytest

from genex.errors import InputError
from genex.export.handout import Letterhead
from genex.publishing.letterheads import letterhead_of, require_readable
from genex.recipe import parse_recipe
from tests.readers.test_logo import png


def test_what_is_left_away_is_empty() -> None:
    assert letterhead_of(parse_recipe("chords: C")) == Letterhead()
    recipe = parse_recipe("chords: C\nletterhead: {school: A}")
    assert letterhead_of(recipe) == Letterhead(school="A")


def test_a_character_that_cannot_be_printed_has_its_place() -> None:
    recipe = parse_recipe("chords: C\nletterhead: {school: Lantern Street, teacher: 雨}", "r.yaml")
    with pytest.raises(InputError, match="no '雨'") as caught:
        require_readable(recipe)
    assert str(caught.value.place) == "r.yaml:2:47"


def test_a_logo_is_read_beside_the_file(tmp_path) -> None:  # type: ignore[no-untyped-def]
    logo = tmp_path / "sign.png"
    logo.write_bytes(png(40, 30))
    recipe = parse_recipe("chords: C\nletterhead: {logo: sign.png}", str(tmp_path / "r.yaml"))
    read = letterhead_of(recipe).logo
    assert read is not None and read.pixels == (40, 30)
    logo.unlink()
    with pytest.raises(InputError, match="cannot be read"):
        letterhead_of(recipe)
