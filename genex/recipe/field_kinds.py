"""What the fields of recipes are made of: kinds of values, and the base of all groups."""

from __future__ import annotations

import re
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


AS_WORDS, AS_LIST = AlsoText(as_words), AlsoText(as_list)
Text = Annotated[str, BeforeValidator(_text)]
Whole = Annotated[int, BeforeValidator(_no_switch)]
Number = Annotated[float, BeforeValidator(_no_switch), Field(allow_inf_nan=False)]


class Fields(BaseModel):
    """Base of all groups of fields: unknown names are refused."""

    # Built at their first use: most of the groups are parts of others and never used alone.
    model_config = ConfigDict(defer_build=True, extra="forbid", frozen=True)
