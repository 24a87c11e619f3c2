"""Chords to comp with, over the recipe's own chart."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from genex.exercises.exercise import ChartFacts, Exercise, Fault
from genex.exercises.families import Strings, wrong_limits
from genex.exercises.registry import register
from genex.text.field_kinds import AS_LIST, Text, Whole
from genex.theory import Pitch

GripKind = Literal["triad", "rootless", "shell", "drop 2", "drop 3", "open", "barre"]
CompingRhythm = Literal[
    "feel", "whole", "half", "quarters", "two and four", "off-beats", "charleston", "anticipated"
]


@register
class Grips(Exercise):
    """A chord grip on every change, voices and hand moving as little as they can, to comp with."""

    composed_by = "genex.lines.comping:grips_through"
    hears_tempo = True  # a strum takes its time whatever the tempo
    usual_parts = ("drums", "bass", "exercise")  # the student is the comper

    kind: Literal["grips"] = "grips"
    voicings: Annotated[tuple[GripKind, ...], AS_LIST] = Field(
        default=("drop 2",),
        min_length=1,
        description="Kinds of grips that may be taken, the first one preferred.",
        examples=["shell, drop 3"],
    )
    strings: Strings | None = Field(
        default=None, description="Strings to stay on, 1 is the highest.", examples=["2 3 4 5"]
    )
    position: Whole | None = Field(
        default=None, ge=0, le=15, description="Fret of the first finger that the hand stays near."
    )
    low: Text | None = Field(
        default=None, description="Lowest note that the top voice goes to.", examples=["B3"]
    )
    high: Text | None = Field(
        default=None, description="Highest note that the top voice goes to.", examples=["G4"]
    )
    moving: bool = Field(
        default=False, description="Over a chord that stays the grip moves on, bar by bar."
    )
    rhythm: CompingRhythm = Field(
        default="feel", description="When the chords are struck: as the feel does, or another way."
    )
    touch: Literal["strum", "pluck"] = Field(
        default="strum", description="Strummed down and up, or plucked at once by the fingers."
    )
    spread: Whole = Field(
        default=20, ge=10, le=40, description="Milliseconds that a strum takes over its strings."
    )

    @property
    def limits(self) -> tuple[int, int]:
        """Lowest and highest MIDI number of the top voice. Raises NotationError."""
        low = 0 if self.low is None else Pitch.parse(self.low).midi
        return low, 127 if self.high is None else Pitch.parse(self.high).midi

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        yield from wrong_limits(
            self.low, self.high, "the top voice's", "leave it an octave or more, such as B3 to A4"
        )
