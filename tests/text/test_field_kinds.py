"""Kinds of fields: what is read agrees with the JSON Schema that an editor checks by."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

import genex.band.groove_fields
import genex.recipe.series  # noqa: F401
from genex.recipe.fields import PinFields
from genex.text.field_kinds import EitherFields, Fields, schema_of


def groups(of: type[Fields] = Fields) -> Iterator[type[Fields]]:
    """Every group of fields that genex declares."""
    for group in of.__subclasses__():
        yield from groups(group)
        if group is not EitherFields and group.__module__.startswith("genex."):
            yield group


def options(schema: dict[str, Any]) -> list[dict[str, Any]]:
    return [schema, *schema.get("anyOf", ())]


NUMBERS = {
    (group, name): {**field, "$defs": schema.get("$defs", {})}
    for group in groups()
    for schema in [group.model_json_schema()]
    for name, field in schema["properties"].items()
    if any({"minimum", "maximum"} & option.keys() for option in options(field))
}
LIMITS = sorted(
    {
        option[limit]
        for field in NUMBERS.values()
        for option in options(field)
        for limit in ("minimum", "maximum")
        if limit in option
    }
)
PLAIN = st.one_of(
    st.tuples(st.sampled_from(LIMITS), st.sampled_from([-1, -0.25, 0, 0.25, 1])).map(sum),
    st.integers(-500, 500),
    st.floats(allow_nan=False, allow_infinity=False),
)


def test_there_are_numbers_to_look_at():
    assert len(NUMBERS) > 60
    assert {name for _, name in NUMBERS} > {"tempo", "swing", "position", "weight", "crash loudness"}


@settings(max_examples=600)
@given(
    st.sampled_from(sorted(NUMBERS, key=str)),
    st.one_of(PLAIN, st.booleans(), st.none(), st.sampled_from(["fast", "", [], {}])),
)
def test_a_number_is_read_where_the_schema_allows_it_and_nowhere_else(at, value):
    """[package: jsonschema] reads the limits as an editor does."""
    group, name = at
    allowed = jsonschema.Draft202012Validator(NUMBERS[at]).is_valid(value)
    try:
        group.model_validate({name: value})
        faults = []
    except ValidationError as error:
        faults = [fault for fault in error.errors() if fault["loc"][:1] == (name,)]
    assert (not faults) == allowed, faults


NAMED = ("properties", "$defs", "mapping")


def keys_of(schema: Any, *, are_fields: bool = False) -> Iterator[str]:
    """The words of a schema, without the names of the fields that it describes."""
    if isinstance(schema, dict):
        for key, value in schema.items():
            if not are_fields:
                yield key
            if key not in ("default", "examples") or are_fields:
                yield from keys_of(value, are_fields=key in NAMED and not are_fields)
    elif isinstance(schema, list):
        for value in schema:
            yield from keys_of(value)


@pytest.mark.parametrize("group", list(groups()), ids=lambda group: group.__name__)
def test_a_schema_speaks_the_words_of_json_schema(group):
    """[published: JSON Schema 2020-12, Validation, section 6] has maximum, minimum, maxLength …"""
    schema = schema_of(group)
    jsonschema.Draft202012Validator.check_schema(schema)
    words = set(keys_of(schema))
    assert not words & {"ge", "le", "gt", "lt", "multiple_of", "min_length", "max_length"}
    assert words <= VOCABULARY


VOCABULARY = set(
    """$schema $defs $ref type properties required additionalProperties propertyNames items anyOf oneOf
    enum const minimum maximum exclusiveMinimum exclusiveMaximum minLength maxLength pattern minItems
    maxItems minProperties maxProperties title description default examples""".split()
) | {"discriminator", "mapping", "propertyName"}  # [published: OpenAPI 3.1, Discriminator Object]


@pytest.mark.parametrize("group", list(groups()), ids=lambda group: group.__name__)
def test_every_field_is_described(group):
    assert group.__doc__ or group.__name__.startswith("_")
    for name, field in group.model_json_schema()["properties"].items():
        assert name == "kind" or field.get("description", "").endswith((".", "|", "…")), name


@pytest.mark.parametrize("value", [2.0**63, 1e20, 9_223_372_036_854_775_808])
def test_a_whole_number_may_be_larger_than_a_machine_word(value):
    """A field without an upper limit, as its schema says."""
    with pytest.raises(ValidationError) as found:
        PinFields.model_validate({"bar": value})
    assert all(fault["loc"] != ("bar",) for fault in found.value.errors())
