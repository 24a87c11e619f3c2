"""The exercises that a recipe can ask for: one class a kind, every field described.

Kinds over the recipe's own chart are *lines*; kinds that bring their own chart are *studies*
(``calls`` takes its bars from the recipe's chart).
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from genex.text.field_kinds import AS_LIST, AS_WORDS, AlsoText, Fields, Number, Text, Whole

Rhythm = Literal["quarters", "eighths", "triplets", "sixteenths", "dotted"]
Target = Literal["root", "third", "fifth", "seventh", "ninth", "guide"]
Approach = Literal[
    "scale", "below", "above", "double below", "double above", "enclosure", "slide up", "slide down"
]
Cycle = Literal[
    "fourths", "fifths", "chromatic", "chromatic down", "whole tones", "minor thirds", "major thirds"
]
Ask = Literal["interval", "chord", "degree", "progression"]
Strings = Annotated[tuple[Annotated[Whole, Field(ge=1, le=12)], ...], AS_WORDS]


class _Exercise(Fields):
    sound: Text = Field(default="jazz guitar", description="Instrument that plays it.")


class _Placed(_Exercise):
    position: Whole | None = Field(
        default=None, ge=0, le=24, description="Fret of the first finger; chosen to suit if left away."
    )
    form: Text | None = Field(
        default=None, description="Form of the first chord that gives the position: C, A, G, E or D."
    )
    strings: Strings | None = Field(default=None, description="Strings to stay on, 1 is the highest.")


class _Running(_Placed):
    rhythm: Rhythm = Field(default="eighths", description="The note value played throughout.")
    rest_every: Whole = Field(
        default=0, ge=0, le=32, description="Every so many notes of a bar one is a rest; 0 for none."
    )


class Arpeggio(_Running):
    """The arpeggio of each chord, up and down in one position, in time with the changes."""

    kind: Literal["arpeggio"]


class Changes(_Running):
    """One line of chord tones that goes on to the nearest tone when the chord changes."""

    kind: Literal["changes"]
    moving: bool = Field(default=False, description="The hand moves from form to form.")
    falling: bool = Field(default=False, description="Begin at the top and go down.")


class Targets(_Placed):
    """A chosen chord tone on every change, reached by an approach."""

    kind: Literal["targets"]
    rhythm: Rhythm = Field(default="eighths", description="The note value between the targets.")
    target: Target = Field(default="third", description="The tone aimed at.")
    approaches: Annotated[tuple[Approach, ...], AS_LIST] = Field(
        default=("below",), description="Ways to reach it; one is drawn for each target."
    )
    density: Whole = Field(
        default=2, ge=1, le=3, description="1 holds the target, 2 plays on the beats, 3 never rests."
    )
    beat: Whole = Field(default=1, ge=1, le=12, description="Beat of the change that has the target.")


class Scales(_Running):
    """One scale line through the changes that keeps its direction."""

    kind: Literal["scales"]
    three_a_string: bool = Field(default=False, description="Three notes on every string.")
    falling: bool = Field(default=False, description="Begin at the top and go down.")
    scales: dict[Text, Text] = Field(default={}, description="Other scales by chord: {G7: altered}.")


class Etude(_Placed):
    """An improvisation written out, from the vocabulary of a level."""

    kind: Literal["etude"]
    level: Whole = Field(default=3, ge=1, le=6, description="1 few chord tones … 6 through the changes.")
    bars: Whole | None = Field(default=None, ge=1, le=16, description="Bars of a phrase.")
    slides: bool = Field(default=True, description="Some held notes are slid into.")


class _Study(_Exercise):
    rhythm: Rhythm = Field(default="eighths", description="The note value played throughout.")
    rest_every: Whole = Field(
        default=0, ge=0, le=32, description="Every so many notes of a bar one is a rest; 0 for none."
    )
    forms: Annotated[tuple[Text, ...], AS_WORDS] | None = Field(
        default=None, description="Forms in playing order; all of them up the neck if left away."
    )
    scale: Text | None = Field(default=None, description="A scale on each chord's root instead.")
    times: Whole = Field(default=1, ge=1, le=32, description="How often each shape is played.")
    rest_bars: Whole = Field(default=0, ge=0, le=8, description="Bars of rest after each shape.")
    cycle: Cycle | None = Field(default=None, description="The first chord in all twelve keys.")


class Shapes(_Study):
    """The practice path of each chord's shapes: lowest root, up, down, back to the root."""

    kind: Literal["shapes"]


class Sequence(_Study):
    """A pattern over each chord's shapes, or along one or two strings."""

    kind: Literal["sequence"]
    pattern: Text = Field(default="groups of three", description="Name of the pattern.")
    strings: Strings = Field(default=(), description="One or two strings, for patterns along strings.")


class Tour(_Study):
    """All positions of each chord up the neck, each up and down, a bar of rest between."""

    kind: Literal["tour"]
    rest_bars: Whole = Field(default=1, ge=0, le=8, description="Bars of rest after each shape.")


class Positions(_Exercise):
    """One phrase in every position where it can be played."""

    kind: Literal["positions"]
    phrase: Text | None = Field(
        default=None,
        description="MIDI file with the phrase, relative to the recipe; else one is written.",
    )
    level: Whole = Field(default=2, ge=1, le=6, description="Level of a phrase that is written.")


class Calls(_Placed):
    """Call and response: a phrase, then as long a silence to play it back."""

    kind: Literal["calls"]
    calls: Whole = Field(default=8, ge=1, le=100, description="How many calls.")
    bars: Literal[1, 2, 4] = Field(default=2, description="Bars of a call.")
    level: Whole = Field(default=1, ge=1, le=6, description="Level of the first call.")
    to_level: Whole | None = Field(default=None, ge=1, le=6, description="Level of the last call.")
    repeats: Whole = Field(default=1, ge=1, le=8, description="How often each call is given.")
    answer: bool = Field(default=False, description="After the silence the call comes once more.")
    announce: bool = Field(default=False, description="A bar before with the first note.")
    signal: bool = Field(default=False, description="A soft bell when the silence begins.")
    may_return: bool = Field(default=False, description="A call may come again in the track.")
    keep_form: bool = Field(default=False, description="The form runs on under call and silence.")
    slides: bool = Field(default=False, description="Some held notes are slid into.")


class Drill(_Exercise):
    """A recognition drill: question, silence to name it, confirmation in sound."""

    kind: Literal["drill"]
    ask: Ask = Field(description="What is to be recognised.")
    items: Annotated[tuple[Text, ...], AS_LIST] | None = Field(
        default=None, description="What is asked; the usual ones if left away."
    )
    rounds: Whole = Field(default=2, ge=1, le=20, description="How often each item is asked.")
    direction: Literal["ascending", "descending", "together"] = Field(
        default="ascending", description="How intervals are played."
    )
    think_bars: Whole = Field(default=1, ge=1, le=8, description="Bars of silence after a question.")
    position: Whole = Field(default=5, ge=1, le=15, description="Fret of the first finger.")


Line = Arpeggio | Changes | Targets | Scales | Etude
Study = Shapes | Sequence | Tour | Positions | Calls | Drill


def _named_kind(value: Any) -> Any:
    """``exercise: arpeggio`` is short for ``exercise: {kind: arpeggio}``."""
    return {"kind": value} if isinstance(value, str) else value


Exercise = Annotated[Annotated[Line | Study, Field(discriminator="kind")], AlsoText(_named_kind)]


class TempoSteps(Fields):
    """The whole thing over and over, at a tempo that changes step by step."""

    start: Number = Field(ge=20, le=400, description="The first tempo.")
    end: Number = Field(ge=20, le=400, description="The last tempo.")
    step: Number = Field(default=5, ge=0.5, le=100, description="Beats a minute from step to step.")
    bars: Whole | None = Field(
        default=None, ge=1, le=256, description="Bars at each tempo; once through if left away."
    )
