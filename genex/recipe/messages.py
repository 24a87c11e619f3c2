"""What pydantic found wrong, said in words for a musician and with its place in the file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pydantic_core import ErrorDetails

from genex.errors import RecipeError
from genex.hints import did_you_mean
from genex.yaml_source import KeyPath, Source

_Said = tuple[str, str | None]


def _one_of(context: Mapping[str, Any], value: Any) -> _Said:
    options = [part.strip(" '") for part in str(context["expected"]).replace(" or ", ", ").split(", ")]
    return f"'{value}' is not one of the words for", did_you_mean(str(value), options)


def _one_kind(context: Mapping[str, Any], value: Any) -> _Said:
    kinds = [part.strip(" '") for part in str(context["expected_tags"]).split(", ")]
    kind = str(value.get("kind")) if isinstance(value, Mapping) else str(value)
    return f"'{kind}' is not a kind of", did_you_mean(kind, kinds)


_NUMBER = "write a plain number"
_SAYINGS: dict[str, Callable[[Mapping[str, Any], Any], _Said]] = {
    "literal_error": _one_of,
    "union_tag_invalid": _one_kind,
    "union_tag_not_found": lambda c, v: ("the field 'kind' is missing in", "add 'kind: arpeggio'"),
    "bool_parsing": lambda c, v: (f"'{v}' is neither true nor false in", "write true or false"),
    "bool_type": lambda c, v: ("true or false is missing in", "write true or false"),
    "greater_than_equal": lambda c, v: (f"{v} is too small for", f"the least is {c['ge']:g}"),
    "less_than_equal": lambda c, v: (f"{v} is too large for", f"the most is {c['le']:g}"),
    "float_parsing": lambda c, v: (f"'{v}' is not a number in", _NUMBER),
    "float_type": lambda c, v: ("a number is missing in", _NUMBER),
    "finite_number": lambda c, v: ("that is not a usable number in", _NUMBER),
    "int_parsing": lambda c, v: (f"'{v}' is not a whole number in", _NUMBER),
    "int_type": lambda c, v: ("a whole number is missing in", _NUMBER),
    "int_from_float": lambda c, v: (f"{v} is not a whole number in", "write a number without a point"),
    "string_type": lambda c, v: ("a text is missing in", "write one value behind the colon"),
    "too_long": lambda c, v: ("that is too long for", f"use at most {c['max_length']} characters"),
    "tuple_type": lambda c, v: ("a list is missing in", "write words: drums bass comping"),
    "list_type": lambda c, v: ("a list is missing in", "write a list: [E2, A2, D3]"),
    "dict_type": lambda c, v: ("fields are missing in", "write fields of its own below it, indented"),
    "model_type": lambda c, v: ("fields are missing in", "write fields of its own below it, indented"),
    "model_attributes_type": lambda c, v: (
        "fields are missing in",
        "write fields of its own below it, indented",
    ),
}


def recipe_error(
    source: Source, details: ErrorDetails, known: Callable[[KeyPath], list[str]]
) -> RecipeError:
    """The first thing wrong, as a RecipeError. ``known`` names the fields of a group."""
    path = _written_path(source, details["loc"])
    kind = details["type"]
    if kind == "extra_forbidden":
        name = str(details["loc"][-1])
        hint = did_you_mean(name, known(path[:-1]))
        return RecipeError(
            f"there is no field '{name}'", hint=hint, place=source.place(path, of_key=True)
        )
    if kind == "missing":
        name = str(details["loc"][-1])
        return RecipeError(
            f"the field '{name}' is missing", hint=f"add '{name}: …'", place=source.place(path)
        )
    field = _field_name(path)
    if details["input"] is None:
        return RecipeError(
            f"'{field}' is empty", hint="write a value behind the colon or leave the line away",
            place=source.place(path, of_key=True),
        )  # fmt: skip
    said = _SAYINGS.get(kind)
    if said is None:
        return RecipeError(f"'{field}' is wrong: {details['msg']}", place=source.place(path))
    message, advice = said(details.get("ctx", {}), details["input"])
    return RecipeError(f"{message} '{field}'", hint=advice, place=source.place(path))


def _field_name(path: KeyPath) -> str:
    words = [step for step in path if isinstance(step, str)]
    return ".".join(words) or "recipe"


def _written_path(source: Source, loc: tuple[int | str, ...]) -> KeyPath:
    """``loc`` without the names of union members that pydantic puts between the steps."""
    path: KeyPath = ()
    for step in loc:
        if (*path, step) in source.values:
            path = (*path, step)
    if loc and (*path, loc[-1]) in source.keys:
        path = (*path, loc[-1])
    return path
