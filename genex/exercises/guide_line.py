"""The guide-tone line: what a recipe says of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from pydantic import Field

from genex.exercises.exercise import Fault
from genex.exercises.families import Strings, wrong_limits
from genex.text.field_kinds import Fields, Text, Whole
from genex.theory import Pitch

Start = Literal["third", "seventh"]
GuideRhythm = Literal["whole", "half", "anticipated"]
Contour = Literal["free", "falling", "rising"]


class GuideLine(Fields):
    """The guide-tone line: thirds and sevenths through the changes."""

    start: Start | None = Field(default=None, description="The first note; left away, the smoother one.")
    rhythm: GuideRhythm = Field(
        default="whole",
        description="How often the line strikes: once a bar, twice, or ahead of the change.",
    )
    voices: Literal[1, 2] = Field(
        default=1, description="One line, or two that one hand holds together."
    )
    contour: Contour = Field(
        default="free", description="The direction preferred where the changes leave a choice."
    )
    moving: bool = Field(
        default=False, description="Over a chord or a vamp that stays the line moves, bar by bar."
    )
    position: Whole | None = Field(default=None, ge=0, le=24, description="Fret of the first finger.")
    strings: Strings | None = Field(
        default=None,
        description="Strings to stay on, 1 is the highest; two voices share them.",
        examples=["3 4"],
    )
    low: Text | None = Field(
        default=None, description="Lowest note of the line, such as D3.", examples=["D3"]
    )
    high: Text | None = Field(
        default=None, description="Highest note of the line, such as A4.", examples=["A4"]
    )
    sound: Text = Field(
        default="clarinet", description="Instrument that plays the line.", examples=["flute"]
    )

    @property
    def limits(self) -> tuple[int | None, int | None]:
        """Lowest and highest note as MIDI numbers. Raises NotationError."""
        low, high = (None if name is None else Pitch.parse(name).midi for name in (self.low, self.high))
        return low, high

    def faults(self) -> Iterator[Fault]:
        """Limits that are no pitches, or leave no room between them."""
        yield from wrong_limits(
            self.low, self.high, "the guide's", "leave it an octave or more, such as D3 to A4"
        )
