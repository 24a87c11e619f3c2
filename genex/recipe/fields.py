"""The fields of a recipe: names, types, limits, defaults and what each one means.

The JSON Schema that ``genex schema`` prints is made from these classes, so every description
here is read by users in their editor.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from genex.exercises import AnyExercise, Click, GuideLine
from genex.exercises.recipe_words import SHEET_BLOCKS, BlockName, OutputName, PartName
from genex.text.field_kinds import AS_WORDS, Fields, Number, Text, Whole, schema_of
from genex.theory import NoteNames

MIN_TEMPO, MAX_TEMPO = 20, 400
MAX_CHORUSES = 64
MAX_TEMPOS = 40
MAX_EXERCISES = 40

Language = Literal["en", "de", "es", "fr", "it", "pt"]
AudioFormat = Literal["wav16", "wav24", "wav32f", "flac", "mp3", "ogg", "opus"]
Tempo = Annotated[Number, Field(ge=MIN_TEMPO, le=MAX_TEMPO)]


class SectionFields(Fields):
    """A section with more to say than its chords."""

    chords: Text = Field(description="The section's chart.")
    rest: Annotated[tuple[PartName, ...], AS_WORDS] = Field(
        default=(), description="Parts that are silent in this section."
    )
    loudness: Number = Field(
        default=1.0, ge=0.3, le=1.5, description="How loud the band plays it; 1 is normal."
    )
    key: Text | None = Field(
        default=None, description="The key that it is in, if that is another one than the piece's."
    )
    tempo: Tempo | None = Field(
        default=None,
        description="Its tempo, if that is another one than the piece's; with other tempos of the piece "
        "it changes in proportion.",
    )
    meter: Text | None = Field(
        default=None, description="The meter that it begins in, if that is another one than the piece's."
    )


class LadderFields(Fields):
    """A ladder of tempos."""

    start: Number = Field(ge=MIN_TEMPO, le=MAX_TEMPO, description="The first tempo.")
    end: Number = Field(ge=MIN_TEMPO, le=MAX_TEMPO, description="The last tempo.")
    step: Number = Field(default=10, ge=1, le=200, description="Beats a minute from one to the next.")


class TempoStepsFields(Fields):
    """The whole thing over and over, at a tempo that changes step by step."""

    start: Number = Field(ge=MIN_TEMPO, le=MAX_TEMPO, description="The first tempo.")
    end: Number = Field(ge=MIN_TEMPO, le=MAX_TEMPO, description="The last tempo.")
    step: Number = Field(default=5, ge=0.5, le=100, description="Beats a minute from step to step.")
    bars: Whole | None = Field(
        default=None, ge=1, le=256, description="Bars at each tempo; once through if left away."
    )


class PinFields(Fields):
    """A note of the exercise that is taken elsewhere than genex would."""

    bar: Whole = Field(ge=1, description="Its bar, as printed.")
    beat: Number = Field(ge=1, description="Its beat in the bar; 2.5 is the eighth after the second.")
    string: Whole = Field(ge=1, le=12, description="The string that it is played on.")
    finger: Whole | None = Field(
        default=None, ge=0, le=4, description="The finger that takes it; computed if left away."
    )


class HandoutFields(Fields):
    """The sheet that the student takes home."""

    paper: Literal["a4", "letter"] = Field(default="a4", description="Size of the paper.")
    blocks: Annotated[tuple[BlockName, ...], AS_WORDS] = Field(
        default=SHEET_BLOCKS,
        description=(
            "What stands on it, each where there is such a thing: the shapes of every chord by "
            "default where a lesson has no more than two chords."
        ),
    )
    shapes_for: Annotated[tuple[Text, ...], AS_WORDS] | None = Field(
        default=None, description="Chords whose shapes are shown; all of the chart if left away."
    )
    tempos: Whole = Field(
        default=5, ge=0, le=12, description="Steps of the practice ladder, with boxes to tick."
    )
    writing_lines: Whole = Field(
        default=0, ge=0, le=20, description="Empty lines at the end, to write on."
    )
    closed: bool = Field(default=False, description="Leave the open position out of the shapes.")
    large_print: bool = Field(
        default=False, description="Type of 14 points and more and staves to match, on more pages."
    )


class LetterheadFields(Fields):
    """Who hands the sheet out, at its head."""

    school: Text | None = Field(
        default=None, max_length=120, description="Name of the school or the class."
    )
    teacher: Text | None = Field(default=None, max_length=120, description="Who teaches.")
    contact: Text | None = Field(
        default=None, max_length=200, description="Where and when you are reached, in a line."
    )
    licence: Text | None = Field(
        default=None,
        max_length=160,
        description="What may be done with the sheet; at the foot of every page.",
    )
    logo: Text | None = Field(
        default=None,
        description="A picture, .svg or .png, as seen from the file that this stands in.",
    )
    link: Text | None = Field(
        default=None, max_length=200, description="An address, such as https://…, shown as QR code."
    )


def _true_word(value: Any) -> Any:
    """YAML reads the word as a switch."""
    return "true" if value is True else value


class DiagramFields(Fields):
    """Pictures of the shapes of each chord."""

    format: Literal["svg", "png"] = Field(default="svg", description="Drawing or picture.")
    label: Literal["degrees", "fingers", "notes"] = Field(
        default="degrees", description="What stands on the dots."
    )
    theme: Literal["light", "dark"] = Field(default="light", description="Colours.")
    spacing: Annotated[Literal["even", "true"], BeforeValidator(_true_word)] = Field(
        default="even", description="Frets evenly spaced, or as on a neck."
    )
    direction: Literal["lying", "upright"] = Field(
        default="lying", description="Shapes lying as in tab, or upright as grips are printed."
    )
    width: Number | None = Field(
        default=None,
        ge=20,
        le=1000,
        description="Width of a png in mm, at 300 dots an inch; as large as it reads well if left away.",
    )
    closed: bool = Field(default=False, description="Leave the open position out.")


class AudioFields(Fields):
    """How the sound files are made."""

    loudness: Number = Field(
        default=-14.0, ge=-36, le=-6, description="Integrated loudness in LUFS (ITU-R BS.1770)."
    )
    ceiling: Number = Field(default=-1.0, ge=-12, le=0, description="Highest true peak in dBTP.")
    format: AudioFormat = Field(default="wav24", description="How the sound is stored.")
    rate: Literal[44100, 48000] = Field(default=48000, description="Samples a second.")
    passes: Whole = Field(default=1, ge=1, le=64, description="How often a loop file holds the loop.")
    minus: Annotated[tuple[PartName, ...], AS_WORDS] = Field(
        default=(), description="Further loops, each without one of these parts."
    )
    width: Number = Field(
        default=1.0, ge=0, le=2, description="How wide left and right lie: 0 is mono, 1 the mix itself."
    )
    same_level: bool = Field(
        default=False,
        description="Play the band as loud in the band's loop and in loops without a part as in the "
        "full one: they have its gain, not its loudness.",
    )
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
        default=None,
        description="Key, such as F, G minor or D dorian; taken from the chords if left away.",
    )
    scales: dict[Text, Text] = Field(
        default={},
        description="Scales in place of those that the harmony asks for: by chord (Ebm7: phrygian), "
        "by bar of the form (5: dorian), or by bar and beat (5.3: altered).",
    )
    tempo: Tempo | None = Field(
        default=None,
        description="Beats a minute; in 3/8, 6/8, 9/8 and 12/8 the beat is the dotted quarter. "
        "Left away, it is the usual tempo of the feel that is named, or 110.",
    )
    keys: Text | list[Text] | None = Field(
        default=None,
        description="Keys to make the files in: names, or all twelve in a cycle such as fourths.",
    )
    tempos: list[Tempo] | LadderFields | None = Field(
        default=None, description="Tempos to make the files at: a list, or a ladder."
    )
    meter: Text | None = Field(
        default=None,
        description="Time signature, such as 4/4, 3/4 or 12/8. Left away, it is that of the feel that "
        "is named, or 4/4.",
    )
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
    form: Annotated[tuple[Text, ...], AS_WORDS] | None = Field(
        default=None, description="The order in which the sections are played, such as A A B A."
    )
    intro: Annotated[tuple[Text, ...], AS_WORDS] = Field(
        default=(), description="Sections played once before the first chorus."
    )
    outro: Annotated[tuple[Text, ...], AS_WORDS] = Field(
        default=(), description="Sections played once after the last chorus."
    )
    pickup: Text | None = Field(
        default=None,
        description="Length of the pickup before bar 1: in beats, or as a note value such as 1/8.",
        examples=["1/8"],
    )
    turnaround: Text | None = Field(
        default=None,
        description="Chords in place of the form's last bars, but for the last time of the take.",
    )
    trade: Whole | None = Field(
        default=None, ge=1, le=32, description="The band rests for so many bars after so many: trading."
    )
    trade_with: Literal["nobody", "drums"] = Field(
        default="nobody", description="Who goes on while the band rests in a trade."
    )
    stops: Annotated[tuple[Annotated[Whole, Field(ge=1)], ...], AS_WORDS] = Field(
        default=(), description="Bars of the form where the band strikes on one and stops."
    )
    build_up: Number = Field(
        default=0.15,
        ge=0,
        le=1,
        description="How much louder the loudest chorus is than the first; 0.15 is 8 to 15 velocities.",
    )
    repeats: Whole = Field(
        default=1, ge=1, le=MAX_CHORUSES, description="How many choruses the files hold."
    )
    count_in: Whole | None = Field(
        default=None, ge=0, le=4, description="Bars of count-in before the full take; 1 if left away."
    )
    ritardando: bool = Field(default=False, description="The full take slows down before its last bar.")
    seed: Whole = Field(
        default=1, ge=0, le=2**31 - 1, description="Another number, another performance."
    )
    parts: Annotated[tuple[PartName, ...], AS_WORDS] | None = Field(
        default=None, description="The parts wanted; the band and a line if left away."
    )
    minus: Annotated[tuple[PartName, ...], AS_WORDS] = Field(
        default=(), description="Parts to leave out: minus bass to play the bass yourself."
    )
    guide: GuideLine = Field(default=GuideLine(), description="The guide-tone line.")
    click: Click | None = Field(default=None, description="A practice click, as a part of its own.")
    exercise: AnyExercise | None = Field(
        default=None, description="The exercise: a kind, or fields with a kind."
    )
    exercises: list[dict[Text, Any]] | None = Field(
        default=None,
        max_length=MAX_EXERCISES,
        description="Several exercises in order: each a title, and the fields in which it differs from "
        "the recipe.",
    )
    tempo_steps: TempoStepsFields | None = Field(
        default=None, description="Play it all over and over at a rising or falling tempo."
    )
    tuning: Text | list[Text] = Field(
        default="standard", description="Name of a tuning, or the open strings from low to high."
    )
    frets: Whole = Field(default=22, ge=5, le=36, description="Frets of the instrument.")
    capo: Whole = Field(default=0, ge=0, le=12, description="Fret of the capo.")
    hand: Literal["small", "medium", "large"] = Field(
        default="medium", description="Size of the hand that the fingerings are for."
    )
    fingerings: Text | None = Field(
        default=None,
        description="File of own shapes and fingerings; fingerings.txt beside it if left away.",
    )
    pins: tuple[PinFields, ...] = Field(
        default=(), description="Notes of the exercise that are taken elsewhere."
    )
    aim: Text | None = Field(
        default=None,
        max_length=300,
        description="What the lesson is for, in a line: under the title of the sheet.",
        examples=["Hear the third of every chord before you play it."],
    )
    remarks: Text | None = Field(
        default=None,
        max_length=4000,
        description="Your words to the student on the sheet: paragraphs, `- lists`, `*emphasis*`.",
        examples=["Play it *slowly* first."],
    )
    homework: Text | None = Field(
        default=None,
        max_length=4000,
        description="What to practise until next time; each point of a list gets a box to tick.",
        examples=["- bars 1 to 4 by heart"],
    )
    outputs: Annotated[tuple[OutputName, ...], AS_WORDS] | None = Field(
        default=None, description="The files wanted; midi, loop, band and tab if left away."
    )
    left_handed: bool = Field(default=False, description="Mirror the diagrams.")
    courtesy_accidentals: bool = Field(
        default=False,
        description="On the sheet and in MusicXML an accidental reminds where the step was altered "
        "otherwise in the bar before or in another octave.",
    )
    letterhead: LetterheadFields | None = Field(
        default=None, description="Who hands the sheet out: school, teacher, logo, link."
    )
    handout: HandoutFields | None = Field(
        default=None, description="Make the student's sheet, and how; also an output."
    )
    diagrams: DiagramFields | None = Field(
        default=None, description="Draw the shapes of each chord, and how; also an output."
    )
    under_chords: Annotated[tuple[Literal["numerals", "scales"], ...], AS_WORDS] = Field(
        default=(),
        description="What stands under the chords in chart and handout: numerals, names of scales.",
    )
    language: Language = Field(
        default="en",
        description="Language of what is printed: its two-letter code (ISO 639-1).",
    )
    note_names: NoteNames = Field(
        default="english",
        description="How notes and chords are named in print: H and B in German, or do re mi; what you "
        "write stays English.",
    )
    font: Text | None = Field(
        default=None,
        description="A font, .ttf or .otf, for letters that genex's own fonts lack, as seen from the "
        "file that this stands in.",
    )
    audio: AudioFields = Field(default=AudioFields(), description="Loudness, format and soundfont.")
    mix: dict[PartName, PartMixFields] = Field(default={}, description="Level, pan and room of parts.")


def json_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a recipe."""
    return schema_of(RecipeFields)
