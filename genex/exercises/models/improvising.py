"""Improvising tasks: somebody shows it within the limits, then the class plays in turn."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from genex.exercises.exercise import ChartFacts, Exercise, Fault, refusals
from genex.exercises.families import WITHOUT_GUIDE, Placed
from genex.exercises.models.over_the_chart import Aiming
from genex.exercises.registry import register
from genex.text.field_kinds import AS_WORDS, Text, Whole
from genex.theory import NoteName

Choice = Literal["three", "five", "chord tones", "scale"]


class InTurn(Exercise):
    """A demonstration over the form, then the form again and again with nobody in the lead."""

    has_own_chart = True
    hears_tempo = True
    is_full = True
    usual_parts = WITHOUT_GUIDE
    usual_outputs = ("midi", "loop", "tab", "captions", "handout")
    usual_blocks = ("chart", "task", "care")

    demonstrations: Whole = Field(default=1, ge=0, le=4, description="Choruses that are played to you.")
    turns: Whole = Field(
        default=2, ge=1, le=24, description="Empty choruses after them, to play in turn."
    )


@register
class Improvise(InTurn, Placed):
    """Improvising within limits: a demonstration, then empty choruses to play in turn."""

    composed_by = "genex.lines.improvise:improvise"

    kind: Literal["improvise"] = "improvise"
    notes: Choice = Field(
        default="three",
        description="What may be played: three or five notes that suit the chart, or more of them.",
    )
    tones: Annotated[tuple[Text, ...], AS_WORDS] | None = Field(
        default=None, description="Your own choice of notes instead.", examples=["G Bb C"]
    )
    rhythm: Literal["free", "given"] = Field(
        default="free", description="With a given rhythm only the notes are free."
    )
    level: Whole = Field(default=2, ge=1, le=6, description="Level of the demonstration's rhythms.")

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        yield from super().faults(chart)
        for tone in self.tones or ():
            yield from refusals(NoteName.parse, tone, "tones")
        if self.tones is not None and len(set(self.tones)) < 2:
            yield Fault("one note alone is no choice", "name two or more, such as G Bb C", ("tones",))


@register
class Aims(InTurn, Aiming):
    """A chart of targets to aim at: a demonstration, then empty choruses to play in turn."""

    composed_by = "genex.lines.improvise:aims"

    kind: Literal["aims"] = "aims"
