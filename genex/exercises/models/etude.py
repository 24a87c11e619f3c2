"""An improvisation written out."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from genex.exercises.families import Placed
from genex.exercises.field_kinds import Whole
from genex.exercises.registry import register


@register
class Etude(Placed):
    """An improvisation written out, from the vocabulary of a level."""

    composed_by = "genex.lines.etude:etude"
    hears_tempo = True  # phrases are longer where it is fast

    kind: Literal["etude"] = "etude"
    level: Whole = Field(default=3, ge=1, le=6, description="1 few chord tones … 6 through the changes.")
    bars: Whole | None = Field(
        default=None,
        ge=1,
        le=16,
        description="Bars of a phrase; 2 if left away, 4 in fast tunes.",
    )
    slides: bool = Field(default=True, description="Some held notes are slid into.")
