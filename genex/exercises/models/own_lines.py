"""Lines of the teacher's own, typed into the recipe or in a file beside it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, Self

from pydantic import Field, PrivateAttr

from genex.exercises.exercise import ChartFacts, Exercise, Fault, refusals
from genex.exercises.families import Cycle, Placed, Study
from genex.exercises.registry import register
from genex.text.field_kinds import EitherFields, Text, Whole
from genex.theory import Key, parse_chord, transpose_chord

PickingRule = Literal["alternate", "economy"]


class Typed(Exercise):
    """Has a line that is typed in, over the recipe's chart as it is written."""

    abc: Text | None = Field(
        default=None,
        description="The line in ABC.",
        examples=["D2 F2 A2 c2 | B6 z2 |"],
    )
    tab: Text | None = Field(
        default=None,
        description="The line as tab, as genex prints it or typed.",
        examples=["e |--5--7--|"],
    )
    number: Whole | None = Field(
        default=None, ge=1, description="Of the tune, part or track, where a file has several."
    )
    octave: Whole = Field(
        default=0, ge=-3, le=3, description="Octaves that it sounds above what is written; -1 below."
    )
    _written_in: Key | None = PrivateAttr(default=None)

    @property
    def written_in(self) -> Key | None:
        """The key of the recipe that the line is written for; None where it is not moved."""
        return self._written_in

    def only_one_of(self, *names: str) -> Iterator[Fault]:
        """A fault where two of the places that a line may stand in have one."""
        written = [name for name in names if getattr(self, name) is not None]
        if len(written) > 1:
            yield Fault(
                f"'{written[0]}' and '{written[1]}' both have a phrase", "keep one", (written[1],)
            )

    def in_key(self, source: Key, target: Key) -> Self:
        moved = super().in_key(source, target).model_copy()
        moved._written_in = source
        return moved


class Picked(Typed):
    """May have strokes of the plectrum by a rule."""

    strokes: PickingRule | None = Field(
        default=None,
        description="Strokes of the plectrum: in turn, or on in their direction to the next string.",
    )


class Own(EitherFields, Picked):
    """Needs a line, and has it from one of three places."""

    either = ("abc", "tab", "file")

    file: Text | None = Field(
        default=None,
        description="File with the line, relative to the recipe: .abc, .tab, .txt, MusicXML or MIDI.",
        examples=["lick.mid"],
    )
    rest_bars: Whole = Field(default=0, ge=0, le=32, description="Bars of rest each time after it.")

    def files(self) -> dict[str, str]:
        return {} if self.file is None else {"file": self.file}


@register
class OwnLine(Own, Placed):
    """A line of your own over the chart, from the top of each chorus, as often as it fits in."""

    composed_by = "genex.compose.own_lines:line_over_the_chart"

    kind: Literal["line"] = "line"


@register
class Lick(Own, Placed, Study):
    """A lick of your own over every chord of the chart, degree for degree, or in all twelve keys."""

    composed_by = "genex.compose.own_lines:lick_over_chords"

    kind: Literal["lick"] = "lick"
    chord: Text | None = Field(
        default=None,
        description="The chord that it is typed over; the one in its text, or the chart's first.",
        examples=["Dm7"],
    )
    cycle: Cycle | None = Field(default=None, description="As it is in all twelve keys, in this order.")
    times: Whole = Field(default=1, ge=1, le=32, description="How often it is played each time.")

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        yield from super().faults(chart)
        if self.chord is not None:
            yield from refusals(parse_chord, self.chord, "chord")

    def in_key(self, source: Key, target: Key) -> Self:
        moved = super().in_key(source, target)
        if self.chord is None:
            return moved
        symbol = transpose_chord(parse_chord(self.chord), source, target).symbol
        return moved.model_copy(update={"chord": symbol})
