"""Fields that several kinds of exercise have in common."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from genex.exercises.exercise import ChartFacts, Exercise, Fault, refusals
from genex.exercises.recipe_words import PLAYERS
from genex.text.field_kinds import AS_WORDS, Text, Whole
from genex.theory import Pitch, find_scale

Rhythm = Literal["quarters", "eighths", "triplets", "sixteenths", "dotted"]
Cycle = Literal[
    "fourths", "fifths", "chromatic", "chromatic down", "whole tones", "minor thirds", "major thirds"
]
Strings = Annotated[tuple[Annotated[Whole, Field(ge=1, le=12)], ...], AS_WORDS]
WITHOUT_GUIDE = tuple(name for name in PLAYERS if name != "guide")


def wrong_limits(low: str | None, high: str | None, whose: str, room: str) -> Iterator[Fault]:
    """Limits that are no pitches, or leave no room between them: ``room`` says what would."""
    wrong = [
        fault
        for field, name in (("low", low), ("high", high))
        if name is not None
        for fault in refusals(Pitch.parse, name, field)
    ]
    yield from wrong
    if wrong or low is None or high is None:
        return
    if Pitch.parse(low).midi >= Pitch.parse(high).midi:
        yield Fault(f"{whose} lowest note {low} does not lie below its highest, {high}", room, ("low",))


class Placed(Exercise):
    """Lies in one place on the neck."""

    position: Whole | None = Field(
        default=None, ge=0, le=24, description="Fret of the first finger; chosen to suit if left away."
    )
    form: Text | None = Field(
        default=None,
        description="Form of the first chord that gives the position: C, A, G, E or D.",
        examples=["E"],
    )
    strings: Strings | None = Field(
        default=None, description="Strings to stay on, 1 is the highest.", examples=["1 2 3"]
    )

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        if self.form is not None and self.position is not None:
            yield Fault("'form' and 'position' both say where the hand lies", "keep one", ("form",))


class Rested(Exercise):
    """May have rests at even distances."""

    rest_every: Whole = Field(
        default=0, ge=0, le=32, description="Every so many notes of a bar one is a rest; 0 for none."
    )


class Even(Rested):
    """Is played in one note value throughout."""

    rhythm: Rhythm = Field(default="eighths", description="The note value played throughout.")


class Running(Even, Placed):
    """Runs in one note value, in one place on the neck."""


class Study(Exercise):
    """Plays over a chart of its own, with a quiet bed under it."""

    has_own_chart = True
    hears_tempo = True
    over_bed = True
    usual_parts = WITHOUT_GUIDE


class OverShapes(Rested, Study):
    """Goes through the shapes of each chord."""

    forms: Annotated[tuple[Text, ...], AS_WORDS] | None = Field(
        default=None,
        description="Forms in playing order; all of them up the neck if left away.",
        examples=["E A"],
    )
    scale: Text | None = Field(
        default=None, description="A scale on each chord's root instead.", examples=["dorian"]
    )
    times: Whole = Field(default=1, ge=1, le=32, description="How often each shape is played.")
    rest_bars: Whole = Field(default=0, ge=0, le=8, description="Bars of rest after each shape.")
    cycle: Cycle | None = Field(default=None, description="The first chord in all twelve keys.")

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        if self.scale is not None:
            yield from refusals(find_scale, self.scale, "scale")
