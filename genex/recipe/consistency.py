"""Fields that are right by themselves and do not go together, or name what is not there."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from genex.errors import RecipeError
from genex.exact import Fraction
from genex.exercises import ChartFacts, Exercise, Fault, not_played, refusals
from genex.exercises.recipe_words import OutputName, PartName
from genex.inputs import note_missing
from genex.recipe.fields import RecipeFields, SectionFields
from genex.recipe.form import Section
from genex.recipe.wishes import PlaceInForm, read_wish
from genex.score import Meter
from genex.text.yaml_source import KeyPath, Source
from genex.theory import Chord, find_scale, parse_chord

_BAND: frozenset[PartName] = frozenset({"drums", "bass", "comping", "click"})
_LEADS: frozenset[PartName] = frozenset({"guide", "exercise"})

_NEVER_EMPTY: dict[KeyPath, str] = {
    # field: what to write; all of them may be left away instead
    ("feel",): "write a name such as swing: 'genex feels' lists them",
    ("outputs",): "write for example midi loop band tab",
    ("tuning",): "write standard, or the open strings: [E2, A2, D3, G3, B3, E4]",
    ("handout", "blocks"): "write for example chart practice",
    ("handout", "shapes_for"): "write chord symbols: Gm7 C7",
    ("audio", "soundfont"): "write the name of an .sf2 or .sf3 file",
    ("letterhead", "logo"): "write the name of an .svg or .png file",
}


@dataclass(frozen=True)
class Facts:
    """A recipe as far as it is known when its fields are compared.

    ``form`` is one chorus, ``sections`` everything that is played.
    """

    source: Source
    fields: RecipeFields
    meter: Meter
    form: tuple[Section, ...]
    sections: tuple[Section, ...]
    parts: tuple[PartName, ...]
    outputs: tuple[OutputName, ...]

    @property
    def chords(self) -> Iterator[Chord]:
        """Every chord that is played."""
        for section in self.sections:
            for bar in section.bars:
                yield from (chord for chord, _ in bar.chords if chord is not None)

    @property
    def study(self) -> Exercise | None:
        """The exercise, if it has a chart of its own."""
        exercise = self.fields.exercise
        return exercise if exercise is not None and exercise.has_own_chart else None

    def wrong(
        self, message: str, hint: str | None, *path: str | int, of_key: bool = False
    ) -> RecipeError:
        """What is wrong at a field."""
        return RecipeError(message, hint=hint, place=self.source.place(path, of_key=of_key))

    def fault(self, fault: Fault, *path: str | int) -> RecipeError:
        """A fault in the group of fields at a path."""
        return self.wrong(fault.message, fault.hint, *path, *fault.path, of_key=fault.of_key)


def require_consistent(facts: Facts) -> None:
    """Raises RecipeError for what stands first in the file of all that does not go together."""
    faults = [fault for check in _CHECKS for fault in check(facts)]
    if faults:
        raise min(faults, key=_place)


def _place(fault: RecipeError) -> tuple[int, int]:
    place = fault.place
    return (place.line or 0, place.column or 0) if place else (0, 0)


def _empty(facts: Facts) -> Iterator[RecipeError]:
    for path, advice in _NEVER_EMPTY.items():
        value: Any = facts.fields
        for step in path:
            value = getattr(value, str(step), None)
        yield from _without_value(facts, value, path, advice)
    for group, fields in (("guide", facts.fields.guide), ("exercise", facts.fields.exercise)):
        for name, field in type(fields).model_fields.items() if fields is not None else ():
            example = f"write for example {field.examples[0]}" if field.examples else "write a value"
            yield from _without_value(facts, getattr(fields, name), (group, name), example)


def _without_value(facts: Facts, value: Any, path: KeyPath, advice: str) -> Iterator[RecipeError]:
    """What is wrong with a text or a list that is written and has nothing in it."""
    content = value.strip() if isinstance(value, str) else value
    if facts.source.says(path) and isinstance(content, str | tuple | list) and not content:
        name = ".".join(map(str, path))
        yield facts.wrong(f"'{name}' is empty", f"{advice}, or leave the line away", *path)


def _first_meter(facts: Facts) -> Iterator[RecipeError]:
    """Feel and count-in go by the meter that a piece begins in."""
    first = facts.sections[0]
    if (meter := first.bars[0].meter) is not None:
        path: KeyPath = ("chords",) if facts.fields.sections is None else ("sections", first.name)
        yield facts.wrong(
            f"the piece begins in {meter}, and 'meter' is {facts.meter}",
            f"write 'meter: {meter}', and ({facts.meter}) or 'meter' where that begins",
            *path,
        )


def _tempo_of_a_section(facts: Facts) -> Iterator[RecipeError]:
    """Two things that change the tempo on the way."""
    if facts.fields.tempo_steps is None:
        return
    for name, section in (facts.fields.sections or {}).items():
        if isinstance(section, SectionFields) and section.tempo is not None:
            yield facts.wrong(
                "a section has a tempo of its own, and 'tempo_steps' changes the tempo too",
                "leave one of them away",
                "sections", name, "tempo",
            )  # fmt: skip


def _form_of_a_study(facts: Facts) -> Iterator[RecipeError]:
    """A study has a chart of its own, so what is said of the form's bars would be lost."""
    fields = facts.fields
    if facts.study is None:
        return
    hint = f"'{facts.study.kind}' has a chart of its own: leave this away"
    for name in ("stops", "turnaround", "intro", "outro", "pickup"):
        if getattr(fields, name) and facts.source.is_own((name,)):
            yield facts.wrong(f"'{name}' has no effect on a study", hint, name, of_key=True)
    for name, section in (fields.sections or {}).items():
        if isinstance(section, SectionFields) and facts.source.is_own(("sections",)):
            for field in section.model_fields_set - {"chords", "meter"}:
                path = ("sections", name, field)
                yield facts.wrong(f"'{field}' has no effect on a study", hint, *path, of_key=True)


def _tempos(facts: Facts) -> Iterator[RecipeError]:
    """Files at several tempos that would all be played at those of the steps."""
    if facts.fields.tempos is not None and facts.fields.tempo_steps is not None:
        yield facts.wrong(
            "'tempos' and 'tempo_steps' both set the tempo",
            "keep 'tempos' for a file at each, or 'tempo_steps' for one that gets faster",
            "tempos",
            of_key=True,
        )


def _stops(facts: Facts) -> Iterator[RecipeError]:
    if facts.study is not None:
        return  # refused elsewhere
    bars = sum(len(section.bars) for section in facts.form)
    for index, number in enumerate(facts.fields.stops):
        if number > bars:
            yield facts.wrong(
                f"'stops' names bar {number}, and the form has {bars}",
                f"write bars from 1 to {bars}",
                "stops",
                index,
            )


def _guide(facts: Facts) -> Iterator[RecipeError]:
    for fault in facts.fields.guide.faults():
        yield facts.fault(fault, "guide")


def _left_out_study(facts: Facts) -> Iterator[RecipeError]:
    fields = facts.fields
    if facts.study is not None and "exercise" not in facts.parts:
        yield facts.wrong(
            f"'{facts.study.kind}' is not played: 'exercise' is not among the parts",
            "leave 'exercise:' away to have the chart played without it",
            "minus" if "exercise" in fields.minus else "parts",
        )


def _exercise(facts: Facts) -> Iterator[RecipeError]:
    """What the exercise finds wrong itself, and files that it names and are not there."""
    exercise = facts.fields.exercise
    if exercise is None:
        return
    for fault in exercise.faults(ChartFacts(facts.meter, tuple(facts.chords))):
        yield facts.fault(fault, "exercise")
    for field, name in exercise.files().items():
        yield from _file(facts, name, "exercise", field)


def _scale_wishes(facts: Facts) -> Iterator[RecipeError]:
    """Scales for chords that are not played, and for places where none begins."""
    chart = ChartFacts(facts.meter, tuple(facts.chords))
    for text, name in facts.fields.scales.items():
        faults = list(refusals(find_scale, name))
        place = PlaceInForm.parse(text)
        if place is None:
            faults += not_played(read_wish, text, chart)
        elif (hint := _not_there(facts, place)) is not None:
            faults.append(Fault(f"'scales' names {place}, where no chord begins", hint, (), of_key=True))
        for fault in faults:
            yield facts.fault(fault, "scales", text)


def _not_there(facts: Facts, place: PlaceInForm) -> str | None:
    """What to write instead of a place in the form where no chord begins; None where one does."""
    bars = [bar for section in facts.form for bar in section.bars]
    if not 1 <= place.bar <= len(bars):
        return f"write a bar of the form, from 1 to {len(bars)}"
    beat, beats = Fraction(1), []
    bar = bars[place.bar - 1]
    for _, length in bar.chords:
        beats.append(beat)
        beat += length / (bar.meter or facts.meter).pulse_beats
    if place.beat in beats:
        return None
    return "write " + " or ".join(
        f"{place.bar}.{float(found):g}" for found in beats if found.denominator == 1
    )


def _outputs(facts: Facts) -> Iterator[RecipeError]:
    """Files that are asked for and could not be made."""
    written = facts.fields.outputs if facts.source.is_own(("outputs",)) else ()
    for index, name in enumerate(written or ()):
        said = not_made(facts, name)
        if said is not None:
            yield facts.wrong(*said, "outputs", index)
    if "diagrams" in facts.outputs and facts.study is None and next(facts.chords, None) is None:
        field = "diagrams" if facts.fields.diagrams is not None else "outputs"
        yield facts.wrong(
            "there is no chord to draw diagrams of", "write chords, or leave diagrams away", field
        )


def not_made(facts: Facts, name: OutputName) -> tuple[str, str] | None:
    """Why an output cannot be made, and what to do."""
    parts = set(facts.parts)
    is_asking = facts.fields.exercise is not None and facts.fields.exercise.asks
    if name in ("tab", "musicxml") and not parts & _LEADS:
        return (
            f"'{name}' shows a guide or an exercise, and neither is played",
            f"add guide or exercise to 'parts', or leave {name} away",
        )
    if name == "answers" and not (is_asking and "exercise" in parts):
        return (
            "'answers' belong to calls or a drill, and there are none",
            "write 'exercise: calls', or leave answers away",
        )
    if name == "band" and not is_asking:
        if not parts & _BAND:
            return "there is no band to make 'band' of", "add drums, bass or comping to 'parts'"
        if not parts & _LEADS and "loop" not in facts.outputs:
            return "without guide and exercise the band is all there is", "write loop in place of band"
    return None


def _shapes_for(facts: Facts) -> Iterator[RecipeError]:
    handout = facts.fields.handout
    for index, symbol in enumerate((handout and handout.shapes_for) or ()):
        for fault in refusals(parse_chord, symbol):
            yield facts.fault(fault, "handout", "shapes_for", index)


_ADDRESS = re.compile(r"(https?://|mailto:|tel:)[!-~]+")
"""What a telephone opens that reads a QR code, in the signs that an address may have
[published: RFC 3986]."""


def _letterhead(facts: Facts) -> Iterator[RecipeError]:
    head = facts.fields.letterhead
    if head is None:
        return
    if head.logo is not None:
        yield from _file(facts, head.logo, "letterhead", "logo")
    if head.link is not None and not _ADDRESS.fullmatch(head.link):
        yield facts.wrong(
            f"'{head.link}' is no address that a telephone can open",
            "write for example https://example.org/lessons, without blanks or signs beyond ASCII",
            "letterhead",
            "link",
        )


_OPUS_RATE = 48_000


def _audio(facts: Facts) -> Iterator[RecipeError]:
    if facts.fields.audio.format == "opus" and facts.fields.audio.rate != _OPUS_RATE:
        yield facts.wrong(
            f"Opus files have {_OPUS_RATE} samples a second, not {facts.fields.audio.rate}",
            f"leave 'rate' away, or write {_OPUS_RATE}; or choose another format",
            "audio",
            "rate",
        )
    audio = facts.fields.audio
    if audio.soundfont is not None:
        yield from _file(facts, _expanded(audio.soundfont), "audio", "soundfont")
    for index, name in enumerate(audio.minus):
        if name not in facts.parts:
            yield facts.wrong(
                f"'audio.minus' leaves out '{name}', which is not played",
                f"write parts that are: {' '.join(facts.parts)}",
                "audio",
                "minus",
                index,
            )
        elif len(facts.parts) == 1:
            yield facts.wrong(
                f"without '{name}' nothing is left to play", "leave it away", "audio", "minus", index
            )
    if audio.minus and "loop" not in facts.outputs:
        yield facts.wrong(
            "'audio.minus' makes further loops, and no loop is wanted",
            "add loop to 'outputs', or leave 'audio.minus' away",
            "audio",
            "minus",
        )


def _file(facts: Facts, name: str, *path: str) -> Iterator[RecipeError]:
    folder = facts.source.folder_of(path)
    if name.strip() and not is_beside(folder, name):
        note_missing(folder / name)
        where = "the recipe" if facts.source.is_own(path) else "this file"
        yield facts.wrong(f"there is no file '{name}'", f"write the path as seen from {where}", *path)


def is_beside(folder: Path, name: str) -> bool:
    """Whether there is a file of a name, which is relative to a folder."""
    try:
        return (folder / name).is_file()
    except (OSError, ValueError):  # too long a name; a null character
        return False


def _expanded(name: str) -> str:
    """A name with ``~`` as the home folder, where there is one."""
    try:
        return str(Path(name).expanduser())
    except RuntimeError:
        return name


_CHECKS: tuple[Callable[[Facts], Iterator[RecipeError]], ...] = (
    _form_of_a_study,
    _empty,
    _tempos,
    _first_meter,
    _tempo_of_a_section,
    _stops,
    _guide,
    _left_out_study,
    _exercise,
    _scale_wishes,
    _outputs,
    _shapes_for,
    _letterhead,
    _audio,
)
