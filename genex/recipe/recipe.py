"""A recipe file read, validated, and its chart turned into bars."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from genex.errors import NotationError, Place, RecipeError
from genex.recipe.chart import ChartBar, ChartReader, unroll
from genex.recipe.exercises import Calls, Drill, Study
from genex.recipe.fields import (
    DEFAULT_OUTPUTS,
    DEFAULT_PARTS,
    MAX_TEMPOS,
    PART_NAMES,
    LadderFields,
    OutputName,
    PartName,
    RecipeFields,
    SectionFields,
)
from genex.recipe.messages import did_you_mean, recipe_error
from genex.recipe.slug import slug_of
from genex.score import Meter
from genex.theory import CYCLES, Chord, Key, chord_from_numeral, is_numeral, key_cycle, parse_chord
from genex.theory.likely_key import likely_key
from genex.yaml_source import KeyPath, Source, parse_source, read_source

MAX_PLAYED_BARS = 4096
_T = TypeVar("_T")


@dataclass(frozen=True)
class Section:
    """A named stretch of the chart with repeats unrolled, and the parts that are silent in it."""

    name: str
    bars: tuple[ChartBar, ...]
    rest: tuple[PartName, ...] = ()
    loudness: float = 1.0


@dataclass(frozen=True)
class Version:
    """One key and tempo of a lesson. ``suffix`` sets its files apart, such as ``.Bb.120``.

    ``tempo`` counts the meter's pulses a minute.
    """

    key: Key
    tempo: Fraction
    suffix: str = ""


@dataclass(frozen=True)
class Recipe:
    """A validated recipe.

    ``fields`` holds what was written, with defaults; the other attributes are what follows
    from it. ``form`` lists the sections of one chorus in playing order, ``intro`` and ``outro``
    those before the first and after the last chorus.
    """

    fields: RecipeFields
    source: Source
    title: str
    slug: str
    meter: Meter
    key: Key
    form: tuple[Section, ...]
    intro: tuple[Section, ...]
    outro: tuple[Section, ...]
    versions: tuple[Version, ...]
    parts: tuple[PartName, ...]
    outputs: tuple[OutputName, ...]

    @property
    def sections(self) -> tuple[Section, ...]:
        """Every section that is played, each as often as one chorus, intro and outro have it."""
        return (*self.intro, *self.form, *self.outro)

    def place(self, *path: str | int) -> Place:
        """Where a field stands in the file."""
        return self.source.place(path)


def read_recipe(path: Path) -> Recipe:
    """Read and validate a recipe file. Raises RecipeError with file, line, column and hint."""
    return _recipe_of(read_source(path), path.stem)


def parse_recipe(text: str, file: str = "recipe.yaml") -> Recipe:
    """Validate recipe text. Raises RecipeError with line, column and hint."""
    return _recipe_of(parse_source(text, file), Path(file).stem)


def _recipe_of(source: Source, stem: str) -> Recipe:
    fields = _validated(source)
    title = (fields.title or "").strip() or stem.replace("_", " ").replace("-", " ").strip().capitalize()
    meter = _read(source, ("meter",), fields.meter, Meter.parse)
    key = _read(source, ("key",), fields.key, Key.parse) if fields.key is not None else None
    reader = ChartReader(source, meter, partial(_read_chord, key=key))
    form, intro, outro = _form(source, fields, reader)
    if key is None:
        key = likely_key(
            chord
            for section in form
            for bar in section.bars
            for chord, _ in bar.chords
            if chord is not None
        )
    played = fields.repeats * sum(len(section.bars) for section in form)
    if played > MAX_PLAYED_BARS:
        raise RecipeError(
            f"the recipe asks for {played} bars",
            hint=f"at most {MAX_PLAYED_BARS} bars are played: lower 'repeats'",
            place=source.place(("repeats",)),
        )
    return Recipe(
        fields=fields,
        source=source,
        title=title,
        slug=slug_of(title),
        meter=meter,
        key=key,
        form=form,
        intro=intro,
        outro=outro,
        versions=_versions(source, fields, key),
        parts=_parts(source, fields),
        outputs=_outputs(fields),
    )


def _validated(source: Source) -> RecipeFields:
    data = source.data
    if data is None:
        raise RecipeError(
            "the file is empty",
            hint="write at least 'chords: Gm7 | C7 | Fmaj7 |'",
            place=source.place(()),
        )
    if not isinstance(data, dict):
        raise RecipeError(
            "a recipe is a list of fields, each with a name and a value",
            hint="begin with 'title: …' and 'chords: Gm7 | C7 | Fmaj7 |'",
            place=source.place(()),
        )
    try:
        return RecipeFields.model_validate(data)
    except ValidationError as error:
        details = min(error.errors(), key=lambda d: _order(source, d["loc"], d["type"]))
        raise recipe_error(source, details, partial(_known_fields, source)) from None


def _order(source: Source, loc: tuple[int | str, ...], kind: str) -> tuple[int, int, int]:
    """Errors in the order of the file; of several at one place the most specific one."""
    place = source.place(tuple(loc), of_key=True)
    return (place.line or 0, -len(loc), kind not in ("extra_forbidden", "literal_error"))


def _known_fields(source: Source, path: KeyPath) -> list[str]:
    """Names of the fields that may stand in the group at ``path``."""
    group: Any = RecipeFields
    written: Any = source.data
    for step in path:
        field = group.model_fields.get(str(step)) if group is not None else None
        if field is None:
            continue
        written = written.get(step) if isinstance(written, dict) else None
        kind = written.get("kind") if isinstance(written, dict) else None
        models = _models_in(field.annotation)
        group = next((model for model in models if _is_kind(model, kind)), models[0] if models else None)
    return sorted(group.model_fields) if group is not None else []


def _is_kind(model: type[BaseModel], kind: object) -> bool:
    field = model.model_fields.get("kind")
    return field is not None and kind in getattr(field.annotation, "__args__", ())


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in getattr(annotation, "__args__", ()) for model in _models_in(part)]


def _read(source: Source, path: KeyPath, text: str, parse: Callable[[str], _T]) -> _T:
    try:
        return parse(text)
    except NotationError as error:
        raise RecipeError(error.message, hint=error.hint, place=source.place(path)) from None


def _read_chord(word: str, key: Key | None) -> Chord:
    """A chord symbol, or a numeral in the recipe's key. Raises NotationError, ChordSymbolError."""
    if not is_numeral(word):
        return parse_chord(word)
    if key is None:
        raise NotationError(
            f"the numeral '{word}' needs a key", hint="add a line such as 'key: G minor'"
        )
    return chord_from_numeral(word, key)


def _versions(source: Source, fields: RecipeFields, key: Key) -> tuple[Version, ...]:
    """Every key with every tempo that the recipe asks for, in the order written."""
    keys = _keys(source, fields, key)
    tempos = _tempos(source, fields)
    return tuple(
        Version(
            each_key,
            tempo,
            "".join(
                (
                    f".{each_key.tonic}{'m' if key.mode == 'minor' else ''}" if len(keys) > 1 else "",
                    f".{float(tempo):g}" if len(tempos) > 1 else "",
                )
            ),
        )
        for each_key in keys
        for tempo in tempos
    )


def _keys(source: Source, fields: RecipeFields, key: Key) -> tuple[Key, ...]:
    if fields.keys is None:
        return (key,)
    if isinstance(fields.keys, str):
        if fields.keys in CYCLES:
            return key_cycle(key, fields.keys)
        written = [fields.keys]
    else:
        written = list(fields.keys)
    keys: list[Key] = []
    for index, text in enumerate(written):
        path: KeyPath = ("keys",) if isinstance(fields.keys, str) else ("keys", index)
        try:
            # A bare tonic takes the recipe's own mode: keys: [F, Bb] of a minor tune are minor.
            is_bare = len(text.split()) == 1 and not text.endswith("m")
            keys.append(Key.parse(f"{text} {key.mode}" if is_bare else text))
        except NotationError as error:
            hint = f"write key names, or one of: {', '.join(CYCLES)}"
            raise RecipeError(error.message, hint=hint, place=source.place(path)) from None
        if keys[-1].mode != key.mode:
            raise RecipeError(
                f"{keys[-1]} is not a key of the same kind as {key}",
                hint=f"a {key.mode} tune goes into {key.mode} keys: write {keys[-1].tonic} {key.mode}",
                place=source.place(path),
            )
    if not keys:
        raise RecipeError(
            "'keys' is empty", hint="write [F, Bb] or fourths", place=source.place(("keys",))
        )
    return tuple(dict.fromkeys(keys))


def _tempos(source: Source, fields: RecipeFields) -> tuple[Fraction, ...]:
    """The tempos wanted, as written in decimals."""
    wanted = fields.tempos
    if wanted is None:
        return (Fraction(str(fields.tempo)),)
    if isinstance(wanted, LadderFields):
        start, end, step = (Fraction(str(value)) for value in (wanted.start, wanted.end, wanted.step))
        count = int(abs(end - start) / step) + 1
        if count > MAX_TEMPOS:
            raise RecipeError(
                f"that ladder has {count} tempos",
                hint=f"at most {MAX_TEMPOS}: take larger steps",
                place=source.place(("tempos", "step")),
            )
        sign = 1 if end >= start else -1
        return tuple(start + sign * index * step for index in range(count))
    if not wanted:
        raise RecipeError(
            "'tempos' is empty", hint="write [90, 110, 130]", place=source.place(("tempos",))
        )
    return tuple(dict.fromkeys(Fraction(str(tempo)) for tempo in wanted))


_Sections = tuple[Section, ...]


def _form(
    source: Source, fields: RecipeFields, reader: ChartReader
) -> tuple[_Sections, _Sections, _Sections]:
    """The sections of one chorus, of the intro and of the outro, in playing order."""
    if fields.chords is not None and fields.sections is not None:
        raise RecipeError(
            "'chords' and 'sections' both give a chart",
            hint="keep one: 'sections' for named parts, 'chords' for one stretch",
            place=source.place(("sections",), of_key=True),
        )
    if fields.sections is None:
        return (_one_section(source, fields, reader),), (), ()
    if not fields.sections:
        raise RecipeError(
            "'sections' is empty",
            hint="write 'A: Gm7 | C7 |' below it",
            place=source.place(("sections",)),
        )
    sections = {
        name: _section(source, name, written, reader) for name, written in fields.sections.items()
    }
    around = {*fields.intro, *fields.outro}
    usual = tuple(name for name in sections if name not in around)
    order = fields.form if fields.form is not None else usual
    if not order:
        raise RecipeError("'form' is empty", hint="write 'form: A A B A'", place=source.place(("form",)))
    form, intro, outro = (
        _ordered(source, field, names, sections)
        for field, names in (("form", order), ("intro", fields.intro), ("outro", fields.outro))
    )
    return form, intro, outro


def _one_section(source: Source, fields: RecipeFields, reader: ChartReader) -> Section:
    """The only section of a recipe with ``chords``."""
    if fields.chords is None:
        if isinstance(fields.exercise, Drill):
            return Section("A", (ChartBar(((None, reader.meter.bar_beats),)),))
        raise RecipeError(
            "the recipe has no chords",
            hint="write for example 'chords: Gm7 | C7 | Fmaj7 | D7b9 |'",
            place=source.place(()),
        )
    for name in ("form", "intro", "outro"):
        if getattr(fields, name):
            raise RecipeError(
                f"'{name}' needs 'sections' to name",
                hint=f"write 'sections:' with a chart for each name, or leave '{name}' away",
                place=source.place((name,), of_key=True),
            )
    return Section("A", unroll(reader.read(*source.written(("chords",)))))


def _ordered(
    source: Source, field: str, names: tuple[str, ...], sections: dict[str, Section]
) -> _Sections:
    for index, name in enumerate(names):
        if name not in sections:
            raise RecipeError(
                f"'{field}' names a section '{name}' that is not there",
                hint=did_you_mean(name, list(sections), always=True),
                place=source.place((field, index)),
            )
    return tuple(sections[name] for name in names)


def _section(source: Source, name: str, written: str | SectionFields, reader: ChartReader) -> Section:
    path: KeyPath = ("sections", name)
    if isinstance(written, SectionFields):
        return Section(
            name, unroll(reader.read(*source.written((*path, "chords")))), written.rest, written.loudness
        )
    return Section(name, unroll(reader.read(*source.written(path))))


def _parts(source: Source, fields: RecipeFields) -> tuple[PartName, ...]:
    """The parts played: those written or the usual ones of the exercise, less ``minus``."""
    exercise = fields.exercise
    if fields.parts is not None:
        wanted = fields.parts
    elif exercise is None:
        wanted = DEFAULT_PARTS
    elif isinstance(exercise, Drill):
        wanted = ("exercise",)
    elif isinstance(exercise, Study):
        wanted = tuple(name for name in PART_NAMES if name != "guide")
    else:
        wanted = PART_NAMES
    kept = tuple(name for name in dict.fromkeys(wanted) if name not in fields.minus)
    if not kept:
        field = "minus" if fields.minus else "parts"
        raise RecipeError(
            "no part is left to play" if fields.minus else "'parts' is empty",
            hint="name at least one: drums bass comping",
            place=source.place((field,)),
        )
    return kept


def _outputs(fields: RecipeFields) -> tuple[OutputName, ...]:
    """The files wanted. A count-in that is asked for can only be heard in the full take."""
    if fields.outputs is not None:
        return tuple(dict.fromkeys(fields.outputs))
    more: tuple[OutputName, ...] = ("take",) if fields.count_in else ()
    if isinstance(fields.exercise, Calls | Drill):
        return ("midi", "loop", *more, "answers", "captions")
    return (*DEFAULT_OUTPUTS, *more)
