"""Scales over the changes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, Self

from pydantic import Field

from genex.exercises.exercise import ChartFacts, Fault, refusals
from genex.exercises.families import Running
from genex.exercises.field_kinds import Text
from genex.exercises.registry import register
from genex.theory import Key, find_scale, parse_chord, transpose_chord


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
        played = list(dict.fromkeys(chord.plain_symbol for chord in chart.chords))
        for symbol, name in self.scales.items():
            no_chord = list(refusals(parse_chord, symbol, "scales", symbol, of_key=True))
            yield from no_chord
            if not no_chord and parse_chord(symbol).plain_symbol not in played:
                yield Fault(
                    f"'scales' names {symbol}, which is not in the chart",
                    f"write one of its chords: {' '.join(played)}",
                    ("scales", symbol),
                    of_key=True,
                )
            yield from refusals(find_scale, name, "scales", symbol)

    def in_key(self, source: Key, target: Key) -> Self:
        moved = {
            transpose_chord(parse_chord(symbol), source, target).symbol: name
            for symbol, name in self.scales.items()
        }
        return self.model_copy(update={"scales": moved})
