"""What the fields of recipes are made of: kinds of values, and the base of all groups."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
)
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core.core_schema import CoreSchema, no_info_before_validator_function


def _text(value: Any) -> Any:
    """Numbers are text where text is asked for: a title may be 1999."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return str(value)
    return value


def _no_switch(value: Any) -> Any:
    """``true`` is not a number, whatever Python thinks."""
    return "yes or no" if isinstance(value, bool) else value


def as_words(value: Any) -> Any:
    """A list may be written as words: ``form: A A B A``, ``parts: drums bass``."""
    if isinstance(value, (str, int, float)) and not isinstance(value, bool):
        return [word for word in str(value).replace(",", " ").split() if word]
    return value


def as_list(value: Any) -> Any:
    """A single value stands for a list of one; commas part several: ``below, enclosure``."""
    if isinstance(value, (str, int, float)) and not isinstance(value, bool):
        return [part.strip() for part in str(value).split(",") if part.strip()]
    return value


@dataclass(frozen=True)
class AlsoText:
    """A list or a group of fields that may also be written in a word or a line of them, of which a
    function makes what is meant."""

    taken_apart: Callable[[Any], Any]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return no_info_before_validator_function(self.taken_apart, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        plain = handler(schema)
        return {"anyOf": [plain, {"type": ["string", "number"]}]}


AS_WORDS, AS_LIST = AlsoText(as_words), AlsoText(as_list)
Text = Annotated[str, BeforeValidator(_text)]
Whole = Annotated[int, BeforeValidator(_no_switch)]
Number = Annotated[float, BeforeValidator(_no_switch), Field(allow_inf_nan=False)]


class _SchemaWords(GenerateJsonSchema):
    """Limits in the words of JSON Schema.

    pydantic checks the limits of a value that a validator or ``| None`` is wrapped round in steps of
    their own, and copies its own names of them (``ge``) into the schema, where they mean nothing.
    """

    def generate_inner(self, schema: Any) -> dict[str, Any]:
        words = self.ValidationsMapping.numeric
        return {words.get(name, name): value for name, value in super().generate_inner(schema).items()}


class Fields(BaseModel):
    """Base of all groups of fields: unknown names are refused."""

    # Built at their first use: most of the groups are parts of others and never used alone.
    model_config = ConfigDict(defer_build=True, extra="forbid", frozen=True)

    @classmethod
    def model_json_schema(cls, *args: Any, **options: Any) -> dict[str, Any]:
        return super().model_json_schema(*args, **{"schema_generator": _SchemaWords, **options})
