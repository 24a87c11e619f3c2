"""What the fields of recipes and groove files are made of: kinds of values, and the base of groups."""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    model_validator,
)
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import PydanticCustomError
from pydantic_core.core_schema import (
    CoreSchema,
    literal_schema,
    no_info_before_validator_function,
    no_info_wrap_validator_function,
)

Json = dict[str, Any]


def is_plain(value: Any) -> bool:
    """Whether a value is a text or a number, which can be read as text."""
    return isinstance(value, (str, int, float)) and not isinstance(value, bool)


def _text(value: Any) -> Any:
    """Numbers are text where text is asked for: a title may be 1999."""
    return str(value) if is_plain(value) else value


def _no_switch(value: Any) -> Any:
    """``true`` is not a number, whatever Python thinks."""
    return "yes or no" if isinstance(value, bool) else value


def _whole(value: Any) -> Any:
    """4.0 is a whole number however large; pydantic takes only those that 64 bits hold."""
    is_whole = isinstance(value, float) and value.is_integer()
    return int(value) if is_whole else _no_switch(value)


def _written(value: Any) -> str:
    """A text or number as digits: ``10000000000000000`` for a number that Python writes as 1e+16."""
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def as_words(value: Any) -> Any:
    """A list may be written as words: ``form: A A B A``, ``parts: drums bass``."""
    return _written(value).replace(",", " ").split() if is_plain(value) else value


def as_list(value: Any) -> Any:
    """A single value stands for a list of one; commas part several: ``below, enclosure``."""
    if not is_plain(value):
        return value
    return [part.strip() for part in _written(value).split(",") if part.strip()]


@dataclass(frozen=True)
class AlsoText:
    """A list or a group of fields that may also be written in a word or a line of them, of which a
    function makes what is meant."""

    taken_apart: Callable[[Any], Any]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return no_info_before_validator_function(self.taken_apart, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> Json:
        plain = handler(schema)
        return {"anyOf": [plain, *_short_forms(plain, self.taken_apart, handler)]}


_MOST_NUMBERS = 64


def _needs_only_kind(place: str, handler: GetJsonSchemaHandler) -> bool:
    """Whether a group of fields is whole with its kind alone."""
    return set(handler.resolve_ref_schema({"$ref": place}).get("required", [])) <= {"kind"}


def _short_forms(
    plain: dict[str, Any], taken_apart: Callable[[Any], Any], handler: GetJsonSchemaHandler
) -> list[dict[str, Any]]:
    """The schema of what stands for a list or a group of fields in a word or a line of words.

    Where the words are known, they are in it: as patterns, which allow just what is read.
    """
    kinds = plain.get("discriminator", {}).get("mapping")
    if kinds:
        alone = [kind for kind, place in kinds.items() if _needs_only_kind(place, handler)]
        return [{"type": "string", "enum": alone}]
    items = plain.get("items", {})
    words = items.get("enum") or ([items["const"]] if "const" in items else None)
    one = "|".join(re.escape(str(word)).replace("\\ ", " ") for word in words or ())
    if items.get("type") == "integer":
        low = items.get("minimum", items.get("ge", 0))
        high = items.get("maximum", items.get("le"))
        small = high is not None and high - low <= _MOST_NUMBERS
        one = "|".join(map(str, range(low, high + 1))) if small else "0*[1-9][0-9]*"
    if not one:
        return [{"type": ["string", "number"]}]
    pattern = rf"^[\s,]*((?:{one})([\s,]+|$))*$"
    if taken_apart is as_list:
        pattern = rf"^\s*((?:{one})?\s*(,\s*|$))*$"
    return [{"type": "string", "pattern": pattern}, *([items] if items.get("type") == "integer" else [])]


@dataclass(frozen=True)
class AlsoOne:
    """A list of groups of fields; one group alone stands for a list of one."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return no_info_before_validator_function(
            lambda value: [value] if isinstance(value, dict) else value, handler(source)
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> Json:
        several = handler(schema)
        return {"anyOf": [several, several["items"]]}


@dataclass(frozen=True, eq=False)
class AlsoWords:
    """A value of some ``kind``, in whose place words may stand for others."""

    kind: Any
    words: Mapping[str, Any]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        def read(value: Any, otherwise: Callable[[Any], Any]) -> Any:
            word = value.strip() if isinstance(value, str) else ""
            return self.words[word] if word in self.words else otherwise(value)

        return no_info_wrap_validator_function(read, handler.generate_schema(self.kind))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> Json:
        return {"anyOf": [handler(schema), {"type": "string", "enum": list(self.words)}]}


@dataclass(frozen=True, eq=False)
class OneOf:
    """A text that is one of some words, which stand in a table elsewhere."""

    words: Iterable[str]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return literal_schema(list(self.words))


@dataclass(frozen=True)
class _AlsoNumber:
    """What ``_text`` takes, told to an editor."""

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> Json:
        return {**handler(schema), "type": ["string", "number"]}


AS_WORDS, AS_LIST = AlsoText(as_words), AlsoText(as_list)
Text = Annotated[str, BeforeValidator(_text), _AlsoNumber()]
Whole = Annotated[int, BeforeValidator(_whole)]
Number = Annotated[float, BeforeValidator(_no_switch), Field(allow_inf_nan=False)]


class _SchemaWords(GenerateJsonSchema):
    """Limits in the words of JSON Schema.

    pydantic checks the limits of a value that a validator or ``| None`` is wrapped round in steps of
    their own, and copies its own names of them (``ge``) into the schema, where they mean nothing.
    """

    def generate_inner(self, schema: Any) -> Json:
        words = self.ValidationsMapping.numeric
        return {words.get(name, name): value for name, value in super().generate_inner(schema).items()}


class Fields(BaseModel):
    """Base of all groups of fields: unknown names are refused."""

    # Built at their first use: most of the groups are parts of others and never used alone.
    model_config = ConfigDict(defer_build=True, extra="forbid", frozen=True)

    @classmethod
    def model_json_schema(cls, *args: Any, **options: Any) -> Json:
        return super().model_json_schema(*args, **{"schema_generator": _SchemaWords, **options})


class NamesItsKind(ABC):
    """A group of fields whose model depends on what is written in it."""

    @abstractmethod
    def model_of(self, written: Any) -> type[Fields]:
        """The model of a group as it is written."""


class EitherFields(Fields):
    """A group in which exactly one of the fields that ``either`` names is written."""

    either: ClassVar[tuple[str, ...]]

    @model_validator(mode="after")
    def _has_one_of_them(self) -> Self:
        if len(self.model_fields_set.intersection(self.either)) != 1:
            names = " and ".join(f"'{name}'" for name in self.either)
            raise PydanticCustomError("either", "exactly one of {names} is written", {"names": names})
        return self

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> Json:
        written = handler(schema)
        handler.resolve_ref_schema(written)["oneOf"] = [{"required": [name]} for name in cls.either]
        return written


def schema_of(model: type[Fields]) -> Json:
    """The JSON Schema (draft 2020-12) of a file that a model describes."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **model.model_json_schema()}
