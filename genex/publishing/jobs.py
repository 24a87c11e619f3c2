"""What the commands ask for: check and build many recipes, examples, starter, schema."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Literal

from genex.band import groove_names, groove_schema
from genex.compose import recipe_groove, tempo_note, usual_of_feel
from genex.errors import GenexError, InputError, SeveralRecipesError
from genex.exercises import sources_of
from genex.hints import did_you_mean
from genex.lines.measures import figures_of
from genex.publishing.files import write_file
from genex.publishing.harmony_table import keys_line
from genex.publishing.lessons import Lesson, build_lessons, require_distinct
from genex.publishing.maker import Job, prepare, soundfont_path
from genex.publishing.series_files import SeriesJob, finish_series, folder_names, prepare_series
from genex.publishing.up_to_date import Request, remember
from genex.publishing.version_files import Report
from genex.publishing.workshop import Workshop, seldom_collecting
from genex.recipe import (
    Recipe,
    Series,
    json_schema,
    read_lessons,
    retitled,
    starter_text,
)
from genex.recipe.series import SERIES_MARKS, series_schema
from genex.recipe.slug import slug_of
from genex.resources import example_recipes
from genex.score import Role, Score


@seldom_collecting()
def check_all(paths: Sequence[Path]) -> tuple[list[dict[str, Any]], list[GenexError]]:
    """Compose every recipe. Returns what each good one gives, and the errors of the others."""
    checked, errors = _prepare_all(paths)
    with Workshop(_lessons(checked), None, lambda text: None, only_checks=True) as workshop:
        checked, more = _without_faulty(checked, workshop.check())
    errors += more
    return [
        _series_answer(p, job) if isinstance(job, SeriesJob) else _answer(p, job) for p, job in checked
    ], errors


def _answer(path: Path, job: Job) -> dict[str, Any]:
    recipe, score, groove = job.recipe, job.piece.score, recipe_groove(job.recipe)
    tempos = [float(change.pulses(recipe.meter)) for change in score.tempo.changes]
    return {
        "recipe": str(path),
        "ok": True,
        "slug": recipe.slug,
        "title": recipe.title,
        "key": str(recipe.versions[0].key),
        "meter": str(recipe.meter),
        "tempo": tempos[0],
        "last_tempo": tempos[-1],
        "versions": len(recipe.versions),
        "feel": score.feel,
        "feel_tempo": {"from": groove.tempo_low, "to": groove.tempo_high},
        "bars": len(score.timeline.bars),
        "keys": keys_line(score.timeline),
        "lines": _lines(score),
        "parts": [part.name for part in score.parts],
        "outputs": list(recipe.outputs),
        "notes": notes_on(job),
    }


def _lines(score: Score) -> dict[str, str]:
    """What the lead parts that improvise amount to, in numbers."""
    return {
        part.name: str(figures_of(score.timeline, part.notes))
        for part in score.parts
        if part.role is Role.LEAD and part.notes
    }


def _series_answer(path: Path, job: SeriesJob) -> dict[str, Any]:
    series = job.series
    return {
        "recipe": str(path),
        "ok": True,
        "slug": series.slug,
        "title": series.title,
        "lessons": folder_names(job),
        "book": [str(chord) for chord in series.chords],
        "notes": notes_on(job),
    }


def notes_on(job: Job | SeriesJob) -> list[str]:
    """What a recipe's author should know though nothing is wrong, a line each."""
    recipes = job.series.lessons if isinstance(job, SeriesJob) else (job.recipe,)
    found = (tempo_note(recipe) for recipe in recipes)
    return list(dict.fromkeys(text for text in found if text is not None))


def build_all(
    paths: Sequence[Path],
    out: Path,
    *,
    soundfont: Path | None,
    report: Report,
    unchanged: Sequence[Path] = (),
    note: Report | None = None,
) -> Iterator[str]:
    """Check all recipes first, then build them, several at a time. Raises GenexError.

    Yields what was built, in words, as it is done. ``unchanged`` are recipes whose lessons are up
    to date and keep their folders. ``note`` is told what an author should know.
    """
    with seldom_collecting():
        checked, errors = _prepare_all(paths)
    jobs = _lessons(checked)
    with Workshop(jobs, soundfont, report) as workshop:
        errors += _without_faulty(checked, workshop.check())[1]
        if len(errors) == 1:
            raise errors[0]
        if errors:
            raise SeveralRecipesError("\n".join(str(error) for error in errors))
        read = (read_lessons(path, usual_of_feel) for path in unchanged)
        kept = [recipe for recipe in read if not isinstance(recipe, Series)]
        require_distinct([*kept, *(job.recipe for _, job in checked if isinstance(job, Job))])
        if note is not None:
            for text in (text for _, job in checked for text in notes_on(job)):
                note(text)
        folders = [folder for _, job in checked for folder in _folders(job, out)]
        lessons = build_lessons(jobs, folders, workshop, soundfont=soundfont)
        for path, job in checked:
            printed: list[str] = []
            written: list[Path] = []
            for done in _built(job, lessons, out, report):
                printed.append(summary(done))
                written += [done] if isinstance(done, Path) else done.paths
                yield printed[-1]
            remember(Request(path, out, soundfont), _inputs(path, job, soundfont), written, printed)


def build_one(
    job: Job | SeriesJob, out: Path, *, soundfont: Path | None, processes: int
) -> Iterator[Lesson | Path]:
    """Build a checked recipe, in at most so many processes; 1 is this one. Raises GenexError.

    Yields its lesson, or the lessons and the files of a series, as they are done.
    """
    jobs = _lessons([(out, job)])
    with Workshop(jobs, soundfont, lambda text: None, most_workers=processes) as workshop:
        for error in workshop.check().values():
            raise error
        lessons = build_lessons(jobs, _folders(job, out), workshop, soundfont=soundfont)
        yield from _built(job, lessons, out, lambda text: None)


def _built(
    job: Job | SeriesJob, lessons: Iterator[Lesson], out: Path, report: Report
) -> Iterator[Lesson | Path]:
    if isinstance(job, Job):
        yield next(lessons)
        return
    made = []
    for _ in job.jobs:
        made.append(next(lessons))
        yield made[-1]
    yield from finish_series(job, made, out / job.series.slug, report)


def _lessons(checked: Sequence[tuple[Path, Job | SeriesJob]]) -> list[Job]:
    """The lessons of all recipes, one after the other."""
    return [one for _, job in checked for one in (job.jobs if isinstance(job, SeriesJob) else (job,))]


def _folders(job: Job | SeriesJob, out: Path) -> list[Path]:
    """Where the lessons of a recipe go."""
    if isinstance(job, Job):
        return [out / job.recipe.slug]
    return [out / job.series.slug / name for name in folder_names(job)]


def _without_faulty(
    checked: Sequence[tuple[Path, Job | SeriesJob]], faults: Mapping[int, InputError]
) -> tuple[list[tuple[Path, Job | SeriesJob]], list[GenexError]]:
    """The recipes without those that have a lesson at fault, and the first fault of each."""
    good: list[tuple[Path, Job | SeriesJob]] = []
    errors: list[GenexError] = []
    number = 0
    for path, job in checked:
        count = len(job.jobs) if isinstance(job, SeriesJob) else 1
        found = [faults[lesson] for lesson in range(number, number + count) if lesson in faults]
        number += count
        if found:
            errors.append(found[0])
        else:
            good.append((path, job))
    return good, errors


def _inputs(path: Path, job: Job | SeriesJob, soundfont: Path | None) -> list[Path]:
    """Every file that a build reads."""
    recipes = job.series.lessons if isinstance(job, SeriesJob) else (job.recipe,)
    found = [path]
    for recipe in recipes:
        found += [Path(recipe.source.file), soundfont_path(recipe, soundfont)]
        found += [Path(recipe.source.file).parent / name for name in _files_beside(recipe)]
        if recipe.fields.exercise is not None:
            found += sources_of(type(recipe.fields.exercise))
    return list(dict.fromkeys(found))


def _prepare_all(paths: Sequence[Path]) -> tuple[list[tuple[Path, Job | SeriesJob]], list[GenexError]]:
    checked: list[tuple[Path, Job | SeriesJob]] = []
    errors: list[GenexError] = []
    for path in dict.fromkeys(paths):
        try:
            checked.append((path, prepare_any(read_lessons(path, usual_of_feel))))
        except InputError as error:
            errors.append(error)
    return checked, errors


def prepare_any(read: Recipe | Series) -> Job | SeriesJob:
    """Compose the first version of every lesson. Raises InputError for what cannot be played."""
    return prepare_series(read) if isinstance(read, Series) else prepare(read)


def summary(lesson: Lesson | Path) -> str:
    """What was built, one line a file."""
    if isinstance(lesson, Path):
        return str(lesson)
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
    if "lessons" in answer:
        count, chords = len(answer["lessons"]), len(answer["book"])
        lessons = [f"{count} lesson{'s' if count != 1 else ''}"] if count else []
        book = [f"a book of {chords} chord{'s' if chords != 1 else ''}"] if chords else []
        return f"{answer['recipe']}: in order: {', '.join([answer['title'], *lessons, *book])}"
    bars, tempo = answer["bars"], f"{answer['tempo']:g}"
    if answer["last_tempo"] != answer["tempo"]:
        tempo += f" to {answer['last_tempo']:g}"
    return (
        f"{answer['recipe']}: in order: {answer['title']}, {bars} bar{'s' if bars != 1 else ''} of "
        f"{answer['meter']} in {answer['key']}, {answer['feel']} at {tempo}"
        f" (made for {answer['feel_tempo']['from']:g} to {answer['feel_tempo']['to']:g})"
        + (f", and {answer['versions'] - 1} more keys and tempos" if answer["versions"] > 1 else "")
        + f"\n  keys: {answer['keys']}"
        + "".join(f"\n  {name}: {text}" for name, text in answer["lines"].items())
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


def schema(kind: Literal["recipe", "groove"]) -> dict[str, Any]:
    """The JSON Schema of a kind of file."""
    return groove_schema() if kind == "groove" else _recipe_schema()


def _recipe_schema() -> dict[str, Any]:
    """The JSON Schema of a recipe or a series; feels are offered by name, other text is allowed."""
    recipe, series = json_schema(), series_schema()
    recipe["properties"]["feel"]["examples"] = list(groove_names())
    return {
        "$schema": recipe.pop("$schema"),
        "$defs": recipe.pop("$defs") | series.pop("$defs"),
        "if": {"type": "object", "anyOf": [{"required": [mark]} for mark in SERIES_MARKS]},
        "then": series,
        "else": recipe,
    }


def list_examples() -> list[dict[str, str]]:
    """Name, title and file of each example recipe."""
    return [
        {"name": path.stem, "title": read_lessons(path, usual_of_feel).title, "file": str(path)}
        for path in sorted(example_recipes().glob("*.yaml"))
    ]


def new_recipe(name: str, *, example: str | None) -> Path:
    """Write a starter recipe, or a copy of an example, and return its path.

    The copy of an example has a title of its own (the lessons of a series keep theirs).
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
    files = (
        {path: starter_text(title, path.name).encode()}
        if example is None
        else _example_files(example, path, title)
    )
    for target in files:
        if target.exists():
            raise InputError(f"'{target}' exists already", hint="choose another name, or edit that file")
    for target, data in files.items():
        write_file(target, data)
    return path


def _example_files(name: str, path: Path, title: str) -> dict[Path, bytes]:
    """The example under a new name and title, and the files that it refers to."""
    known = {found.stem: found for found in sorted(example_recipes().glob("*.yaml"))}
    if name not in known:
        raise InputError(f"there is no example '{name}'", hint=did_you_mean(name, known))
    files = {path: retitled(known[name].read_text("utf-8"), title).encode()}
    for other in _files_beside(read_lessons(known[name], usual_of_feel)):
        if path.parent / other in files:
            raise InputError(
                f"'{other}' is the name of a lesson of '{name}' too", hint="choose another name"
            )
        files[path.parent / other] = (known[name].parent / other).read_bytes()
    return files


def _files_beside(example: Recipe | Series) -> list[str]:
    """Files that an example refers to: its own feel, or a series' recipes."""
    if isinstance(example, Series):
        return list(example.fields.lessons or ())
    feel, exercise = example.fields.feel, example.fields.exercise
    found = [feel] if feel is not None and feel.endswith((".yaml", ".yml")) else []
    return [*found, *(exercise.files().values() if exercise is not None else ())]
