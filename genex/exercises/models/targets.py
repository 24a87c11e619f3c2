"""Target tones and ways to reach them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from genex.exercises.exercise import ChartFacts, Fault
from genex.exercises.families import Placed, Rhythm
from genex.exercises.field_kinds import AS_LIST, Whole
from genex.exercises.registry import register

Target = Literal["root", "third", "fifth", "seventh", "ninth", "guide"]
Approach = Literal[
    "scale", "below", "above", "double below", "double above", "enclosure", "slide up", "slide down"
]


@register
class Targets(Placed):
    """A chosen chord tone on every change, reached by an approach."""

    composed_by = "genex.lines.targets:target_line"

    kind: Literal["targets"] = "targets"
    rhythm: Rhythm = Field(default="eighths", description="The note value between the targets.")
    target: Target = Field(default="third", description="The tone aimed at.")
    approaches: Annotated[tuple[Approach, ...], AS_LIST] = Field(
        default=("below",),
        description="Ways to reach it; one is drawn for each target.",
        examples=["below, enclosure"],
    )
    density: Whole = Field(
        default=2, ge=1, le=3, description="1 holds the target, 2 plays on the beats, 3 never rests."
    )
    beat: Whole = Field(default=1, ge=1, le=12, description="Beat of the change that has the target.")

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        yield from super().faults(chart)
        beats = len(chart.meter.pulses)
        if self.beat > beats:
            yield Fault(
                f"there is no beat {self.beat} in {chart.meter}",
                f"write a beat from 1 to {beats}",
                ("beat",),
            )
