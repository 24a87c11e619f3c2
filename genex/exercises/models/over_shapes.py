"""Studies of shapes and positions, over a chart of their own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from pydantic import Field

from genex.exercises.exercise import ChartFacts, Fault, refusals
from genex.exercises.families import Even, OverShapes, Rhythm, Strings, Study
from genex.exercises.models.own_lines import Typed
from genex.exercises.registry import register
from genex.fretboard import pattern
from genex.fretboard.sequences import INVERSIONS
from genex.text.field_kinds import Text, Whole


@register
class Shapes(Even, OverShapes):
    """The practice path of each chord's shapes: lowest root, up, down, back to the root."""

    composed_by = "genex.lines.study:practice_path"

    kind: Literal["shapes"] = "shapes"


@register
class ShapeSequence(OverShapes):
    """A pattern over each chord's shapes, or along one or two strings."""

    composed_by = "genex.lines.study:sequence_study"

    kind: Literal["sequence"] = "sequence"
    pattern: Text = Field(
        default="groups of three", description="Name of the pattern.", examples=["groups of three"]
    )
    rhythm: Rhythm | None = Field(
        default=None,
        description="The note value; triplets for groups of three, else eighths, if left away.",
    )
    strings: Strings = Field(
        default=(),
        description="One or two strings, for patterns along strings.",
        examples=["2 3"],
    )

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        wrong = list(refusals(pattern, self.pattern, "pattern"))
        yield from wrong
        if not wrong and self.scale is not None and pattern(self.pattern).name == INVERSIONS:
            yield Fault(
                "only chords have inversions, and 'scale' asks for a scale",
                "leave the scale out, or write 'pattern: seventh chords'",
                ("scale",),
            )
        yield from super().faults(chart)


@register
class Tour(Even, OverShapes):
    """All positions of each chord up the neck, each up and down, a bar of rest between."""

    composed_by = "genex.lines.study:practice_path"

    kind: Literal["tour"] = "tour"
    rest_bars: Whole = Field(default=1, ge=0, le=8, description="Bars of rest after each shape.")


@register
class Positions(Typed, Study):
    """One phrase in every position where it can be played."""

    composed_by = "genex.compose.phrase_positions:phrase_in_every_position"

    kind: Literal["positions"] = "positions"
    phrase: Text | None = Field(
        default=None,
        description="File with the phrase, relative to the recipe; else one is written.",
        examples=["phrase.mid"],
    )
    level: Whole = Field(default=2, ge=1, le=6, description="Level of a phrase that is written.")

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        yield from super().faults(chart)
        yield from self.only_one_of("abc", "tab", "phrase")

    def files(self) -> dict[str, str]:
        return {} if self.phrase is None else {"phrase": self.phrase}
