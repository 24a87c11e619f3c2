"""Letterheads as they are read from a recipe or a series."""

import pytest

from genex.errors import InputError
from genex.export.handout import Letterhead
from genex.publishing.letterheads import letterhead_of, require_readable
from genex.recipe.fields import LetterheadFields
from genex.text.yaml_source import parse_source
from tests.readers.test_logo import png

SOURCE = parse_source("letterhead: {school: Lantern Street, teacher: 雨}\n", "r.yaml")


def test_what_is_left_away_is_empty():
    assert letterhead_of(None, SOURCE) == Letterhead()
    assert letterhead_of(LetterheadFields(school="A"), SOURCE) == Letterhead(school="A")


def test_a_character_that_cannot_be_printed_has_its_place():
    with pytest.raises(InputError, match="no '雨'") as caught:
        require_readable(LetterheadFields(school="Lantern Street", teacher="雨"), SOURCE)
    assert str(caught.value.place) == "r.yaml:1:47"


def test_a_logo_is_read_beside_the_file(tmp_path):
    source = parse_source("letterhead: {logo: sign.png}\n", str(tmp_path / "r.yaml"))
    fields = LetterheadFields(logo="sign.png")
    with pytest.raises(InputError, match="cannot be read"):
        letterhead_of(fields, source)
    (tmp_path / "sign.png").write_bytes(png(40, 30))
    logo = letterhead_of(fields, source).logo
    assert logo is not None and logo.pixels == (40, 30)
