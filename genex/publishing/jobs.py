"""What the commands ask for: check and build many recipes, examples, starter, schema."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from genex.band import groove_names, groove_schema
from genex.compose import usual_of_feel
from genex.errors import GenexError, InputError, SeveralRecipesError
from genex.hints import did_you_mean
from genex.inputs import Inputs
from genex.publishing.check_answers import check_answer, notes_on
from genex.publishing.cluster import Cluster
from genex.publishing.files import write_file, writing
from genex.publishing.following import NOBODY, Follower
from genex.publishing.lessons import Built, build_units, jobs_to_make
from genex.publishing.maker import Job, RendererKeeper
from genex.publishing.outlook import Outlook, outlook_of, require_within, wanted_of
from genex.publishing.plan import Verdict
from genex.publishing.reasons import Reason, reasons_of
from genex.publishing.staging import archive_of, clear_leftovers
from genex.publishing.units import Unit, distinct_recipes, prepare_unit, require_distinct, unit_of
from genex.publishing.up_to_date import Request
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
from genex.recipe.folder_defaults import INHERITED
from genex.recipe.lesson_exercises import OF_THE_LESSON
from genex.recipe.series import SERIES_MARKS, series_schema
from genex.recipe.slug import slug_of
from genex.resources import example_recipes


@seldom_collecting()
def check_all(
    paths: Sequence[Path], report: Report = lambda text: None
) -> tuple[list[dict[str, Any]], list[GenexError]]:
    """Compose every recipe. Returns what each good one gives, and the errors of the others."""
    requests = [Request(path, Path()) for path in distinct_recipes(paths)]
    units, errors = _prepare_all(requests, report=report, keeps=False)
    good: list[tuple[Unit, Outlook]] = []
    for unit in units:
        try:
            good.append((unit, require_within([unit])))
        except InputError as error:
            errors.append(error)
    units = [unit for unit, _ in good]
    with Workshop(_all_jobs(units), None, report, only_checks=True) as workshop:
        units, more = _without_faulty(units, workshop.check(), _all_jobs)
    errors += more
    playable = {id(unit) for unit in units}
    return [check_answer(unit, much) for unit, much in good if id(unit) in playable], errors


@dataclass(frozen=True)
class Wishes:
    """How to build: with a soundfont of one's own; all anew; folders of others taken over; in at most so
    many processes; by the workers of a scheduler at an address."""

    soundfont: Path | None = None
    rebuild: bool = False
    take_over: bool = False
    processes: int | None = None
    cluster: str | None = None


def build(
    paths: Sequence[Path],
    out: Path,
    *,
    wishes: Wishes,
    report: Report,
    unchanged: Sequence[Path] = (),
    note: Report,
    follower: Follower = NOBODY,
    why: Callable[[list[Reason]], None] | None = None,
) -> Iterator[Built]:
    """Check all recipes first, then build them, several at a time. Raises GenexError.

    Yields each lesson or series as it is in place. ``unchanged`` are recipes whose lessons are up
    to date and keep their folders. ``note`` is told what an author should know, ``follower`` how far
    it has come, ``why`` what is made and left, and why.
    """
    if wishes.cluster:
        paths = [path.absolute() for path in paths]  # by which what was read is known elsewhere
    with seldom_collecting():
        units = _checked_units(paths, out, wishes)
    if why is not None:
        why([reason for unit in units for reason in reasons_of(unit, rebuild=wishes.rebuild)])
    yield from build_checked(
        units, out, wishes=wishes, report=report, unchanged=unchanged, note=note, follower=follower
    )


def build_checked(
    units: Sequence[Unit],
    out: Path,
    *,
    wishes: Wishes,
    report: Report,
    unchanged: Sequence[Path] = (),
    note: Report,
    follower: Follower = NOBODY,
    keeper: RendererKeeper | None = None,
) -> Iterator[Built]:
    """As ``build``, of units that are prepared. ``keeper`` has a synthesizer that is kept."""
    much = sum((outlook_of(unit, to_make_only=True) for unit in units), Outlook())
    todo, apart = jobs_to_make(units), bool(much.making)
    workshop: Workshop | Cluster
    if wishes.cluster:
        anew = wishes.rebuild
        workshop = Cluster(units, out, wishes.soundfont, wishes.cluster, report, follower, anew=anew)
    else:
        workshop = Workshop(
            todo, wishes.soundfont, report, apart=apart, most_workers=wishes.processes,
            follower=follower, keeper=keeper, fonts=[font for unit in units for font in unit.fonts],
        )  # fmt: skip
    with workshop:
        _, errors = _without_faulty(units, workshop.check(), jobs_to_make)
        _raise_all(errors)
        _require_distinct(units, out, unchanged)
        for text in (text for unit in units for text in notes_on(unit)):
            note(text)
        if much.is_large:
            note(f"note: that makes {much}")
        clear_leftovers(out)
        follower.started(len(todo), sum(len(job.recipe.versions) for job in todo))
        if isinstance(workshop, Cluster):
            yield from build_units(workshop.made(), workshop, report, note)
            workshop.require_all()
        else:
            yield from build_units(units, workshop, report, note, follower)


def build_one(read: Recipe | Series, out: Path, *, soundfont: Path | None, processes: int) -> list[Path]:
    """Build a recipe that has been read, in at most so many processes; 1 is this one.

    Returns its files. No note is read or written. Raises GenexError.
    """
    request = Request(Path(read.source.file), out, soundfont)
    with seldom_collecting():
        unit = unit_of(request, read, Inputs(), keeps=False)
    require_within([unit])
    with Workshop(
        jobs_to_make([unit]), soundfont, lambda text: None, most_workers=processes
    ) as workshop:
        _raise_all(list(workshop.check().values())[:1])
        return [
            path
            for built in build_units([unit], workshop, lambda text: None, lambda text: None)
            for path in built.paths
        ]


def foresee(
    paths: Sequence[Path],
    out: Path,
    *,
    wishes: Wishes,
    unchanged: Sequence[Path] = (),
    why: bool = False,
) -> list[dict[str, Any]]:
    """What a build would do, each recipe as data, without making or touching a file.

    ``make``, ``replace`` and ``remove`` are files of genex; ``keep`` tells what is not as genex
    wrote it and would go on under another name, ``stays`` what was edited and is made no longer.
    With ``why`` each file's reason stands under ``why``. Raises GenexError.
    """
    units = _checked_units(paths, out, wishes)
    _require_distinct(units, out, unchanged)
    return [_foreseen(unit) | (_reasons(unit, wishes) if why else {}) for unit in units]


def _reasons(unit: Unit, wishes: Wishes) -> dict[str, Any]:
    return {"why": [reason.as_json() for reason in reasons_of(unit, rebuild=wishes.rebuild)]}


def _foreseen(unit: Unit) -> dict[str, Any]:
    plan = unit.claim.plan(wanted_of(unit), unit.known)

    def paths(verdict: Verdict) -> list[str]:
        return [entry.path for entry in plan.entries if entry.verdict is verdict]

    kept = [
        {"path": entry.path, "as": entry.to}
        for entry in plan.entries
        if entry.verdict is Verdict.KEEP_ASIDE
    ]
    if unit.series is not None:
        archive = unit.folder.with_name(f"{unit.source.slug}.zip")
        with writing(archive):
            digest, ours = archive_of(archive, unit.claim.earlier())
        if digest is not None and not ours:
            kept.append({"path": str(archive), "as": "under a dated name beside it"})
    return {
        "recipe": str(unit.request.recipe),
        "folder": str(unit.folder),
        "make": paths(Verdict.MAKE),
        "replace": paths(Verdict.REPLACE),
        "remove": paths(Verdict.REMOVE),
        "keep": kept,
        "stays": paths(Verdict.LEAVE),
        "same": paths(Verdict.SAME),
        "to_make": outlook_of(unit, to_make_only=True).as_json(),
    }


def foreseen_text(answer: dict[str, Any]) -> str:
    """What a build would do, for reading."""
    lines = [f"{answer['recipe']}: {answer['folder']}"]
    for verb in ("make", "replace", "remove"):
        lines += [f"  {verb:<8} {path}" for path in answer[verb]]
    lines += [f"  keep     {entry['path']} as {entry['as']}" for entry in answer["keep"]]
    lines += [f"  leave    {path} (edited)" for path in answer["stays"]]
    if answer["same"]:
        count = len(answer["same"])
        lines.append(f"  ({count} file{'s' if count != 1 else ''} stay as they are)")
    lines += [f"  {one['file']}: {one['why']}" for one in answer.get("why", ())]
    return "\n".join(lines)


def _checked_units(paths: Sequence[Path], out: Path, wishes: Wishes) -> list[Unit]:
    requests = [Request(path, out, wishes.soundfont) for path in distinct_recipes(paths)]
    units, errors = _prepare_all(requests, rebuild=wishes.rebuild, take_over=wishes.take_over)
    _raise_all(errors)
    require_within(units)
    return units


def _raise_all(errors: Sequence[GenexError]) -> None:
    if len(errors) == 1:
        raise errors[0]
    if errors:
        raise SeveralRecipesError(errors=errors)


def _require_distinct(units: Sequence[Unit], out: Path, unchanged: Sequence[Path]) -> None:
    others = (read_lessons(path, usual_of_feel) for path in unchanged)
    kept = [(out / other.slug, other) for other in others]
    require_distinct([*kept, *((unit.folder, unit.source) for unit in units)])


def _all_jobs(units: Sequence[Unit]) -> list[Job]:
    return [work.job for unit in units for work in unit.lessons]


def _without_faulty(
    units: Sequence[Unit],
    faults: Mapping[int, InputError],
    jobs_of: Callable[[Sequence[Unit]], list[Job]],
) -> tuple[list[Unit], list[GenexError]]:
    """The recipes without those that have a lesson at fault, and the first fault of each."""
    good: list[Unit] = []
    errors: list[GenexError] = []
    number = 0
    for unit in units:
        count = len(jobs_of([unit]))
        found = [faults[lesson] for lesson in range(number, number + count) if lesson in faults]
        number += count
        if found:
            errors.append(found[0])
        else:
            good.append(unit)
    return good, errors


def _prepare_all(
    requests: Sequence[Request],
    report: Report = lambda text: None,
    *,
    rebuild: bool = False,
    take_over: bool = False,
    keeps: bool = True,
) -> tuple[list[Unit], list[GenexError]]:
    units: list[Unit] = []
    errors: list[GenexError] = []
    for request in requests:
        try:
            units.append(
                prepare_unit(request, report=report, rebuild=rebuild, take_over=take_over, keeps=keeps)
            )
        except InputError as error:
            errors.append(error)
    return units, errors


def schema(kind: Literal["recipe", "groove", "defaults"]) -> dict[str, Any]:
    """The JSON Schema of a kind of file."""
    if kind == "defaults":
        recipe = json_schema()
        shared = {name: recipe["properties"][name] for name in INHERITED}
        return recipe | {"title": "Defaults", "description": "What recipes share.", "properties": shared}
    return groove_schema() if kind == "groove" else _recipe_schema()


def _recipe_schema() -> dict[str, Any]:
    """The JSON Schema of a recipe or a series; feels are offered by name, other text is allowed."""
    recipe, series = json_schema(), series_schema()
    fields = recipe["properties"]
    fields["feel"]["examples"] = list(groove_names())
    # The fields of an entry are those of the recipe.
    own = {name: field for name, field in fields.items() if name not in OF_THE_LESSON}
    fields["exercises"]["anyOf"][0] |= {
        "minItems": 1,
        "items": {
            "type": "object", "required": ["title"], "properties": own, "additionalProperties": False,
        },
    }  # fmt: skip
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
    """Files that an example refers to: its own feel, its logo, or a series' recipes."""
    if isinstance(example, Series):
        return list(example.fields.lessons or ())
    found: list[str] = []
    for recipe in (example, *example.exercises):
        feel, exercise, head = recipe.fields.feel, recipe.fields.exercise, recipe.fields.letterhead
        found += [recipe.fields.fingerings] if recipe.fields.fingerings is not None else []
        found += [feel] if feel is not None and feel.endswith((".yaml", ".yml")) else []
        found += [recipe.fields.font] if recipe.fields.font is not None else []
        found += [head.logo] if head is not None and head.logo is not None else []
        found += exercise.files().values() if exercise is not None else ()
    return list(dict.fromkeys(found))
