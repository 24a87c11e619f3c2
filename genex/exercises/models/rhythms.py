"""Studies of rhythm, played on one note over a chart of their own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from pydantic import Field

from genex.exercises.exercise import ChartFacts, Fault, refusals
from genex.exercises.families import Study
from genex.exercises.registry import register
from genex.text.field_kinds import Text, Whole
from genex.theory import Pitch

AccentedRhythm = Literal["eighths", "triplets", "sixteenths"]
Ratio = Literal["3:2", "2:3", "4:3", "3:4"]


class OneNote(Study):
    """Is played on one note, with the click."""

    needs_chords = False
    usual_parts = ("exercise", "click")
    usual_outputs = ("midi", "loop", "tab", "handout")
    usual_blocks = ("care", "lines")

    note: Text | None = Field(
        default=None,
        description="The note, such as G3; the tonic in the middle of the neck if left away.",
        examples=["G3"],
    )

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        if self.note is not None:
            yield from refusals(Pitch.parse, self.note, "note")


@register
class Reading(OneNote):
    """Rhythms to read on one note: a page of a level, in the rhythms of the feel."""

    composed_by = "genex.lines.rhythm_reading:reading"

    kind: Literal["reading"] = "reading"
    level: Whole = Field(
        default=1, ge=1, le=6, description="1 on the beat … 6 in all cells of the feel."
    )
    page: Whole = Field(default=1, ge=1, le=500, description="Another number is another page.")
    bars: Whole = Field(default=16, ge=2, le=64, description="Bars of the page.")


@register
class Subdivisions(OneNote):
    """The beat divided on one note, step by step: one to a beat, two, three and more."""

    composed_by = "genex.lines.rhythm_studies:subdivisions"
    swings = False

    kind: Literal["subdivisions"] = "subdivisions"
    lowest: Whole = Field(default=1, ge=1, le=6, description="Notes to a beat at the bottom.")
    highest: Whole = Field(default=4, ge=1, le=6, description="Notes to a beat at the top.")
    order: Literal["up", "down", "up and down"] = Field(
        default="up and down", description="The way through the ladder."
    )
    bars: Whole = Field(default=1, ge=1, le=8, description="Bars of each step.")

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        yield from super().faults(chart)
        if self.lowest > self.highest:
            yield Fault(
                f"the ladder begins at {self.lowest} to a beat and ends below that, at {self.highest}",
                "write the smaller number as 'lowest', and 'order: down' to begin at the top",
                ("lowest",),
            )
        elif chart.meter.is_compound and self.lowest == self.highest == 5:
            yield Fault(
                f"nobody plays five to a dotted quarter, the beat of {chart.meter}",
                "write another number, or a meter such as 4/4",
                ("lowest",),
            )


@register
class Accents(OneNote):
    """Even notes whose accent moves from place to place, or comes every so many notes."""

    composed_by = "genex.lines.rhythm_studies:accents"
    swings = False

    kind: Literal["accents"] = "accents"
    rhythm: AccentedRhythm = Field(default="sixteenths", description="The note value played throughout.")
    every: Whole | None = Field(
        default=None,
        ge=2,
        le=9,
        description="Notes from accent to accent; if left away the accent moves through the beat.",
    )
    bars: Whole = Field(default=2, ge=1, le=8, description="Bars for each place of the accent.")


@register
class Polyrhythm(OneNote):
    """Two rhythms against each other: the beats, the count, the one over the other, both in one line."""

    composed_by = "genex.lines.rhythm_studies:polyrhythm"
    swings = False

    kind: Literal["polyrhythm"] = "polyrhythm"
    ratio: Ratio = Field(
        default="3:2", description="Notes of the line, and the beats that they share evenly."
    )
    bars: Whole = Field(default=2, ge=1, le=8, description="Bars of each stage.")

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        yield from super().faults(chart)
        line, beats = map(int, self.ratio.split(":"))
        meter = chart.meter
        whole = len(meter.pulses) * meter.pulse_beats == meter.bar_beats
        if not whole or len(meter.pulses) % beats:
            yield Fault(
                f"{self.ratio} goes over {beats} beats, which do not fill a bar of {meter}",
                f"write 'meter: {beats if beats > 2 else 4}/4'",
                ("ratio",),
            )
        elif meter.is_compound and line != 3:
            yield Fault(
                f"{self.ratio} cannot be written plainly in {meter}",
                f"write 'meter: {beats}/4', or a ratio of three notes",
                ("ratio",),
            )
