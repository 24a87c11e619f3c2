"""What the commands ask for: check and build many recipes, examples, starter, schema."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from genex.band import groove_names
from genex.build.files import write_file
from genex.build.lesson import Job, Lesson, build_lesson, prepare, require_distinct
from genex.build.version import Report
from genex.errors import GenexError, InputError
from genex.hints import did_you_mean
from genex.recipe import json_schema, read_recipe, starter_text
from genex.recipe.slug import slug_of
from genex.resources import example_recipes


class SeveralRecipesError(InputError):
    """More than one recipe is wrong; the message holds all of their messages."""


def check_all(paths: Sequence[Path]) -> tuple[list[dict[str, Any]], list[GenexError]]:
    """Compose every recipe. Returns what each good one gives, and the errors of the others."""
    jobs, errors = _prepare_all(paths)
    answers = [
        {
            "recipe": str(path),
            "ok": True,
            "slug": job.recipe.slug,
            "title": job.recipe.title,
            "key": str(job.recipe.versions[0].key),
            "meter": str(job.recipe.meter),
            "tempo": float(job.recipe.versions[0].tempo),
            "versions": len(job.recipe.versions),
            "feel": job.piece.score.feel,
            "bars": len(job.piece.score.timeline.bars),
            "parts": [part.name for part in job.piece.score.parts],
            "outputs": list(job.recipe.outputs),
        }
        for path, job in jobs
    ]
    return answers, errors


def build_all(
    paths: Sequence[Path], out: Path, *, soundfont: Path | None, report: Report
) -> Iterator[Lesson]:
    """Check all recipes first, then build them one after the other. Raises GenexError."""
    jobs, errors = _prepare_all(paths)
    if len(errors) == 1:
        raise errors[0]
    if errors:
        raise SeveralRecipesError("\n".join(str(error) for error in errors))
    require_distinct([job for _, job in jobs])
    for _, job in jobs:
        yield build_lesson(job, out, soundfont=soundfont, report=report)


def _prepare_all(paths: Sequence[Path]) -> tuple[list[tuple[Path, Job]], list[GenexError]]:
    jobs: list[tuple[Path, Job]] = []
    errors: list[GenexError] = []
    for path in dict.fromkeys(paths):
        try:
            jobs.append((path, prepare(read_recipe(path))))
        except InputError as error:
            errors.append(error)
    return jobs, errors


def summary(lesson: Lesson) -> str:
    """What was built, one line a file."""
    lines = [f"{lesson.recipe.title}: {lesson.folder}"]
    for file in lesson.files:
        line = f"  {file.name}"
        if "length_samples" in file.facts:
            seconds = file.facts["length_samples"] / file.facts["sample_rate_hz"]
            line += f"  {int(seconds // 60)}:{seconds % 60:05.2f}"
            if "integrated_lufs" in file.facts:
                loudness = file.facts["integrated_lufs"]
                line += ", silent" if loudness is None else f", {loudness:.1f} LUFS"
        lines.append(line)
    return "\n".join(lines)


def check_line(answer: dict[str, Any]) -> str:
    """One line for a recipe that is in order."""
    bars = answer["bars"]
    return (
        f"{answer['recipe']}: in order: {answer['title']}, {bars} bar{'s' if bars != 1 else ''} of "
        f"{answer['meter']} in {answer['key']}, {answer['feel']} at {answer['tempo']:g}"
        + (f", and {answer['versions'] - 1} more keys and tempos" if answer["versions"] > 1 else "")
    )


def error_json(error: GenexError) -> dict[str, Any]:
    """An error as data."""
    place = error.place
    return {
        "ok": False,
        "message": error.message,
        "hint": error.hint,
        "file": place.file if place else None,
        "line": place.line if place else None,
        "column": place.column if place else None,
    }


def recipe_schema() -> dict[str, Any]:
    """The JSON Schema of a recipe; feels are offered by name, other text is allowed (own files)."""
    schema = json_schema()
    feel = schema["properties"]["feel"]
    feel["examples"] = list(groove_names())
    return schema


def list_examples() -> list[dict[str, str]]:
    """Name, title and file of each example recipe."""
    return [
        {"name": path.stem, "title": read_recipe(path).title, "file": str(path)}
        for path in sorted(example_recipes().glob("*.yaml"))
    ]


def new_recipe(name: str, *, example: str | None) -> Path:
    """Write a starter recipe, or a copy of an example, and return its path.

    ``name`` is a title (``Rain in May`` gives rain-in-may.yaml) or a path that ends in .yaml.
    An existing file is never overwritten. Raises InputError.
    """
    if not name.strip():
        raise InputError("the name is empty", hint="write for example: genex new 'Rain in May'")
    path = Path(name)
    if path.suffix.lower() not in (".yaml", ".yml"):
        path = Path(f"{slug_of(name)}.yaml")
        title = name.strip()
    else:
        title = path.stem.replace("-", " ").replace("_", " ").capitalize()
    files = {path: starter_text(title, path.name)} if example is None else _example_files(example, path)
    for target in files:
        if target.exists():
            raise InputError(f"'{target}' exists already", hint="choose another name, or edit that file")
    for target, text in files.items():
        write_file(target, text.encode())
    return path


def _example_files(name: str, path: Path) -> dict[Path, str]:
    """The example under a new name, and the groove file beside it if it has a feel of its own."""
    known = {found.stem: found for found in sorted(example_recipes().glob("*.yaml"))}
    if name not in known:
        raise InputError(f"there is no example '{name}'", hint=did_you_mean(name, known))
    files = {path: known[name].read_text("utf-8")}
    feel = read_recipe(known[name]).fields.feel
    if feel is not None and feel.endswith(".yaml"):
        files[path.parent / feel] = (known[name].parent / feel).read_text("utf-8")
    return files
