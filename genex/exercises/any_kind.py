"""The field of a recipe that holds an exercise of any kind, by the name that is written in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Union

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler, TypeAdapter
from pydantic_core import PydanticKnownError
from pydantic_core.core_schema import CoreSchema, no_info_plain_validator_function

from genex.exercises.exercise import Exercise
from genex.exercises.registry import find_kind, kind_names, kinds
from genex.text.field_kinds import EitherFields, NamesItsKind


def _exercise(value: Any) -> Exercise:
    """The exercise that is written: ``arpeggio`` is short for ``{kind: arpeggio}``.

    Only the model of the kind that is named is built. Errors are those that pydantic has for a
    union told apart by a field.
    """
    if isinstance(value, Exercise):
        return value
    if isinstance(value, str):
        value = {"kind": value}
    if not isinstance(value, Mapping):
        raise PydanticKnownError("model_attributes_type")
    if "kind" not in value:
        raise PydanticKnownError("union_tag_not_found", {"discriminator": "'kind'"})
    kind = value["kind"]
    model = find_kind(kind) if isinstance(kind, str) else None
    if model is None:
        expected = ", ".join(f"'{name}'" for name in kind_names())
        context = {"discriminator": "'kind'", "tag": str(kind), "expected_tags": expected}
        raise PydanticKnownError("union_tag_invalid", context)
    return model.model_validate(value)


@dataclass(frozen=True)
class _ByKind(NamesItsKind):
    """The validator and the JSON Schema of an exercise, made from the kinds that there are."""

    def model_of(self, written: Any) -> type[Exercise]:
        kind = written.get("kind") if isinstance(written, Mapping) else None
        return find_kind(str(kind)) or Exercise

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return no_info_plain_validator_function(_exercise)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        models = kinds()
        union: Any = Annotated[Union[tuple(models.values())], Field(discriminator="kind")]  # noqa: UP007
        alone = [name for name, model in models.items() if not asks_for_more(model)]
        return {"anyOf": [handler(TypeAdapter(union).core_schema), {"type": "string", "enum": alone}]}


def asks_for_more(model: type[Exercise]) -> bool:
    """Whether a kind needs more than its name."""
    required = any(field.is_required() for field in model.model_fields.values())
    return required or issubclass(model, EitherFields)


AnyExercise = Annotated[Exercise, _ByKind()]
