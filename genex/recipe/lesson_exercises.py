"""The exercises of a lesson, each as a recipe's file of its own.

title: Thursday Evening
key: C
sections: {A: Dm7 | G7 | Cmaj7 | %, B: Em7 | A7 | Dm7 | G7}
outputs: midi loop take handout
exercises:
  - {title: Shapes in Time, exercise: shapes, tempo: 70}
  - {title: Through the Changes, exercise: changes, form: B}

An entry has what the recipe says, but for what it says itself; some of its words leave others of the
recipe without a meaning (``GIVES_WAY``). Sheet, take and page are the lesson's: one for all.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from genex.errors import RecipeError
from genex.exercises.recipe_words import OutputName
from genex.recipe.fields import RecipeFields
from genex.recipe.folder_defaults import GROUPS
from genex.text.field_kinds import as_words
from genex.text.yaml_source import Source

OF_THE_LESSON = ("exercises", "letterhead", "language", "note_names", "font")
"""Fields that no entry has."""
OF_THE_SHEET = ("paper", "large_print")
"""Fields of ``handout`` that no entry has."""
_NOT_FOR_ENTRIES = ("title", "exercises", "aim", "remarks", "homework", "pins")
"""Fields of the recipe that its entries do not take over."""
_CHART = ("chords", "sections", "form", "intro", "outro", "turnaround")
GIVES_WAY = {
    # what an entry says: what of the recipe then has no meaning for it
    "chords": ("sections", "form", "intro", "outro", "turnaround", "stops", "scales", "pickup"),
    "sections": ("chords", "form", "intro", "outro", "turnaround", "stops", "scales", "pickup"),
    "form": ("intro", "outro", "turnaround", "stops", "pickup"),
    "tempo": ("tempos", "tempo_steps"),
    "tempos": ("tempo", "tempo_steps"),
    "tempo_steps": ("tempos",),
    "feel": ("meter", "swing"),
}
SHEET_OUTPUTS: tuple[OutputName, ...] = ("handout", "spoken")
"""Files that are made once for all exercises, and of none besides."""
WHOLE_OUTPUTS: tuple[OutputName, ...] = (*SHEET_OUTPUTS, "take", "page")
"""All files that are made once for all exercises."""
TAKE_OUTPUTS: tuple[OutputName, ...] = ("midi", "captions", "timeline")
"""Files that are made of each exercise, and of the take of all besides."""


def has_exercises(source: Source) -> bool:
    """Whether a recipe's file lists exercises."""
    return isinstance(source.data, dict) and source.data.get("exercises") is not None


def entries(source: Source) -> list[Source]:
    """A recipe's file for each of its exercises, places kept. Raises RecipeError.

    ``source.data["exercises"]`` is a list of groups of fields.
    """
    written = source.data["exercises"]
    if not written:
        raise RecipeError(
            "'exercises' is empty",
            hint="write each on a line: '- {title: Shapes in Time, exercise: shapes}'",
            place=source.place(("exercises",)),
        )
    return [_entry(source, index, entry) for index, entry in enumerate(written)]


def _entry(source: Source, index: int, written: dict[str, Any]) -> Source:
    own = source.below(("exercises", index))
    for name in OF_THE_LESSON:
        if name in written:
            raise RecipeError(
                f"'{name}' is the whole lesson's",
                hint="write it above 'exercises', at the left margin",
                place=own.place((name,), of_key=True),
            )
    if not str(written.get("title") or "").strip():
        raise RecipeError(
            f"exercise {index + 1} has no title",
            hint="give it one: 'title: Shapes in Time'",
            place=own.place(("title",)),
        )
    _require_not_whole(own)
    gone = {name for word in written for name in GIVES_WAY.get(word, ())}
    names = [
        name for name in RecipeFields.model_fields if name not in _NOT_FOR_ENTRIES and name not in gone
    ]
    ground = source
    if isinstance(sheet := source.data.get("handout"), dict) and "writing_lines" in sheet:
        # Lines to write on stand once, at the end.
        kept = {name: value for name, value in sheet.items() if name != "writing_lines"}
        ground = replace(source, data={**source.data, "handout": kept})
    filled = own.filled_up(ground, names, GROUPS)
    # Charts are read as they are written: their text stands in this very file.
    charts = {name for name in _CHART if filled.lent.get((name,)) is ground}
    return replace(
        filled,
        values=filled.values
        | {path: at for path, at in source.values.items() if path[:1] and path[0] in charts},
        keys=filled.keys | {path: at for path, at in source.keys.items() if path[0] in charts},
    )


def _require_not_whole(own: Source) -> None:
    """Raise RecipeError for what an entry says of the one sheet."""
    sheet = own.data.get("handout")
    for name in OF_THE_SHEET if isinstance(sheet, dict) else ():
        if name in sheet:
            raise RecipeError(
                f"'{name}' is the whole sheet's",
                hint=f"write 'handout: {{{name}: …}}' above 'exercises', at the left margin",
                place=own.place(("handout", name), of_key=True),
            )
    listed = as_words(own.data.get("outputs"))
    for name in SHEET_OUTPUTS if isinstance(listed, list) else ():
        if name in listed:
            raise RecipeError(
                f"'{name}' is one for all exercises",
                hint="write it into 'outputs' above 'exercises'; 'handout: {blocks: …}' says what an "
                "exercise has on it",
                place=own.place(("outputs",)),
            )
