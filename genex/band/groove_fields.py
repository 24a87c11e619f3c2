"""The fields of a groove file: names, types, limits, defaults and what each one means.

The JSON Schema that ``genex schema groove`` prints is made from these classes, so every description
here is read by users in their editor. Every file in ``grooves/`` is an example.
Patterns are read as ``pattern_notation.py`` says; ``groove_files.py`` makes a ``Groove`` of all.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import ConfigDict, Field, create_model

from genex.band.feel_timing import MAX_SWING_RATIO
from genex.band.groove import Clave
from genex.band.kit import BASSES, KIT_PROGRAMS, VOICES
from genex.band.playable_voicings import VOICING_STYLES
from genex.exercises import LineFamily
from genex.score.gm import INSTRUMENTS
from genex.text.field_kinds import (
    AS_LIST,
    AlsoOne,
    AlsoText,
    AlsoWords,
    EitherFields,
    Fields,
    Number,
    OneOf,
    Text,
    Whole,
    is_plain,
)

MAX_CHOICES = 64
PARTS = ("drums", "bass", "comping")

_SOME = Field(min_length=1, max_length=MAX_CHOICES)
_LEVEL = "Louder or softer by so many dB."
_ROOM = "How much room, 0 to 1."
Tempo = Annotated[Number, Field(ge=20, le=400)]
Level = Annotated[Number, Field(ge=-60, le=12)]
Share = Annotated[Number, Field(ge=0, le=1)]
Weight = Annotated[Number, Field(ge=0.01, le=1000)]


def _one_pattern(value: Any) -> Any:
    """One pattern alone needs no weight."""
    return {str(value): 1} if is_plain(value) else value


Patterns = Annotated[dict[Text, Weight], _SOME, AlsoText(_one_pattern)]


class TempoFields(Fields):
    """The tempos that the feel is made for, in beats a minute."""

    low: Tempo = Field(default=40.0, alias="from", description="The slowest.")
    high: Tempo = Field(default=300.0, alias="to", description="The fastest.")
    usual: Tempo | None = Field(
        default=None, description="Where a recipe names none; 110 or the middle if left away."
    )


_PLACE = Annotated[Number, Field(ge=-60, le=60)]


class EnsembleFields(Fields):
    """How the players lie about each other, in milliseconds; below 0 is ahead."""

    drift: Number = Field(
        default=4.0,
        ge=0,
        le=15,
        description="How far players drift about their place, slowly and mostly together.",
    )
    snare: _PLACE = Field(
        default=4.0, description="How far the snare's strokes lie behind the rest of the kit."
    )
    bass: _PLACE = Field(
        default=0.0, description="How far the bass lies behind the kit, its own 'behind' apart."
    )
    chords: _PLACE = Field(
        default=0.0, description="How far the chords lie behind the kit, their own 'behind' apart."
    )
    line: _PLACE = Field(
        default=0.0,
        description="How far a line lies behind the band; where eighths are swung, on the beat only. "
        "Where swing is by tempo, a soloist's delay comes to it.",
    )


class _PartFields(Fields):
    pan: Number = Field(default=0.0, ge=-1, le=1, description="-1 is left, 1 is right.")
    behind: Number = Field(
        default=0.0, ge=-30, le=30, description="Milliseconds behind the beat; below 0 ahead of it."
    )
    looseness: Number = Field(default=1.0, ge=0, le=3, description="0 is an exact grid, 1 is normal.")
    steady: Share = Field(
        default=0.0, description="How often a section keeps to a figure of its own, 0 to 1."
    )


class _Weighted(Fields):
    weight: Weight = Field(default=1.0, description="Drawn so much more often than one of 1.")


if TYPE_CHECKING:

    class StrokeFields(_Weighted):
        """One way to play a layer or a fill: for each thing that is struck its pattern."""

else:
    StrokeFields = create_model(
        "StrokeFields",
        __base__=_Weighted,
        __doc__="One way to play a layer or a fill: for each thing that is struck its pattern.",
        **{
            voice: (Text, Field(default="", description="A word a beat; 1 to 9 are loudness, . a rest."))
            for voice in VOICES
        },
    )


class DrumFields(_PartFields):
    """The drums: layers that sound together, and fills."""

    kit: Annotated[str, OneOf(KIT_PROGRAMS)] = Field(default="standard", description="The drum kit.")
    layers: Annotated[
        dict[Text, Annotated[tuple[StrokeFields, ...], _SOME, AlsoOne()]], Field(min_length=1)
    ] = Field(description="Layers by names of your own; of each one line is drawn.")
    fills: Annotated[tuple[StrokeFields, ...], Field(max_length=MAX_CHOICES), AlsoOne()] = Field(
        default=(),
        description="Bars that end a phrase, section or chorus, by size; a fill begins with its first "
        "stroke of a hand.",
    )
    crash: Annotated[str, OneOf(VOICES)] | None = Field(
        default=None, description="What is struck where a section begins."
    )
    crash_loudness: Whole = Field(
        default=7, alias="crash loudness", ge=1, le=9, description="How loud that is."
    )
    level: Level = Field(default=-4.0, description=_LEVEL)
    room: Share = Field(default=0.18, description=_ROOM)


class WalkingFields(Fields):
    """A walking bass."""

    skips: Share = Field(default=0.1, description="The chance of a skipped eighth in a bar.")


class BassFields(_PartFields, EitherFields):
    """The bass: walking, or patterns."""

    either = ("walking", "patterns")

    instrument: Annotated[str, OneOf(BASSES)] = Field(default=BASSES[0], description="What plays it.")
    walking: WalkingFields | None = Field(default=None, description="A new line for every bar.")
    patterns: Patterns = Field(
        default={},
        description="Patterns and their weights: R root, 2 to 8 degrees, v the fifth below, a leads on, "
        "n the next root early, x dead, T and D pedals, - holds.",
    )
    inversions: Share = Field(
        default=0.0, description="How often a chord that goes on has its third or fifth on one, 0 to 1."
    )
    centre: Whole = Field(default=38, ge=34, le=42, description="MIDI number that it moves about.")
    level: Level = Field(default=-2.0, description=_LEVEL)
    room: Share = Field(default=0.06, description=_ROOM)


class CompingFields(_PartFields, EitherFields):
    """The chords: struck in rhythms, or picked."""

    either = ("rhythms", "picking")

    instrument: Annotated[str, OneOf(INSTRUMENTS)] = Field(default="piano", description="What plays it.")
    voicings: Annotated[tuple[Annotated[str, OneOf(VOICING_STYLES)], ...], _SOME, AS_LIST] = Field(
        default=("close",), description="Kinds of voicing, in order of preference."
    )
    rhythms: Patterns = Field(
        default={},
        description="Patterns and their weights: 1 to 9 strike, > strikes the next chord early, x is "
        "a muted strum, - holds.",
    )
    picking: Patterns = Field(
        default={}, description="Patterns and their weights: digits are the chord's notes, 1 the lowest."
    )
    listening: Share = Field(
        default=0.7,
        description="How far chords thin out under a busy line and answer in its rests, 0 to 1.",
    )
    centre: Whole = Field(default=60, ge=48, le=72, description="MIDI number that chords lie about.")
    strum: Number = Field(
        default=0.0,
        ge=0,
        le=40,
        description="Milliseconds from string to string at middling loudness; 0 is what is usual.",
    )
    level: Level = Field(default=-7.0, description=_LEVEL)
    room: Share = Field(default=0.2, description=_ROOM)


class GrooveFields(Fields):
    """A groove file: how a band plays."""

    model_config = ConfigDict(json_schema_extra={"anyOf": [{"required": [part]} for part in PARTS]})

    title: Text | None = Field(
        default=None, description="Name shown in lists; the file's name if left away."
    )
    about: Text = Field(default="", description="What it is, in a sentence.")
    meters: Annotated[
        tuple[Text, ...], AlsoWords(Annotated[tuple[Text, ...], _SOME, AS_LIST], {"any": ()})
    ] = Field(
        default=("4/4",),
        description="Meters with the same beats; or any, for drums alone: a pattern is then two words, "
        "for the first beat and for every other.",
    )
    grouping: Text | None = Field(
        default=None, description="Where the beats are uneven: eighths of each beat, such as 2+2+3."
    )
    tempo: TempoFields = Field(default=TempoFields(), description="The tempos that it is made for.")
    swing: Annotated[
        float | None,
        AlsoWords(Annotated[Number, Field(ge=1, le=MAX_SWING_RATIO)], {"none": 1.0, "by tempo": None}),
    ] = Field(
        default="none",
        validate_default=True,
        description="First swung note against the second: 2 for triplet swing; or none, or by tempo.",
    )
    swing_of: Literal["eighths", "sixteenths"] = Field(
        default="eighths", alias="swing of", description="What is swung."
    )
    ensemble: EnsembleFields = Field(
        default=EnsembleFields(), description="How the players lie about each other."
    )
    lines: LineFamily | None = Field(
        default=None,
        description="Whose rhythms lines over it have; by meter and swing if left away.",
    )
    clave: Clave | None = Field(
        default=None,
        description="The side of the clave that comes first in patterns of two bars, which then run on "
        "through sections of any length.",
    )
    drums: DrumFields | None = Field(default=None, description="The drums.")
    bass: BassFields | None = Field(default=None, description="The bass.")
    comping: CompingFields | None = Field(default=None, description="The chords.")
