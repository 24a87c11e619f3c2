"""Lines over the recipe's own chart."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal, Self

from pydantic import Field

from genex.exact import Fraction
from genex.exercises.exercise import ChartFacts, Fault, not_played, refusals
from genex.exercises.families import Placed, Rhythm, Running
from genex.exercises.registry import register
from genex.text.field_kinds import AS_LIST, Text, Whole
from genex.theory import Key, find_scale, parse_chord, transpose_chord

Target = Literal["root", "third", "fifth", "seventh", "ninth", "guide"]
Approach = Literal[
    "scale", "below", "above", "double below", "double above", "enclosure", "slide up", "slide down"
]


@register
class Arpeggio(Running):
    """The arpeggio of each chord, up and down in one position, in time with the changes."""

    composed_by = "genex.lines.arpeggio:arpeggio_exercise"

    kind: Literal["arpeggio"] = "arpeggio"


@register
class Changes(Running):
    """One line of chord tones that goes on to the nearest tone when the chord changes."""

    composed_by = "genex.lines.changes:arpeggio_line"

    kind: Literal["changes"] = "changes"
    moving: bool = Field(default=False, description="The hand moves from form to form.")
    falling: bool = Field(default=False, description="Begin at the top and go down.")


class Aiming(Placed):
    """Aims at a chosen chord tone on every change."""

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


@register
class Targets(Aiming):
    """A chosen chord tone on every change, reached by an approach."""

    composed_by = "genex.lines.targets:target_line"

    kind: Literal["targets"] = "targets"


@register
class Scales(Running):
    """One scale line through the changes that keeps its direction."""

    composed_by = "genex.lines.scale_lines:scale_line"

    kind: Literal["scales"] = "scales"
    three_a_string: bool = Field(default=False, description="Three notes on every string.")
    falling: bool = Field(default=False, description="Begin at the top and go down.")
    scales: dict[Text, Text] = Field(
        default={}, description="Other scales by chord: {G7: altered}.", examples=[{"G7": "altered"}]
    )

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        yield from super().faults(chart)
        for symbol, name in self.scales.items():
            yield from not_played(parse_chord, symbol, chart, "scales", symbol)
            yield from refusals(find_scale, name, "scales", symbol)

    def in_key(self, source: Key, target: Key) -> Self:
        moved = {
            transpose_chord(parse_chord(symbol), source, target).symbol: name
            for symbol, name in self.scales.items()
        }
        return self.model_copy(update={"scales": moved})


@register
class Etude(Placed):
    """An improvisation written out, from the vocabulary of a level."""

    composed_by = "genex.lines.etude:etude"
    other_from_bpm = Fraction(200)  # phrases are longer where it is fast
    begins_apart = True

    kind: Literal["etude"] = "etude"
    level: Whole = Field(default=3, ge=1, le=6, description="1 few chord tones … 6 through the changes.")
    bars: Whole | None = Field(
        default=None,
        ge=1,
        le=16,
        description="Bars of every phrase; 2, 4 and 8 as the form has it if left away.",
    )
    slides: bool = Field(default=True, description="Some held notes are slid into.")
