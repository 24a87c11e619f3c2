"""What the fields of recipes are made of: kinds of values, and the base of all groups."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field


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


Text = Annotated[str, BeforeValidator(_text)]
Whole = Annotated[int, BeforeValidator(_no_switch)]
Number = Annotated[float, BeforeValidator(_no_switch), Field(allow_inf_nan=False)]


class Fields(BaseModel):
    """Base of all groups of fields: unknown names are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)
