"""A phrase in every position."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from genex.exercises.families import Study
from genex.exercises.field_kinds import Text, Whole
from genex.exercises.registry import register


@register
class Positions(Study):
    """One phrase in every position where it can be played."""

    composed_by = "genex.compose.positions:phrase_in_every_position"

    kind: Literal["positions"] = "positions"
    phrase: Text | None = Field(
        default=None,
        description="MIDI file with the phrase, relative to the recipe; else one is written.",
        examples=["phrase.mid"],
    )
    level: Whole = Field(default=2, ge=1, le=6, description="Level of a phrase that is written.")

    def files(self) -> dict[str, str]:
        return {} if self.phrase is None else {"phrase": self.phrase}
