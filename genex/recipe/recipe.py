"""A recipe file read, validated, and its chart turned into bars."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from random import Random

from genex.errors import NotationError, Place, RecipeError
from genex.exact import Fraction, decimal
from genex.exercises.recipe_words import DEFAULT_OUTPUTS, DEFAULT_PARTS, OutputName, PartName
from genex.plain_text import clean
from genex.recipe.chart_bars import ChartBar
from genex.recipe.chart_reader import ChartReader
from genex.recipe.common_mistakes import WORDING
from genex.recipe.consistency import Facts, not_made, require_consistent
from genex.recipe.fields import RecipeFields
from genex.recipe.folder_defaults import with_defaults
from genex.recipe.form import Section, form_of, pickup_of, read_field, turnaround_of
from genex.recipe.jumps import Jump
from genex.recipe.lesson_exercises import (
    SHEET_OUTPUTS,
    TAKE_OUTPUTS,
    WHOLE_OUTPUTS,
    entries,
    has_exercises,
)
from genex.recipe.slug import slug_of
from genex.recipe.versions import Version, versions_of
from genex.recipe.wishes import ScaleWishes, scale_wishes
from genex.score import Meter
from genex.text.messages import validated
from genex.text.yaml_source import KeyPath, Source, parse_source, read_source
from genex.theory import Chord, Key, chord_from_numeral, is_numeral, likely_key, parse_chord

MAX_PLAYED_BARS = 4096
_ANY_KEY = Key.parse("C")
USUAL_METER, USUAL_TEMPO = Meter(4, 4), 110.0


@dataclass(frozen=True)
class Usual:
    """What a recipe takes from its feel where it does not say it itself.

    meter  the meter that the feel is played in, the first of several; None where any will do
    tempo  its usual tempo, in pulses of the meter a minute
    """

    meter: Meter | None = None
    tempo: float = USUAL_TEMPO


UsualOf = Callable[[str, Place], Usual]
"""What is usual for a feel, by the name written at a place. Raises GrooveError, RecipeError."""


def any_feel(name: str, place: Place) -> Usual:
    """What is usual where nothing is known of feels."""
    return Usual()


@dataclass(frozen=True)
class Recipe:
    """A validated recipe.

    ``fields`` holds what was written, with defaults; the other attributes are what follows
    from it. ``form`` lists the sections of one chorus in playing order, ``intro`` and ``outro``
    those before the first and after the last chorus. ``pickup_beats`` come before the first bar.
    ``form_jumps`` lead from one section of the chorus to another.
    ``draws`` are numbers that this lesson and
    those before it in its series draw by seed and title, its own the last. ``usual_tempo`` is the tempo
    that those of sections are in proportion to, in pulses a minute: the one that is written, else that
    of the first of all versions.

    A lesson of several exercises has each as a recipe of its own in ``exercises``. Chart, key, meter
    and parts are then those of the first, ``outputs`` what is made once for all, and ``versions``
    the keys and tempos of the whole.
    """

    fields: RecipeFields
    source: Source
    title: str
    slug: str
    meter: Meter
    key: Key
    scales: ScaleWishes
    form: tuple[Section, ...]
    intro: tuple[Section, ...]
    outro: tuple[Section, ...]
    turnaround: tuple[ChartBar, ...]
    versions: tuple[Version, ...]
    parts: tuple[PartName, ...]
    outputs: tuple[OutputName, ...]
    draws: tuple[int, ...] = ()
    exercises: tuple[Recipe, ...] = ()
    pickup_beats: Fraction = Fraction(0)
    form_jumps: tuple[Jump, ...] = ()
    usual_tempo: Fraction = Fraction(0)

    @property
    def sections(self) -> tuple[Section, ...]:
        """Every section that is played, each as often as one chorus, intro and outro have it."""
        return (*self.intro, *self.form, *self.outro)

    def place(self, *path: str | int) -> Place:
        """Where a field stands in the file."""
        return self.source.place(path)

    def place_inside(self, path: KeyPath, line: int, column: int) -> Place:
        """Where a line and a column, both from 1, of the text in a field stand in the file."""
        return self.source.place_inside(path, line, column)


def read_recipe(path: Path, usual_of: UsualOf = any_feel) -> Recipe:
    """Read and validate a recipe file. Raises RecipeError with file, line, column and hint.

    ``usual_of`` knows the feels, which this room does not: it gives meter and tempo to a recipe
    that names a feel without them.
    """
    return recipe_of(with_defaults(read_source(path)), path.stem, usual_of)


def parse_recipe(text: str, file: str = "recipe.yaml", usual_of: UsualOf = any_feel) -> Recipe:
    """Validate recipe text, as ``read_recipe``, which inherits nothing.

    Raises RecipeError with line, column and hint.
    """
    return recipe_of(parse_source(text, file), Path(file).stem, usual_of)


def recipe_of(source: Source, stem: str, usual_of: UsualOf = any_feel) -> Recipe:
    """Validate a parsed file; ``stem`` names a recipe without a title. Raises RecipeError."""
    fields = validated(RecipeFields, source, WORDING)
    if has_exercises(source):
        return _lesson_of(source, fields, stem, usual_of)
    feel = (fields.feel or "").strip()
    usual = usual_of(feel, source.place(("feel",))) if feel else Usual()
    title = _title_of(source, fields, stem)
    meter = usual.meter or USUAL_METER
    if fields.meter is not None:
        meter = read_field(source, ("meter",), fields.meter, Meter.parse)
    key = read_field(source, ("key",), fields.key, Key.parse) if fields.key is not None else None
    reader = ChartReader(source, meter, partial(read_chord, key=key))
    played_form = form_of(source, fields, reader)
    form, intro, outro = played_form.chorus, played_form.intro, played_form.outro
    if key is None:
        key = likely_key(
            chord
            for section in form
            for bar in section.bars
            for chord, _ in bar.chords
            if chord is not None
        )
    played = fields.repeats * _bar_count(form) + _bar_count(intro) + _bar_count(outro)
    if played > MAX_PLAYED_BARS:
        field = "repeats" if "repeats" in source.data else "form"
        raise RecipeError(
            f"the recipe asks for {played} bars",
            hint=f"at most {MAX_PLAYED_BARS} bars are played: lower 'repeats' or shorten the chart",
            place=source.place((field,)),
        )
    sections = (*intro, *form, *outro)
    facts = Facts(source, fields, meter, form, sections, _parts(source, fields), ())
    facts = replace(facts, outputs=_outputs(facts))
    require_consistent(facts)
    versions = versions_of(source, fields, key, usual.tempo)
    return Recipe(
        fields=fields,
        source=source,
        title=title,
        slug=slug_of(title, stem),
        meter=meter,
        key=key,
        scales=scale_wishes(fields.scales),
        form=form,
        intro=intro,
        outro=outro,
        turnaround=turnaround_of(source, form, reader),
        form_jumps=played_form.jumps,
        pickup_beats=pickup_of(source, fields, sections[0].bars[0].meter or meter),
        versions=versions,
        usual_tempo=versions[0].tempo if fields.tempo is None else decimal(fields.tempo),
        parts=facts.parts,
        outputs=facts.outputs,
        draws=(Random(f"{fields.seed}/{title}").randrange(2**32),),
    )


def _lesson_of(source: Source, fields: RecipeFields, stem: str, usual_of: UsualOf) -> Recipe:
    """A lesson of several exercises. Raises RecipeError."""
    title = _title_of(source, fields, stem)
    made = drawn_apart(recipe_of(entry, stem, usual_of) for entry in entries(source))
    exercises = tuple(
        replace(one, slug=f"{number:02}-{slug_of(one.title, stem)}", outputs=_of_an_entry(one))
        for number, one in enumerate(made, start=1)
    )
    first = exercises[0]
    wanted = _outputs(Facts(source, fields, first.meter, first.form, first.sections, first.parts, ()))
    outputs = tuple(name for name in WHOLE_OUTPUTS if name in wanted)
    if "take" in outputs:
        outputs += tuple(name for name in TAKE_OUTPUTS if name in wanted)
    return replace(
        first,
        fields=fields,
        source=source,
        title=title,
        slug=slug_of(title, stem),
        versions=_whole_versions(source, exercises),
        outputs=outputs,
        draws=(),
        exercises=exercises,
    )


def _of_an_entry(recipe: Recipe) -> tuple[OutputName, ...]:
    """What is made of an exercise alone: a take or a page only where its own entry says so."""
    own = recipe.source.is_own(("outputs",))
    return tuple(
        name
        for name in recipe.outputs
        if name not in WHOLE_OUTPUTS or (own and name not in SHEET_OUTPUTS)
    )


def _whole_versions(source: Source, exercises: Sequence[Recipe]) -> tuple[Version, ...]:
    """The keys and tempos that the recipe asks for, as an exercise has them that leaves them alone."""
    asked = {name: source.data[name] for name in ("keys", "tempos") if name in source.data}
    for one in exercises if asked else ():
        if all(one.source.data.get(name) == value for name, value in asked.items()):
            return one.versions
    return (replace(exercises[0].versions[0], suffix=""),)


def drawn_apart(lessons: Iterable[Recipe]) -> tuple[Recipe, ...]:
    """The lessons, each of which knows what those before it with the same kind of exercise drew."""
    drawn: dict[str, tuple[int, ...]] = {}
    found = []
    for lesson in lessons:
        exercise = lesson.fields.exercise
        if exercise is None or not exercise.begins_apart:
            found.append(lesson)
            continue
        drawn[exercise.kind] = (*drawn.get(exercise.kind, ()), *lesson.draws)
        found.append(replace(lesson, draws=drawn[exercise.kind]))
    return tuple(found)


def _title_of(source: Source, fields: RecipeFields, stem: str) -> str:
    """The title written, else one made of the file's name. Raises RecipeError."""
    _require_whole_title(source)
    title = clean(fields.title or "").strip()
    return title or clean(stem).replace("_", " ").replace("-", " ").strip().capitalize()


def _require_whole_title(source: Source) -> None:
    """Raise RecipeError where YAML takes the end of a title for a remark: ``Lesson #3``."""
    at = source.cut_short(("title",)) if ("title",) in source.values else None
    if at is not None:
        raise RecipeError(
            "after a blank, # begins a remark and the rest of the title is lost",
            hint="put the title into quotes",
            place=source.place_at(at),
        )


def _bar_count(sections: tuple[Section, ...]) -> int:
    return sum(len(section.bars) for section in sections)


def read_chord(word: str, key: Key | None) -> Chord:
    """A chord symbol, or a numeral in the recipe's key. Raises NotationError, ChordSymbolError."""
    if not is_numeral(word):
        return parse_chord(word)
    if key is None:
        chord_from_numeral(word, _ANY_KEY)  # what is no numeral in any key lacks no key
        ending = f"; an ending begins with [{word}." if word in ("1", "2", "3", "4") else ""
        raise NotationError(
            f"the numeral '{word}' needs a key", hint="add a line such as 'key: G minor'" + ending
        )
    return chord_from_numeral(word, key)


def _parts(source: Source, fields: RecipeFields) -> tuple[PartName, ...]:
    """The parts played: those written or the usual ones of the exercise, less ``minus``."""
    exercise = fields.exercise
    if fields.parts is not None:
        wanted = fields.parts
    else:
        wanted = DEFAULT_PARTS if exercise is None else exercise.usual_parts
    if fields.click is not None:
        wanted = (*wanted, "click")
    kept = tuple(name for name in dict.fromkeys(wanted) if name not in fields.minus)
    if not kept:
        field = "minus" if fields.minus else "parts"
        raise RecipeError(
            "no part is left to play" if fields.minus else "'parts' is empty",
            hint="name at least one: drums bass comping",
            place=source.place((field,)),
        )
    return kept


def _outputs(facts: Facts) -> tuple[OutputName, ...]:
    """The files wanted: those written, or the usual ones of the exercise.

    A count-in that is asked for can only be heard in the full take; fields for a handout or
    diagrams are a wish for them where they stand in the recipe itself. Of inherited outputs those
    are made that there can be.
    """
    fields, is_own = facts.fields, facts.source.is_own
    if fields.outputs is not None:
        wanted = fields.outputs
    else:
        wanted = DEFAULT_OUTPUTS if fields.exercise is None else fields.exercise.usual_outputs
    if fields.outputs is not None and not is_own(("outputs",)):
        wanted = tuple(name for name in wanted if not_made(replace(facts, outputs=wanted), name) is None)
    if fields.outputs is None and fields.count_in:
        wanted = (*wanted, "take")
    if fields.handout is not None and is_own(("handout",)):
        wanted = (*wanted, "handout")
    if fields.diagrams is not None and is_own(("diagrams",)):
        wanted = (*wanted, "diagrams")
    return tuple(dict.fromkeys(wanted))
