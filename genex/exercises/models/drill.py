"""Recognition drills."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from genex.exercises.families import Study
from genex.exercises.field_kinds import AS_LIST, Text, Whole
from genex.exercises.registry import register

Ask = Literal["interval", "chord", "degree", "progression"]


@register
class Drill(Study):
    """A recognition drill: question, silence to name it, confirmation in sound."""

    composed_by = "genex.lines.drills:drill"
    needs_chords = False
    asks = True
    usual_parts = ("exercise",)
    usual_outputs = ("midi", "loop", "answers", "captions")
    usual_blocks = ("care",)  # what is asked stands in the answer key

    kind: Literal["drill"] = "drill"
    ask: Ask = Field(description="What is to be recognised.")
    items: Annotated[tuple[Text, ...], AS_LIST] | None = Field(
        default=None,
        description="What is asked; the usual ones if left away.",
        examples=["minor third, major third"],
    )
    rounds: Whole = Field(default=2, ge=1, le=20, description="How often each item is asked.")
    direction: Literal["ascending", "descending", "together"] = Field(
        default="ascending", description="How intervals are played."
    )
    think_bars: Whole = Field(default=1, ge=1, le=8, description="Bars of silence after a question.")
    position: Whole = Field(default=5, ge=1, le=15, description="Fret of the first finger.")
