"""YAML text read with places. YAML syntax itself is ruamel.yaml's business."""

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import RecipeError
from genex.text.yaml_source import MAX_BYTES, parse_source, read_source

TEXT = """\
title: Rain
chords: |
  Gm7 | C7
  F
mix:
  bass: {level: -2.5}
parts: [drums, bass]
loud: true
none: ~
hex: 0x10
day: 2026-01-01
"""


def test_values_come_as_plain_data():
    assert parse_source(TEXT, "r.yaml").data == {
        "title": "Rain",
        "chords": "Gm7 | C7\nF\n",
        "mix": {"bass": {"level": -2.5}},
        "parts": ["drums", "bass"],
        "loud": True,
        "none": None,
        "hex": 16,
        "day": "2026-01-01",
    }


@pytest.mark.parametrize(
    ("path", "of_key", "place"),
    [
        (("title",), False, "r.yaml:1:8"),
        (("title",), True, "r.yaml:1:1"),
        (("mix", "bass", "level"), False, "r.yaml:6:17"),
        (("mix", "bass", "level"), True, "r.yaml:6:10"),
        (("parts", 1), False, "r.yaml:7:16"),
        (("mix", "bass", "nowhere"), False, "r.yaml:6:9"),
        ((), False, "r.yaml:1:1"),
    ],
)
def test_every_value_has_its_place(path, of_key, place):
    assert str(parse_source(TEXT, "r.yaml").place(path, of_key=of_key)) == place


@pytest.mark.parametrize(
    ("yaml", "written"),
    [
        ("a: Gm7 | C7", "Gm7 | C7"),
        ("a: 'Gm7 | C7'", "Gm7 | C7"),
        ('a: "Gm7 | C7"', "Gm7 | C7"),
        ("a: |\n  Gm7 |\n  C7\n", "  Gm7 |\n  C7\n"),
        ("a: >-\n  Gm7 |\n  C7\n", "  Gm7 |\n  C7\n"),
        ("a: Gm7 |\n  C7\n", "Gm7 |\n  C7"),
        ('a: "F\\u266f | C"', "F♯ | C"),
    ],
)
def test_a_scalar_can_be_read_as_it_is_written(yaml, written):
    assert parse_source(yaml, "r.yaml").written(("a",))[0] == written


@pytest.mark.parametrize(
    ("yaml", "place", "message", "hint"),
    [
        ("a: &x 1\nb: *x", "1:4", "anchors and aliases", "write the value out"),
        ("a: !!python/name:os.system x", "1:4", "tags", "quotes"),
        ("a: | C7 | F7", "1:6", "begins with a bar line", "leave the first | away"),
        ("t: a: b", "1:5", "second colon", "contains a colon"),
        ("a: % | C", "1:4", "may not begin", "quotes"),
        ("a: 1\n\tb: 2", "2:1", "a tab", "with spaces"),
        ("a: [1, 2", "1:4", "not closed", "]"),
        ("a: {b: 1", "1:4", "not closed", "}"),
        ("a: 'x", "1:4", "not closed", "close the quotes"),
        ("a: 1\na: 2", "2:1", "'a' is written twice", "keep one"),
        ("--- 1\n--- 2", "2:1", "second document", "one recipe a file"),
        ("? [a]\n: b", "1:3", "plain word", "name: value"),
        ("a: \x00", "1", "character", "UTF-8"),
        (r'a: "\ud83c"', "1:4", "escape", "the sign itself"),
        ("[" * 5000, "1:18", "nesting", "three levels"),
        ("- " * 5000, "1:35", "nesting", "three levels"),
    ],
)
def test_what_is_refused_says_where_what_and_what_instead(yaml, place, message, hint):
    with pytest.raises(RecipeError) as caught:
        parse_source(yaml, "r.yaml")
    assert str(caught.value.place) == f"r.yaml:{place}"
    assert message in caught.value.message
    assert hint in (caught.value.hint or "")


def test_an_emoji_written_as_json_does_is_one_character():
    assert parse_source(r'a: "\ud83c\udfb8"', "r.yaml").data == {"a": "🎸"}


def test_a_bomb_of_anchors_is_refused_before_it_grows():
    levels = "\n".join(f"l{n}: &l{n} [*l{n - 1}, *l{n - 1}]" for n in range(1, 60))
    with pytest.raises(RecipeError, match="anchors"):
        parse_source(f"l0: &l0 x\n{levels}", "bomb.yaml")


def test_a_huge_file_is_refused_without_being_read_whole(tmp_path):
    path = tmp_path / "huge.yaml"
    with path.open("wb") as file:
        file.seek(50_000_000)
        file.write(b"x")
    with pytest.raises(RecipeError, match=f"larger than {MAX_BYTES // 1024} kB"):
        read_source(path)


def test_too_many_values_are_refused():
    with pytest.raises(RecipeError, match="too many values"):
        parse_source("[" + "1," * 30_000 + "]", "many.yaml")


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda path: None, "there is no file"),
        (lambda path: path.mkdir(), "is a folder"),
        (lambda path: os.mkfifo(path), "not a file with text"),
        (lambda path: path.symlink_to("/dev/zero"), "not a file with text"),
        (lambda path: path.write_bytes(b"title: \xff\xfe"), "not UTF-8"),
    ],
)
def test_files_that_cannot_be_read(tmp_path, make, message):
    path = tmp_path / "r.yaml"
    make(path)
    with pytest.raises(RecipeError, match=message):
        read_source(path)


def test_a_name_that_no_file_can_have():
    with pytest.raises(RecipeError, match="there is no file"):
        read_source(Path("a\0b"))


def test_a_byte_order_mark_and_windows_line_ends_are_harmless(tmp_path):
    path = tmp_path / "r.yaml"
    path.write_bytes("\ufefftitle: Rain\r\ntempo: 90\r\n".encode())
    source = read_source(path)
    assert source.data == {"title": "Rain", "tempo": 90}
    assert source.place(("tempo",)).line == 2


@given(st.text(max_size=200))
def test_any_text_gives_data_or_a_recipe_error(text):
    try:
        source = parse_source(text, "any.yaml")
    except RecipeError as error:
        assert error.place is not None
        return
    for path in source.values:
        place = source.place(path)
        assert place.line is not None and 1 <= place.line <= text.count("\n") + text.count("\r") + 1


@pytest.mark.parametrize("name", ["good", "good.yml", "god.yaml", "GOOD.yaml"])
def test_the_name_of_a_file_that_is_nearly_there(tmp_path, name):
    (tmp_path / "good.yaml").write_text("a: 1")
    with pytest.raises(RecipeError, match="there is no file") as caught:
        read_source(tmp_path / name)
    assert caught.value.hint == f"did you mean '{tmp_path / 'good.yaml'}'?"
