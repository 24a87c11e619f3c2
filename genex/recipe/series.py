"""A recipe for many lessons: a list of recipes, or a matrix of chord types and roots; a book.

title: First Term
lessons: [kettle-on.yaml, five-shapes.yaml]      recipes, relative to this file

title: Sevenths in Fourths
matrix:
  types: [maj7, m7, "7"]                         chord-symbol suffixes; major for a triad
  roots: fourths                                 names, or a cycle from C
  lesson: {exercise: tour, tempo: 80}            fields that every lesson has

title: Book of Sevenths
book: {types: [maj7, m7, "7"], roots: [C]}       a chord-type book
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from genex.errors import ChordSymbolError, NotationError, RecipeError
from genex.inputs import DEFAULTS_FILE
from genex.plain_text import clean
from genex.recipe.common_mistakes import WORDING
from genex.recipe.consistency import is_beside, letterhead_faults
from genex.recipe.fields import Language, LetterheadFields, RecipeFields
from genex.recipe.folder_defaults import INHERITED, with_defaults
from genex.recipe.recipe import Recipe, UsualOf, drawn_apart, recipe_of
from genex.recipe.slug import slug_of
from genex.text.field_kinds import AS_WORDS, Fields, Text
from genex.text.messages import plain_word, validated
from genex.text.yaml_source import KeyPath, Source, parse_source, read_source
from genex.theory import CYCLES, Chord, Key, NoteName, NoteNames, key_cycle, parse_chord

MAX_LESSONS = 400
_MAJOR = ("major", "maj", "M")
_WORDING = replace(
    WORDING,
    fields={
        **WORDING.fields,
        **{
            plain_word(name): f"'{name}' belongs into each recipe, or into 'lesson' below 'matrix'"
            for name in RecipeFields.model_fields
        },
    },
)
_Words = Annotated[tuple[Text, ...], AS_WORDS]
_Filled = Callable[[Source, Sequence[str]], Source]
"""Fills a file up with what it inherits of some fields."""
_OF_A_BOOK = ("left_handed", "tuning", "fingerings", "letterhead")
"""What a series itself inherits."""


class _Chords(Fields):
    types: _Words = Field(description="Chord types as in chord symbols: major m 7 maj7 m7b5.")
    roots: _Words = Field(default=("C",), description="Roots, or one cycle such as fourths.")


class MatrixFields(_Chords):
    """A lesson for every chord type on every root."""

    lesson: dict[Text, Any] = Field(
        default={"exercise": "tour"}, description="Fields that every lesson has."
    )


class BookFields(_Chords):
    """A chord-type book: contents, a spread a chord, an index."""

    paper: Literal["a4", "letter"] = Field(default="a4", description="Size of the paper.")
    pages: bool = Field(default=False, description="Every chord as pages and pictures of its own too.")
    closed: bool = Field(default=False, description="Leave the open position out.")
    posters: bool = Field(
        default=False, description="A poster of every type too, over twelve roots on one large sheet."
    )
    date: Text | None = Field(
        default=None, max_length=60, description="Date for the colophon, as it is to be printed."
    )
    licence: Text | None = Field(
        default=None, max_length=300, description="Licence for the colophon, in a line."
    )


SERIES_MARKS = ("lessons", "matrix", "book")
"""Fields that make a recipe a series."""


class SeriesFields(Fields):
    """A recipe for many lessons."""

    title: Text | None = Field(default=None, max_length=300, description="Name of the series.")
    lessons: list[Text] | None = Field(default=None, description="Recipe files, in teaching order.")
    matrix: MatrixFields | None = Field(default=None, description="Chord types times roots.")
    book: BookFields | None = Field(default=None, description="A book of chord types.")
    bound: bool = Field(
        default=False,
        description="All handouts as one PDF too: cover, contents with aims, pages numbered through.",
    )
    left_handed: bool = Field(default=False, description="Mirror the book's diagrams.")
    language: Language = Field(default="en", description="The book's language, as in a recipe.")
    note_names: NoteNames = Field(
        default="english", description="How the book names notes, as in a recipe."
    )
    font: Text | None = Field(default=None, description="A font for the book, as in a recipe.")
    tuning: Text | list[Text] = Field(default="standard", description="The book's tuning.")
    fingerings: Text | None = Field(
        default=None,
        description="The book's file of own shapes; fingerings.txt beside it if left away.",
    )
    letterhead: LetterheadFields | None = Field(
        default=None,
        description="Who hands out the book and the bound handouts, as in a recipe.",
    )


@dataclass(frozen=True)
class Series:
    """A validated series. ``chords`` are those of the book, in its order."""

    fields: SeriesFields
    source: Source
    title: str
    slug: str
    lessons: tuple[Recipe, ...]
    chords: tuple[Chord, ...]


def read_lessons(path: Path, usual_of: UsualOf) -> Recipe | Series:
    """A recipe or a series, by what the file holds; ``usual_of`` as in ``read_recipe``.

    Raises RecipeError.
    """
    if path.name == DEFAULTS_FILE:
        with_defaults(replace(read_source(path), data={}))  # what is wrong in it comes first
        raise RecipeError(
            f"'{path}' is no recipe: the recipes beside and below it inherit what it says",
            hint="name one of them",
        )
    return _read(read_source(path), path, usual_of, with_defaults)


def parse_lessons(text: str, file: str, usual_of: UsualOf) -> Recipe | Series:
    """As ``read_lessons``, from text, which inherits nothing.

    ``file`` is its name, and files beside it are looked for there. Raises RecipeError.
    """
    return _read(parse_source(text, file), Path(file), usual_of, lambda source, _: source)


def _read(source: Source, path: Path, usual_of: UsualOf, filled: _Filled) -> Recipe | Series:
    if _is_series(source):
        return _series_of(source, path, usual_of, filled)
    return recipe_of(filled(source, INHERITED), path.stem, usual_of)


def series_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a series."""
    return SeriesFields.model_json_schema()


def _is_series(source: Source) -> bool:
    return isinstance(source.data, dict) and bool(set(SERIES_MARKS) & source.data.keys())


def _series_of(source: Source, path: Path, usual_of: UsualOf, filled: _Filled) -> Series:
    source = filled(source, _OF_A_BOOK)
    fields = validated(SeriesFields, source, _WORDING)
    for fault in letterhead_faults(fields.letterhead, source):
        raise fault
    title = clean(fields.title or path.stem.replace("-", " ").capitalize()).strip()
    lessons = drawn_apart(
        (
            *_listed(source, fields, path.parent, usual_of),
            *_matrix(source, fields, usual_of, filled),
        )
    )
    if len(lessons) > MAX_LESSONS:
        raise RecipeError(
            f"the series has {len(lessons)} lessons",
            hint=f"at most {MAX_LESSONS}: make several series",
            place=source.place(()),
        )
    book = fields.book
    chords = _chords(source, ("book",), book.types, book.roots) if book is not None else ()
    if not lessons and not chords:
        raise RecipeError("the series has no lessons", hint="list recipe files", place=source.place(()))
    if fields.bound and not any("handout" in lesson.outputs for lesson in lessons):
        raise RecipeError(
            "there is no handout to bind",
            hint="add handout to the outputs of a lesson",
            place=source.place(("bound",)),
        )
    return Series(fields, source, title, slug_of(title, path.stem), lessons, chords)


def _listed(source: Source, fields: SeriesFields, folder: Path, usual_of: UsualOf) -> Iterable[Recipe]:
    for index, name in enumerate(fields.lessons or ()):
        if not is_beside(folder, name):
            raise RecipeError(
                f"there is no recipe '{name}'",
                hint="write the path as seen from this file",
                place=source.place(("lessons", index)),
            )
        read = read_source(folder / name)
        if _is_series(read):
            raise RecipeError(
                f"'{name}' is a series itself, and a series cannot hold another",
                hint=f"list the recipes of '{name}' here",
                place=source.place(("lessons", index)),
            )
        yield recipe_of(with_defaults(read), Path(name).stem, usual_of)


def _matrix(
    source: Source, fields: SeriesFields, usual_of: UsualOf, filled: _Filled
) -> Iterable[Recipe]:
    matrix = fields.matrix
    if matrix is None:
        return
    for chord in _chords(source, ("matrix",), matrix.types, matrix.roots):
        given = {"title": str(chord), "chords": str(chord), **matrix.lesson}
        made = parse_source(json.dumps(given), source.file)
        # The recipe was made from the template: that is where any fault is.
        made = replace(made, origin=source.place(("matrix", "lesson")))
        yield recipe_of(filled(made, INHERITED), Path(source.file).stem, usual_of)


def _chords(
    source: Source, path: KeyPath, types: tuple[str, ...], roots: tuple[str, ...]
) -> tuple[Chord, ...]:
    """Every type on every root, type by type. Raises RecipeError."""
    if not types:
        raise RecipeError(
            "no chord type is named", hint="write for example [major, m7]", place=source.place(path)
        )
    found = []
    for index, kind in enumerate(types):
        for name in _roots(source, (*path, "roots"), roots):
            try:
                found.append(parse_chord(f"{name}{'' if kind in _MAJOR else kind}"))
            except ChordSymbolError as error:
                place = source.place((*path, "types", index))
                raise RecipeError(error.message, hint=error.hint, place=place) from None
    return tuple(found)


def _roots(source: Source, path: KeyPath, roots: tuple[str, ...]) -> Iterable[NoteName]:
    if " ".join(roots) in CYCLES:
        return [key.tonic for key in key_cycle(Key(NoteName.parse("C")), " ".join(roots))]
    try:
        return [NoteName.parse(root) for root in roots]
    except NotationError as error:
        hint = f"write note names, or one of: {', '.join(CYCLES)}"
        raise RecipeError(error.message, hint=hint, place=source.place(path)) from None
