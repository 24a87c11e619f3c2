"""A file validated by a model; what pydantic finds wrong, said in words for a musician and with its
place in the file.

What people write in place of what is meant stands in tables, one ``Wording`` for each kind of file.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import Annotated, Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from genex.errors import InputError
from genex.hints import did_you_mean, nearest
from genex.text.field_kinds import Fields, NamesItsKind
from genex.text.yaml_source import KeyPath, Source

Table = Mapping[str, str]
_Model = TypeVar("_Model", bound=Fields)
_Said = tuple[str, str | None]
_SPECIFIC = ("extra_forbidden", "literal_error")


@dataclass(frozen=True)
class Wording:
    """How faults in one kind of file are told. Nothing is read from the tables; they only make hints
    better.

    error        the class of what is raised
    name         what a whole file is called
    least        what it has to say at least, with an example
    fields       names of fields that there are not: what stands in their place
    words        words in the value of a field: what to write instead
    numbers      what the number of a field counts, with an example
    two_numbers  what to write where two numbers stand in place of one: ``{0}`` and ``{1}``
    texts        fields that want a text: an example
    groups       fields that have fields of their own: an example
    lists        fields that want a list: an example
    missing      fields that may not be missing: an example

    Words that are looked up stand in lower case, with blanks for hyphens and underscores. Fields are
    named with those that they belong to (``audio.rate``); ``*`` stands for any.
    """

    error: type[InputError]
    name: str
    least: str
    fields: Table = field(default_factory=dict)
    words: Mapping[str, Table] = field(default_factory=dict)
    numbers: Table = field(default_factory=dict)
    two_numbers: Table = field(default_factory=dict)
    texts: Table = field(default_factory=dict)
    groups: Table = field(default_factory=dict)
    lists: Table = field(default_factory=dict)
    missing: Table = field(default_factory=dict)

    def word_meant(self, name: str, word: str) -> str | None:
        """What to write instead of a word in a field."""
        return self.words.get(name, {}).get(plain_word(word))

    def number_hint(self, name: str, written: object, *, is_whole: bool = False) -> str:
        """How to write the number of a field; what was written may hold it: ``120 bpm``, ``120,5``."""
        text = str(written).strip()
        digits = re.findall(r"\d+(?:[.,]\d+)?", text)
        if len(digits) == 1 and is_whole and not digits[0].isdecimal():
            return "write a number without a point"
        if len(digits) == 1 and not text.endswith("%"):
            return f"write {digits[0].replace(',', '.')}"
        if len(digits) == 2 and name in self.two_numbers:
            return self.two_numbers[name].format(*digits)
        counted = _entry(self.numbers, name)
        return f"write a plain number, {counted}" if counted else "write a plain number"


def validated(model: type[_Model], source: Source, wording: Wording) -> _Model:
    """What a file says, as a model. Raises the wording's error for the first fault in the file."""
    if source.data is None:
        raise wording.error(
            "the file is empty", hint=f"write at least {wording.least}", place=source.place(())
        )
    if not isinstance(source.data, dict):
        raise wording.error(
            f"a {wording.name} is a list of fields, each with a name and a value",
            hint=_fields_meant(source.data, model, wording),
            place=source.place(()),
        )
    try:
        return model.model_validate(source.data)
    except ValidationError as error:
        raise _fault(model, source, _first(source, error.errors()), wording) from None


def _fields_meant(data: Any, model: type[Fields], wording: Wording) -> str:
    """What to write instead of a file whose fields are not read as such."""
    words = data.split() if isinstance(data, str) else []
    glued = next((found for word in words if (found := re.fullmatch(r"(\w+)[:：]\s*(.+)", word))), None)
    if glued is not None and glued[1] in model.model_fields:
        return f"put a plain colon and a plain space behind the name: '{glued[1]}: {glued[2]}'"
    if isinstance(data, list):
        return f"begin each line with the field's name, without the dash: {wording.least}"
    return f"begin with 'title: …' and {wording.least}"


def _first(source: Source, faults: list[ErrorDetails]) -> ErrorDetails:
    """The first fault in the order of the file; of several at one place the most specific one.

    What is wrong in a part comes before what is said of the whole for it: a list whose item is wrong
    counts as too short, a field whose name is misspelled as missing, one whose lines are not indented
    as empty.
    """
    unknown = {fault["loc"][:-1] for fault in faults if fault["type"] == "extra_forbidden"}

    def order(fault: ErrorDetails) -> tuple[bool, int, int, bool]:
        loc = fault["loc"]
        is_absent = fault["type"] == "missing" or fault["input"] is None
        follows = (is_absent and loc[:-1] in unknown) or any(
            other["loc"][: len(loc)] == loc != other["loc"] for other in faults
        )
        place = source.place(loc, of_key=True)
        return (follows, place.line or 0, -len(loc), fault["type"] not in _SPECIFIC)

    return min(faults, key=order)


def known_fields(kind: Any, written: Any, path: KeyPath) -> list[str]:
    """Names of the fields that the group at ``path`` may have, in a value ``written`` of a type."""
    step = path[0] if path else None
    inner = written.get(step) if isinstance(written, dict) else None
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        fields = {about.alias or name: about for name, about in kind.model_fields.items()}
        if step is None:
            return sorted(fields)
        return known_fields(fields[str(step)].annotation, inner, path[1:]) if step in fields else []
    parts = get_args(kind)
    if get_origin(kind) is Annotated:
        told = (about.model_of(written) for about in parts[1:] if isinstance(about, NamesItsKind))
        return known_fields(next(told, parts[0]), written, path)
    if get_origin(kind) is dict:
        return known_fields(parts[1], inner, path[1:])
    if get_origin(kind) in (list, tuple) and isinstance(written, list) and isinstance(step, int):
        return known_fields(parts[0], written[step], path[1:])
    return next((names for part in parts if (names := known_fields(part, written, path))), [])


@dataclass(frozen=True)
class _Found:
    """What pydantic found in the field of a name: a value, and what it tells about the fault."""

    name: str
    value: Any
    about: Mapping[str, Any]
    wording: Wording


def _one_of(found: _Found) -> _Said:
    options = _options(found.about["expected"])
    hint = found.wording.word_meant(found.name, str(found.value)) or did_you_mean(
        str(found.value), options
    )
    return f"'{found.value}' is not one of the words for", hint


def _one_kind(found: _Found) -> _Said:
    kind = str(found.value.get("kind") if isinstance(found.value, Mapping) else found.value)
    hint = found.wording.word_meant(found.name, kind)
    return f"'{kind}' is not a kind of", hint or did_you_mean(
        kind, _options(found.about["expected_tags"])
    )


def _options(listed: object) -> list[str]:
    """Words as pydantic lists them."""
    return [word.strip(" '") for word in str(listed).replace(" or ", ", ").split(", ")]


def _number(message: str) -> Callable[[_Found], _Said]:
    is_whole = "whole" in message
    return lambda found: (
        message.format(found.value),
        found.wording.number_hint(found.name, found.value, is_whole=is_whole),
    )


def _limit(message: str, bound: str, key: str) -> Callable[[_Found], _Said]:
    def said(found: _Found) -> _Said:
        counted = _entry(found.wording.numbers, found.name)
        hint = f"{bound} is {found.about[key]:g}" + (f": {counted}" if counted else "")
        return message.format(found.value), hint

    return said


def _text(found: _Found) -> _Said:
    hint = _entry(found.wording.texts, found.name) or "write one value behind the colon"
    if isinstance(found.value, list | dict):
        what = "a list stands" if isinstance(found.value, list) else "fields stand"
        return f"{what} where a text belongs, in", hint
    return "a text is missing in", hint


def _group(found: _Found) -> _Said:
    groups = found.wording.groups
    example = _entry(groups, found.name) or groups.get(found.name.partition(".")[0])
    return "fields are missing in", example or "write fields of its own below it, indented"


def _list(found: _Found) -> _Said:
    return "a list is missing in", _entry(found.wording.lists, found.name)


def _too_few(found: _Found) -> _Said:
    if isinstance(found.value, dict):
        return _group(found)
    return "something is missing in", _entry(found.wording.lists, found.name)


def _too_many(found: _Found) -> _Said:
    what = "characters" if isinstance(found.value, str) else "entries"
    return "that is too long for", f"use at most {found.about['max_length']} {what}"


_SAYINGS: dict[str, Callable[[_Found], _Said]] = {
    "literal_error": _one_of,
    "union_tag_invalid": _one_kind,
    "union_tag_not_found": lambda found: (
        "the field 'kind' is missing in",
        found.wording.missing["kind"],
    ),
    "either": lambda found: (
        f"exactly one of {found.about['names']} belongs into",
        _entry(found.wording.groups, found.name),
    ),
    "bool_parsing": lambda found: (
        f"'{found.value}' is neither true nor false in",
        "write true or false",
    ),
    "bool_type": lambda found: ("true or false is missing in", "write true or false"),
    "greater_than_equal": _limit("{} is too small for", "the least", "ge"),
    "less_than_equal": _limit("{} is too large for", "the most", "le"),
    "float_parsing": _number("'{}' is not a number in"),
    "float_type": _number("a number is missing in"),
    "finite_number": lambda found: (
        "that is not a usable number in",
        found.wording.number_hint(found.name, ""),
    ),
    "int_parsing": _number("'{}' is not a whole number in"),
    "int_type": _number("a whole number is missing in"),
    "int_from_float": lambda found: (
        f"{found.value} is not a whole number in",
        "write a number without a point",
    ),
    "string_type": _text,
    "too_long": _too_many,
    "too_short": _too_few,
    "tuple_type": _list,
    "list_type": _list,
    "dict_type": _group,
    "model_type": _group,
    "model_attributes_type": _group,
}


def _fault(model: type[Fields], source: Source, details: ErrorDetails, wording: Wording) -> InputError:
    """One thing that is wrong, as an error with its place."""
    path = source.written_path(details["loc"])
    kind, last = details["type"], str(details["loc"][-1]) if details["loc"] else wording.name
    if kind == "extra_forbidden":
        hint = _field_hint(source, path, last, known_fields(model, source.data, path[:-1]), wording)
        place = source.place(path, of_key=True)
        return wording.error(f"there is no field '{last}'", hint=hint, place=place)
    if kind == "missing":
        hint = wording.missing.get(last, f"add '{last}: …'")
        return wording.error(f"the field '{last}' is missing", hint=hint, place=source.place(path))
    name = ".".join(step for step in path if isinstance(step, str)) or wording.name
    if details["input"] is None:
        return wording.error(
            f"'{name}' is empty",
            hint="write a value behind the colon or leave the line away",
            place=source.place(path, of_key=True),
        )
    said = _SAYINGS.get(kind)
    if said is None:
        return wording.error(f"'{name}' is wrong: {details['msg']}", place=source.place(path))
    message, advice = said(_Found(name, details["input"], details.get("ctx", {}), wording))
    return wording.error(f"{message} '{name}'", hint=advice, place=source.place(path))


def _field_hint(source: Source, path: KeyPath, name: str, known: list[str], wording: Wording) -> str:
    """What to write instead of a field that there is not."""
    near = nearest(name, known, cutoff=0.75)
    meant = wording.fields.get(plain_word(name)) if len(path) == 1 and near is None else None
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
    return str(before[-1][-1]) if before and source.value(before[-1]) is None else None


def _entry(table: Table, name: str) -> str | None:
    """What a table says of a field."""
    return next((said for pattern, said in table.items() if fnmatchcase(name, pattern)), None)


def plain_word(word: str) -> str:
    """A word in lower case, with blanks for hyphens and underscores."""
    return re.sub(r"[\s_-]+", " ", word.strip().lower())
