"""Patterns over shapes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from pydantic import Field

from genex.exercises.exercise import ChartFacts, Fault, refusals
from genex.exercises.families import OverShapes, Strings
from genex.exercises.field_kinds import Text
from genex.exercises.registry import register
from genex.fretboard import pattern


@register
class ShapeSequence(OverShapes):
    """A pattern over each chord's shapes, or along one or two strings."""

    composed_by = "genex.lines.study:sequence_study"

    kind: Literal["sequence"] = "sequence"
    pattern: Text = Field(
        default="groups of three", description="Name of the pattern.", examples=["groups of three"]
    )
    strings: Strings = Field(
        default=(),
        description="One or two strings, for patterns along strings.",
        examples=["2 3"],
    )

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        yield from refusals(pattern, self.pattern, "pattern")
        yield from super().faults(chart)
