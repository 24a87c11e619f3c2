"""What pydantic found wrong, said in words for a musician and with its place in the file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pydantic_core import ErrorDetails

from genex.errors import RecipeError
from genex.hints import did_you_mean, nearest
from genex.recipe.common_mistakes import (
    GROUPS,
    LISTS,
    MISSING,
    NUMBERS,
    field_meant,
    number_hint,
    word_meant,
)
from genex.yaml_source import KeyPath, Source

_Said = tuple[str, str | None]
_EXAMPLE_TEXTS = {
    "chords": "write the bars as one text, 'chords: Gm7 | C7 | Fmaj7 |', or named ones in 'sections'",
    "feel": "write one name, such as swing",
}


def _one_of(context: Mapping[str, Any], value: Any, field: str) -> _Said:
    options = [part.strip(" '") for part in str(context["expected"]).replace(" or ", ", ").split(", ")]
    hint = word_meant(field, str(value)) or did_you_mean(str(value), options)
    return f"'{value}' is not one of the words for", hint


def _one_kind(context: Mapping[str, Any], value: Any, field: str) -> _Said:
    kinds = [part.strip(" '") for part in str(context["expected_tags"]).split(", ")]
    kind = str(value.get("kind")) if isinstance(value, Mapping) else str(value)
    return f"'{kind}' is not a kind of", word_meant(field, kind) or did_you_mean(kind, kinds)


def _number(message: str) -> Callable[[Mapping[str, Any], Any, str], _Said]:
    is_whole = "whole" in message
    return lambda context, value, field: (
        message.format(value),
        number_hint(field, value, is_whole=is_whole),
    )


def _limit(message: str, key: str) -> Callable[[Mapping[str, Any], Any, str], _Said]:
    def said(context: Mapping[str, Any], value: Any, field: str) -> _Said:
        counted = NUMBERS.get(field)
        return message.format(value), f"{key} is {context[_LIMITS[key]]:g}" + (
            f": {counted}" if counted else ""
        )

    return said


def _text(context: Mapping[str, Any], value: Any, field: str) -> _Said:
    hint = _EXAMPLE_TEXTS.get(field, "write one value behind the colon")
    if isinstance(value, list | dict):
        what = "a list stands" if isinstance(value, list) else "fields stand"
        return f"{what} where a text belongs, in", hint
    return "a text is missing in", hint


def _group(context: Mapping[str, Any], value: Any, field: str) -> _Said:
    example = GROUPS.get(field) or GROUPS.get(field.partition(".")[0])
    return "fields are missing in", example or "write fields of its own below it, indented"


def _list(context: Mapping[str, Any], value: Any, field: str) -> _Said:
    return "a list is missing in", LISTS.get(field, "write words: drums bass comping")


_LIMITS = {"the least": "ge", "the most": "le"}
_SAYINGS: dict[str, Callable[[Mapping[str, Any], Any, str], _Said]] = {
    "literal_error": _one_of,
    "union_tag_invalid": _one_kind,
    "union_tag_not_found": lambda c, v, f: ("the field 'kind' is missing in", "add 'kind: arpeggio'"),
    "bool_parsing": lambda c, v, f: (f"'{v}' is neither true nor false in", "write true or false"),
    "bool_type": lambda c, v, f: ("true or false is missing in", "write true or false"),
    "greater_than_equal": _limit("{} is too small for", "the least"),
    "less_than_equal": _limit("{} is too large for", "the most"),
    "float_parsing": _number("'{}' is not a number in"),
    "float_type": _number("a number is missing in"),
    "finite_number": lambda c, v, f: ("that is not a usable number in", number_hint(f, "")),
    "int_parsing": _number("'{}' is not a whole number in"),
    "int_type": _number("a whole number is missing in"),
    "int_from_float": lambda c, v, f: (
        f"{v} is not a whole number in",
        "write a number without a point",
    ),
    "string_type": _text,
    "too_long": lambda c, v, f: ("that is too long for", f"use at most {c['max_length']} characters"),
    "tuple_type": _list,
    "list_type": _list,
    "dict_type": _group,
    "model_type": _group,
    "model_attributes_type": _group,
}


def recipe_error(
    source: Source, details: ErrorDetails, known: Callable[[KeyPath], list[str]]
) -> RecipeError:
    """The first thing wrong, as a RecipeError. ``known`` names the fields of a group."""
    path = _written_path(source, details["loc"])
    kind = details["type"]
    if kind == "extra_forbidden":
        name = str(details["loc"][-1])
        hint = _field_hint(source, path, name, known(path[:-1]))
        return RecipeError(
            f"there is no field '{name}'", hint=hint, place=source.place(path, of_key=True)
        )
    if kind == "missing":
        name = str(details["loc"][-1])
        return RecipeError(
            f"the field '{name}' is missing",
            hint=MISSING.get(name, f"add '{name}: …'"),
            place=source.place(path),
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
    message, advice = said(details.get("ctx", {}), details["input"], field)
    return RecipeError(f"{message} '{field}'", hint=advice, place=source.place(path))


def _field_hint(source: Source, path: KeyPath, name: str, known: list[str]) -> str:
    """What to write instead of a field that there is not."""
    near = nearest(name, known, cutoff=0.75)
    meant = field_meant(name) if len(path) == 1 and near is None else None
    if meant is not None:
        return meant
    parent = _left_empty_before(source, path) if near is None else None
    if parent is not None:
        return f"if '{name}' belongs to '{parent}', begin its line with two spaces more"
    return did_you_mean(name, known)


def _left_empty_before(source: Source, path: KeyPath) -> str | None:
    """The field before one, in the same group, if it was left without a value."""
    group = [key for key in source.keys if key[:-1] == path[:-1]]
    before = [key for key in group if source.keys[key].start < source.keys[path].start]
    if not before:
        return None
    value: Any = source.data
    for step in before[-1]:
        value = value[step]
    return str(before[-1][-1]) if value is None else None


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
