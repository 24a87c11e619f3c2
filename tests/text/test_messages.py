"""A file validated by a model of any kind: its error, its tables, the first fault in the file."""

from __future__ import annotations

from typing import Annotated, Literal

import pytest
from pydantic import Field

from genex.errors import InputError
from genex.text.field_kinds import AlsoOne, EitherFields, Fields, NamesItsKind, Number, Text
from genex.text.messages import Wording, known_fields, validated
from genex.text.yaml_source import parse_source


class Seat(Fields):
    row: Number = Field(ge=1, le=30)
    kind: Literal["seat"] = "seat"


class Stand(Fields):
    kind: Literal["stand"]
    price: Number = 0.0


class ByKind(NamesItsKind):
    def model_of(self, written):
        return Stand if isinstance(written, dict) and written.get("kind") == "stand" else Seat


class Door(EitherFields):
    either = ("left", "right")
    left: Text = ""
    right: Text = ""


Place = Annotated[Seat | Stand, ByKind()]


class Hall(Fields):
    title: Text
    places: dict[Text, Annotated[tuple[Place, ...], Field(min_length=1), AlsoOne()]] = Field(default={})
    door: Door | None = Field(default=None, alias="front door")


class HallError(InputError):
    pass


WORDING = Wording(
    HallError,
    "plan",
    "'title: Main hall'",
    fields={"name": "'title' is the name"},
    numbers={"*.row": "counted from the stage"},
    groups={"front door": "write for example 'front door: {left: red}'"},
    lists={"places.*": "write lines such as - {row: 3}"},
    missing={"title": "add 'title: Main hall'"},
)


def fault(text: str) -> tuple[str, str, str]:
    with pytest.raises(HallError) as caught:
        validated(Hall, parse_source(text, "h.yaml"), WORDING)
    error = caught.value
    return str(error.place).removeprefix("h.yaml:"), error.message, error.hint or ""


@pytest.mark.parametrize(
    ("text", "place", "message", "hint"),
    [
        ("", "1:1", "the file is empty", "'title: Main hall'"),
        ("- title: A", "1:1", "a plan is a list of fields", "without the dash"),
        ("title:A", "1:1", "a plan is a list of fields", "'title: A'"),
        ("name: A", "1:1", "no field 'name'", "'title' is the name"),
        ("places: {}", "1:1", "the field 'title' is missing", "add 'title: Main hall'"),
        ("titel: A", "1:1", "no field 'titel'", "did you mean 'title'?"),
        ("title: A\nfrunt door: {}", "2:1", "no field 'frunt door'", "did you mean 'front door'?"),
        ("title: A\nfront door: {}", "2:13", "exactly one of 'left' and 'right'", "{left: red}"),
        ("title: A\nfront door: {left: a, right: b}", "2:13", "exactly one of", "{left: red}"),
        ("title: A\nfront door: red", "2:13", "fields are missing in 'front door'", "{left: red}"),
        ("title: A\nplaces: {a: []}", "2:13", "something is missing in 'places.a'", "- {row: 3}"),
        ("title: A\nplaces: {a: 3}", "2:13", "a list is missing in 'places.a'", "- {row: 3}"),
        ("title: A\nplaces: {title: [{rwo: 2}]}", "2:19", "no field 'rwo'", "did you mean 'row'?"),
        ("title: A\nplaces:\nmain:\n  - {row: 3}", "3:1", "no field 'main'", "belongs to 'places'"),
    ],
)
def test_the_first_fault_is_told_with_its_place_and_a_hint(text, place, message, hint):
    found = fault(text)
    assert found[0] == place
    assert message in found[1]
    assert hint in found[2]


def test_known_fields_are_those_of_the_group_at_a_path():
    data = {
        "title": "A",
        "places": {"main": [{"row": 1}, {"kind": "stand"}], "price": {"kind": "stand"}},
    }
    assert known_fields(Hall, data, ()) == ["front door", "places", "title"]
    assert known_fields(Hall, data, ("places", "main", 1)) == ["kind", "price"]
    assert known_fields(Hall, data, ("places", "main", 0)) == ["kind", "row"]
    assert known_fields(Hall, data, ("places", "price")) == ["kind", "price"]
    assert known_fields(Hall, data, ("front door",)) == ["left", "right"]
    assert known_fields(Hall, data, ("title",)) == known_fields(Hall, data, ("nowhere",)) == []


def test_one_group_stands_for_a_list_of_one():
    read = validated(Hall, parse_source("title: A\nplaces: {main: {row: 3}}", "h"), WORDING)
    assert read.places["main"] == (Seat(row=3),)
