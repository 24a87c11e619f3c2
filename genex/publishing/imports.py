"""``genex import``: a chart in another format becomes a recipe on the disk."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from genex.compose import compose, usual_of_feel
from genex.errors import InputError, Place
from genex.publishing.files import write_file
from genex.readers.charts import read_chart, recipe_text
from genex.readers.charts.foreign_chart import ForeignChart
from genex.recipe import parse_recipe
from genex.recipe.slug import slug_of


def import_chart(file: Path, out: Path | None, number: int | None) -> dict[str, Any]:
    """Write the recipe of a chart, and tell what was read and what not.

    Without ``out`` it is named by its title, in the current folder. An existing file is never
    overwritten. What is written has been read as a recipe before. Raises InputError.
    """
    chart = read_chart(file, number)
    text = _playable(chart, _title_of(file))
    target = out or Path(f"{slug_of(chart.title, file.stem)}.yaml")
    if target.suffix.lower() not in (".yaml", ".yml"):
        raise InputError(
            f"'{target}' is not the name of a recipe", hint=f"write '--out {target.name}.yaml'"
        )
    if target.exists():
        raise InputError(
            f"'{target}' exists already", hint="choose another name with --out, or edit that file"
        )
    recipe = parse_recipe(text, str(target), usual_of_feel)
    write_file(target, text.encode())
    return {
        "file": str(target),
        "format": chart.format,
        "title": recipe.title,
        "key": str(recipe.key),
        "meter": str(recipe.meter),
        "bars": sum(len(section.bars) for section in recipe.form),
        "sections": list(dict.fromkeys(section.name for section in recipe.form)),
        "left_out": chart.listed,
    }


def _playable(chart: ForeignChart, title: str) -> str:
    """The recipe with its melody, an octave lower or higher where the instrument has it there; without
    it where it cannot be played at all. Raises InputError."""
    if not any(bar.notes for bar in chart.bars):
        return recipe_text(chart, title)
    refusal: InputError | None = None
    for octave in (0, -1, 1):
        text = recipe_text(chart, title, octave)
        try:
            compose(parse_recipe(text, chart.file, usual_of_feel))
        except InputError as error:
            refusal = refusal or error
            continue
        if octave:
            where = "lower" if octave < 0 else "higher"
            chart.leave(f"the melody stands an octave {where}", Place(chart.file))
            text = recipe_text(chart, title, octave)
        return text
    assert refusal is not None
    chart.leave(f"the melody, as {refusal.message}", Place(chart.file))
    return recipe_text(chart, title, None)


def imported_text(answer: dict[str, Any]) -> str:
    """What was read, in one line, and where it stands."""
    return (
        f"{answer['file']}: {answer['title']}, {answer['bars']} bars of {answer['meter']} in "
        f"{answer['key']}, from {answer['format']}"
    )


def _title_of(file: Path) -> str:
    return file.stem.replace("_", " ").replace("-", " ").strip().capitalize() or "Imported"
