"""The fields of a recipe: names, types, limits, defaults and what each one means.

The JSON Schema that ``genex schema`` prints is made from these classes, so every description
here is read by users in their editor.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

MIN_TEMPO, MAX_TEMPO = 20, 400
MAX_CHORUSES = 64
MAX_TEMPOS = 40

PartName = Literal["drums", "bass", "comping", "guide", "exercise"]
OutputName = Literal["midi", "loop", "band", "take", "tab"]
DEFAULT_PARTS: tuple[PartName, ...] = ("drums", "bass", "comping", "guide")
DEFAULT_OUTPUTS: tuple[OutputName, ...] = ("midi", "loop", "band", "tab")


def _text(value: Any) -> Any:
    """Numbers are text where text is asked for: a title may be 1999."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return str(value)
    return value


def _no_switch(value: Any) -> Any:
    """``true`` is not a number, whatever Python thinks."""
    return "yes or no" if isinstance(value, bool) else value


def _words(value: Any) -> Any:
    """A list may be written as words: ``form: A A B A``, ``parts: drums bass``."""
    if isinstance(value, (str, int)) and not isinstance(value, bool):
        return [word for word in str(value).replace(",", " ").split() if word]
    return value


def _named_kind(value: Any) -> Any:
    """``exercise: arpeggio`` is short for ``exercise: {kind: arpeggio}``."""
    return {"kind": value} if isinstance(value, str) else value


Text = Annotated[str, BeforeValidator(_text)]
Whole = Annotated[int, BeforeValidator(_no_switch)]
Number = Annotated[float, BeforeValidator(_no_switch), Field(allow_inf_nan=False)]


Tempo = Annotated[Number, Field(ge=MIN_TEMPO, le=MAX_TEMPO)]


class Fields(BaseModel):
    """Base of all groups of fields: unknown names are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class SectionFields(Fields):
    """A section with more to say than its chords."""

    chords: Text = Field(description="The section's chart.")
    rest: Annotated[tuple[PartName, ...], BeforeValidator(_words)] = Field(
        default=(), description="Parts that are silent in this section."
    )


class LadderFields(Fields):
    """A ladder of tempos."""

    start: Number = Field(ge=MIN_TEMPO, le=MAX_TEMPO, description="The first tempo.")
    end: Number = Field(ge=MIN_TEMPO, le=MAX_TEMPO, description="The last tempo.")
    step: Number = Field(default=10, ge=1, le=200, description="Beats a minute from one to the next.")


class GuideFields(Fields):
    """The guide-tone line: thirds and sevenths through the changes."""

    start: Literal["third", "seventh"] | None = Field(
        default=None, description="The first note; left away, the smoother one."
    )
    rhythm: Literal["whole", "half", "anticipated"] = Field(
        default="whole",
        description="How often the line strikes: once a bar, twice, or ahead of the change.",
    )
    position: Whole | None = Field(default=None, ge=0, le=24, description="Fret of the first finger.")
    sound: Text = Field(default="clarinet", description="Instrument that plays the line.")


class ArpeggioFields(Fields):
    """The arpeggio of each chord, up and down in one position, in time with the changes."""

    kind: Literal["arpeggio"] = Field(description="Arpeggios over the changes.")
    rhythm: Literal["quarters", "eighths", "triplets", "sixteenths"] = Field(
        default="eighths", description="The note value played throughout."
    )
    position: Whole | None = Field(
        default=None,
        ge=0,
        le=24,
        description="Fret of the first finger; left away, the position that suits the progression.",
    )
    sound: Text = Field(default="jazz guitar", description="Instrument that plays the exercise.")


class AudioFields(Fields):
    """How the sound files are made."""

    loudness: Number = Field(
        default=-14.0, ge=-36, le=-6, description="Integrated loudness in LUFS (ITU-R BS.1770)."
    )
    ceiling: Number = Field(default=-1.0, ge=-12, le=0, description="Highest true peak in dBTP.")
    soundfont: Text | None = Field(
        default=None, description="Your own soundfont (.sf2 or .sf3), relative to the recipe."
    )


class PartMixFields(Fields):
    """One part's place in the mix, as a change to the feel's own balance."""

    level: Number = Field(default=0.0, ge=-60, le=12, description="Louder or softer by so many dB.")
    pan: Number | None = Field(default=None, ge=-1, le=1, description="-1 is left, 1 is right.")
    room: Number | None = Field(default=None, ge=0, le=1, description="How much room, 0 to 1.")


class RecipeFields(Fields):
    """A genex recipe: one lesson."""

    title: Text | None = Field(
        default=None, max_length=300, description="Name of the lesson; the file's name if left away."
    )
    key: Text | None = Field(
        default=None, description="Key, such as F, Bb or G minor; taken from the chords if left away."
    )
    tempo: Tempo = Field(
        default=110,
        description="Beats a minute; in 6/8, 9/8 and 12/8 the beat is the dotted quarter.",
    )
    keys: Text | list[Text] | None = Field(
        default=None,
        description="Keys to make the files in: names, or all twelve in a cycle such as fourths.",
    )
    tempos: list[Tempo] | LadderFields | None = Field(
        default=None, description="Tempos to make the files at: a list, or a ladder."
    )
    meter: Text = Field(default="4/4", description="Time signature, such as 4/4, 3/4 or 12/8.")
    feel: Text | None = Field(
        default=None, description="How the band plays; 'genex feels' lists what there is."
    )
    swing: Number | None = Field(
        default=None,
        ge=1,
        le=3.5,
        description="First swung eighth against the second; by feel and tempo if left away.",
    )
    humanise: Number = Field(
        default=1.0, ge=0, le=1, description="How freely the band plays; 0 is an exact grid."
    )
    chords: Text | None = Field(
        default=None, description="The chart: bars of chord symbols, such as Gm7 | C7 | Fmaj7 | D7b9 |"
    )
    sections: dict[Text, Text | SectionFields] | None = Field(
        default=None, description="Named sections and their charts, in place of chords."
    )
    form: Annotated[tuple[Text, ...], BeforeValidator(_words)] | None = Field(
        default=None, description="The order in which the sections are played, such as A A B A."
    )
    repeats: Whole = Field(
        default=1, ge=1, le=MAX_CHORUSES, description="How many choruses the files hold."
    )
    count_in: Whole | None = Field(
        default=None, ge=0, le=4, description="Bars of count-in before the full take; 1 if left away."
    )
    seed: Whole = Field(
        default=1, ge=0, le=2**31 - 1, description="Another number, another performance."
    )
    parts: Annotated[tuple[PartName, ...], BeforeValidator(_words)] | None = Field(
        default=None, description="The parts wanted; drums, bass, comping and guide if left away."
    )
    guide: GuideFields = Field(default=GuideFields(), description="The guide-tone line.")
    exercise: Annotated[ArpeggioFields, BeforeValidator(_named_kind)] | None = Field(
        default=None, description="The exercise, such as arpeggio."
    )
    tuning: Text | list[Text] = Field(
        default="standard", description="Name of a tuning, or the open strings from low to high."
    )
    frets: Whole = Field(default=22, ge=5, le=36, description="Frets of the instrument.")
    capo: Whole = Field(default=0, ge=0, le=12, description="Fret of the capo.")
    outputs: Annotated[tuple[OutputName, ...], BeforeValidator(_words)] | None = Field(
        default=None, description="The files wanted; midi, loop, band and tab if left away."
    )
    audio: AudioFields = Field(default=AudioFields(), description="Loudness and soundfont.")
    mix: dict[PartName, PartMixFields] = Field(default={}, description="Level, pan and room of parts.")


def json_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a recipe."""
    schema = RecipeFields.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
