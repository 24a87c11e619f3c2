"""What every kind of exercise is made of: its fields, what is usual with it, what it checks itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from pydantic import ConfigDict, Field

from genex.errors import InputError
from genex.exact import Fraction
from genex.exercises.recipe_words import (
    DEFAULT_OUTPUTS,
    PLAYERS,
    SHEET_BLOCKS,
    BlockName,
    OutputName,
    PartName,
)
from genex.score import Meter
from genex.text.field_kinds import Fields, Text
from genex.theory import Chord, Key


@dataclass(frozen=True)
class ChartFacts:
    """What the fields of an exercise are compared with: the chart's meter, and every chord played."""

    meter: Meter
    chords: tuple[Chord, ...]


@dataclass(frozen=True)
class Fault:
    """What is wrong in an exercise, and what to write instead.

    path    the field, as seen from the exercise
    of_key  the name at the end of the path is wrong, not its value
    """

    message: str
    hint: str | None
    path: tuple[str, ...]
    of_key: bool = False


def refusals(
    read: Callable[[str], object], text: str, *path: str, of_key: bool = False
) -> Iterator[Fault]:
    """The fault of a text that ``read`` cannot read, if it is one."""
    try:
        read(text)
    except InputError as error:
        yield Fault(error.message, error.hint, path, of_key)


def not_played(
    read: Callable[[str], Chord], symbol: str, chart: ChartFacts, *path: str
) -> Iterator[Fault]:
    """The fault of a field's name in ``scales`` that has to be a chord of the chart."""
    faults = list(refusals(read, symbol, *path, of_key=True))
    yield from faults
    played = list(dict.fromkeys(chord.plain_symbol for chord in chart.chords))
    if not faults and read(symbol).plain_symbol not in played:
        yield Fault(
            f"'scales' names {symbol}, which is not in the chart",
            f"write one of its chords: {' '.join(played)}",
            path,
            of_key=True,
        )


def _kind_is_written(schema: dict[str, Any]) -> None:
    """``kind`` tells one exercise from another, so that it is asked for though a class knows its own."""
    schema["properties"]["kind"].pop("default", None)
    others = (name for name in schema.get("required", ()) if name != "kind")
    schema["required"] = ["kind", *others]


class Exercise(Fields):
    """Base of all kinds. A kind is a subclass with a ``kind`` of its own, ``composed_by`` and fields.

    composed_by    ``module:function``, loaded when the first one is composed. The function takes the
                   recipe's timeline, the exercise and a ``Player``, and returns a ``Part`` over that
                   timeline, or a ``StudyPlan`` with a chart of its own. It raises InputError
    has_own_chart  it plays over a chart of its own; the recipe's gives the chords
    hears_tempo    at another tempo it is another one, and not only faster or slower. One with a
                   chart of its own always is, for its chart has a tempo
    other_from_bpm  from this tempo on (quarter notes a minute) it is another one, else the same
    needs_chords   the recipe must have a chart
    asks           it asks something: there is an answer key
    is_full        it is full to its end: a take has one bar more, to come home
    over_bed       a recipe that names no feel has a quiet bed under it
    swings         it is played as the feel has it; else straight in any feel
    begins_apart   in a series it begins otherwise than those of its kind before it
    usual_parts, usual_outputs, usual_blocks   what a recipe that names none of them has: parts,
                   files, and blocks of the handout
    """

    model_config = ConfigDict(json_schema_extra=_kind_is_written)

    composed_by: ClassVar[str]
    has_own_chart: ClassVar[bool] = False
    hears_tempo: ClassVar[bool] = False
    other_from_bpm: ClassVar[Fraction | None] = None
    needs_chords: ClassVar[bool] = True
    asks: ClassVar[bool] = False
    is_full: ClassVar[bool] = False
    over_bed: ClassVar[bool] = False
    swings: ClassVar[bool] = True
    begins_apart: ClassVar[bool] = False
    usual_parts: ClassVar[tuple[PartName, ...]] = PLAYERS
    usual_outputs: ClassVar[tuple[OutputName, ...]] = DEFAULT_OUTPUTS
    usual_blocks: ClassVar[tuple[BlockName, ...]] = SHEET_BLOCKS

    kind: str
    sound: Text = Field(
        default="jazz guitar", description="Instrument that plays it.", examples=["piano"]
    )

    def faults(self, chart: ChartFacts) -> Iterator[Fault]:
        """What does not go together, or names what is not there. Extended by kinds."""
        return iter(())

    @classmethod
    def is_other_at(cls, tempo_bpm: Fraction) -> bool:
        """Whether a tempo in quarter notes a minute is one from which on it is another one."""
        return cls.other_from_bpm is not None and tempo_bpm >= cls.other_from_bpm

    def in_key(self, source: Key, target: Key) -> Self:
        """The exercise for the chart in another key; with chord symbols of its own, these moved."""
        return self

    def files(self) -> dict[str, str]:
        """``{field: name}`` of the files that it reads, which lie beside the recipe."""
        return {}
