"""What one recipe file makes: a folder with one owner, and how much of it is there already.

A version of a lesson (a key and a tempo) has a *fingerprint*: a digest of all that its files are
made from. Files of an earlier build that have it, and that nobody has edited since, are kept.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import nullcontext, suppress
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from genex.compose import Composition, usual_of_feel
from genex.errors import InputError, Place
from genex.exercises import sources_of
from genex.inputs import Inputs, read_file, recipes_of
from genex.lazy import lazy
from genex.publishing.kept_files import KeptFile, kept_file
from genex.publishing.kept_sounds import KeptSounds, earlier_sounds
from genex.publishing.lesson_facts import LessonFacts, facts_from, facts_of
from genex.publishing.maker import (
    Job,
    prepare,
    prepare_whole,
    require_soundfont,
    soundfont_path,
)
from genex.publishing.manifest import owner_of
from genex.publishing.own_shapes import book_tuning
from genex.publishing.plan import Claim
from genex.publishing.stamps import Known, by_path, known
from genex.publishing.up_to_date import Note, Request, known_large, last_build, versions
from genex.publishing.version_files import PLAYED_OUTPUTS, BuiltFile, Report
from genex.recipe import Recipe, Series, Version, read_lessons
from genex.recipe.folder_defaults import inherited

if TYPE_CHECKING:
    from genex.publishing import letterheads
else:
    letterheads = lazy("genex.publishing.letterheads")

MOST_AT_HAND = 64
"""So many first versions are kept in memory from checking to making; those of further lessons are
composed once more."""
_MOST_READ = 1 << 26
_PACKAGE = str(Path(__file__).parents[1])
_OF_NO_VERSION = frozenset({"keys", "tempos"})


@dataclass
class LessonWork:
    """A lesson of a unit: what is kept, by the number of the version, and what is to be made.

    ``below`` is its folder below the unit's: empty where the unit is the lesson itself. ``to_make``
    is the job with those versions only that are not kept, whose numbers are ``numbers``. ``used``
    are the files that were read for it, with their digests, ``facts`` what is told of it, and ``key`` a
    digest of its recipe by which that is found again; empty where that is not to be. A lesson of several
    exercises is the work of each, and of what is made of all, in one folder: ``lesson`` is what the
    folder holds.
    """

    job: Job
    lesson: Recipe
    below: str
    fingerprints: list[str]
    facts: LessonFacts
    key: str = ""
    kept: dict[int, list[KeptFile]] = field(default_factory=dict)
    numbers: list[int] = field(default_factory=list)
    to_make: Job | None = None
    used: Mapping[str, str | None] = field(default_factory=dict)

    @property
    def settings(self) -> dict[str, str]:
        """What each field of the recipe that is of all versions says, as a digest."""
        data = self.job.recipe.source.data
        fields = data if isinstance(data, dict) else {}
        return {
            str(name): fingerprint(value) for name, value in fields.items() if name not in _OF_NO_VERSION
        }


@dataclass
class Unit:
    """A checked recipe file: a lesson or a series. ``fonts`` are the soundfonts as they were,
    ``sources`` the code of kinds of exercise that packages have.

    ``keeps`` tells whether notes are read and written, so that the next build can keep files.
    """

    request: Request
    source: Recipe | Series
    claim: Claim
    inputs: Inputs
    lessons: list[LessonWork]
    fonts: list[Known]
    sources: list[Known]
    note: Note | None
    keeps: bool = True

    @property
    def series(self) -> Series | None:
        """The series, if it is one."""
        return self.source if isinstance(self.source, Series) else None

    @property
    def inherited(self) -> dict[str, list[str]]:
        """What the recipe, or a lesson of the series, has of defaults files: each file, its fields."""
        found: dict[str, dict[str, None]] = {}
        for source in (self.source.source, *(work.job.recipe.source for work in self.lessons)):
            for field_name, file in inherited(source).items():
                found.setdefault(file, {})[field_name] = None
        return {file: list(names) for file, names in found.items()}

    @property
    def folders(self) -> list[str]:
        """The folders of its lessons below its own, in order; one without a name for a lesson alone."""
        return list(dict.fromkeys(work.below for work in self.lessons))

    @property
    def folder(self) -> Path:
        """Where it goes."""
        return self.claim.folder

    @cached_property
    def known(self) -> dict[str, Known]:
        """What the last build wrote, by absolute path."""
        return by_path(self.note.written) if self.note else {}

    @cached_property
    def sounds(self) -> dict[str, tuple[Path, BuiltFile]]:
        """Sounds of the last build, by what is heard of them."""
        return earlier_sounds(self.note, self.request.out)

    def kept_of(self, fingerprint: str) -> list[KeptFile] | None:
        """The files made from something, if all are there as they were made; else None."""
        if self.note is None or self.note.versions != versions():
            return None
        below, files = self.note.made.get(fingerprint, ("", []))
        try:
            kept = [kept_file(BuiltFile(**file), self.request.out / below, self.known) for file in files]
        except (OSError, TypeError):
            return None
        return [file for file in kept if file] if kept and all(kept) else None


def prepare_unit(
    request: Request,
    *,
    report: Report = lambda text: None,
    rebuild: bool = False,
    take_over: bool = False,
    keeps: bool = True,
    inputs: Inputs | None = None,
) -> Unit:
    """Read a recipe file and compose each lesson's first version. Raises InputError.

    ``keeps`` is false where nothing of an earlier build is asked for: to check it only. ``inputs``
    are new ones of somebody who wants to know what was read, also where it could not be read.
    """
    inputs = inputs or Inputs()
    with inputs.active():
        source = read_lessons(request.recipe, usual_of_feel)
    return unit_of(
        request, source, inputs, report=report, rebuild=rebuild, take_over=take_over, keeps=keeps
    )


def unit_of(
    request: Request,
    source: Recipe | Series,
    inputs: Inputs,
    *,
    report: Report = lambda text: None,
    rebuild: bool = False,
    take_over: bool = False,
    keeps: bool = True,
) -> Unit:
    """As ``prepare_unit``, of a recipe that has been read, with what was read for it."""
    recipes = source.lessons if isinstance(source, Series) else (source,)
    below = folder_names(recipes) if isinstance(source, Series) else [""]
    fonts: dict[Path, Known] = {}
    sources: dict[str, Known] = {}
    works: list[LessonWork] = []
    note = last_build(request) if keeps else None
    for count, (recipe, name) in enumerate(zip(recipes, below, strict=True), start=1):
        which = f", lesson {count} of {len(recipes)}" if len(recipes) > 1 else ""
        report(f"{request.recipe}: {recipe.title}{which}")
        font = _font(recipe, request.soundfont, fonts) if keeps and not recipe.exercises else None
        key = _recipe_key(recipe, font)
        before = None if rebuild else _remembered(recipe, key, note, inputs)
        jobs = iter([before]) if before else _composed(recipe, inputs)
        for job, used, facts in jobs:
            packages = [
                file for one in (job.recipe, *job.recipe.exercises) for file in _package_files(one)
            ]
            sources |= {file.path: file for file in packages}
            used |= {file.path: file.sha256 for file in packages}
            its_font = _font(job.recipe, request.soundfont, fonts) if keeps else None
            if its_font is not None and its_font.sha256:
                job = replace(job, kept=KeptSounds(its_font.sha256))
            if not recipe.exercises and len(works) >= MOST_AT_HAND:
                job = replace(job, at_hand=None)
            marks = _fingerprints(job.recipe, used, its_font)
            works.append(LessonWork(job, recipe, name, marks, facts, key, used=used))
    if isinstance(source, Series):
        with inputs.active():  # so that its faults are told before anything is made
            if source.chords:
                book_tuning(source)
            if source.fields.letterhead and (source.chords or source.fields.bound):
                letterheads.require_readable(source)
    claim = Claim(
        request.out / source.slug,
        owner_of(request.recipe, request.out),
        request.recipe,
        _title_place(source),
        take_over,
    )
    unit = Unit(
        request, source, claim, inputs, works, list(fonts.values()), list(sources.values()), note, keeps
    )
    for work in works:
        _sort_out(work, unit, rebuild)
    return unit


_Composed = tuple[Job, dict[str, str | None], LessonFacts]
"""A job, the files that were read for it, and what is told of it."""


def _composed(recipe: Recipe, inputs: Inputs) -> Iterator[_Composed]:
    """What there is to make of a recipe. Raises InputError."""
    for job, used in _jobs(recipe, inputs):
        yield job, used, facts_of(job)


def _remembered(recipe: Recipe, key: str, note: Note | None, inputs: Inputs) -> _Composed | None:
    """The job of a recipe whose first version was composed of the same by an earlier build.

    What composing reads depends on the recipe and on what stands in the files that it has read so far:
    where all of these are as they were, it would read the same once more.
    """
    told = note.lessons.get(key) if note is not None and key else None
    if told is None:
        return None
    try:
        with inputs.noting() as used:
            for path, digest in told["used"].items():
                with suppress(FileNotFoundError) if digest is None else nullcontext():
                    read_file(Path(path), _MOST_READ)
        facts = facts_from(told["facts"])
    except (OSError, ValueError, KeyError, TypeError):
        return None  # composing tells
    return (Job(recipe, None, inputs), used, facts) if used == told["used"] else None


def _recipe_key(recipe: Recipe, font: Known | None) -> str:
    """A digest of all that composing a recipe depends on, but for what is in files; empty for one of
    several exercises and for a kind of exercise that a package brings."""
    if recipe.exercises or _package_files(recipe):
        return ""
    versions_of_it = [_of_version(version) for version in recipe.versions]
    # By its own place too: another recipe of the same words may mean other files by the same names.
    return fingerprint(_common(recipe, font), versions_of_it, recipe.source.file)


def _jobs(recipe: Recipe, inputs: Inputs) -> Iterator[tuple[Job, dict[str, str | None]]]:
    """What there is to make of a recipe, with the files that were read for it: of one with several
    exercises each of them that has files of its own, then what is made of all. Raises InputError."""
    if not recipe.exercises:
        with inputs.noting() as used:
            job = prepare(recipe, inputs)
        yield job, used
        return
    pieces: list[Composition] = []
    of_all: dict[str, str | None] = {}
    for exercise in recipe.exercises:
        with inputs.noting() as used:
            job = prepare(exercise, inputs)
        pieces.append(job.piece)
        of_all |= used
        if exercise.outputs:
            yield job, used
    with inputs.noting() as used:
        whole = prepare_whole(recipe, pieces, inputs)
    if recipe.outputs:
        yield whole, of_all | used


def _package_files(recipe: Recipe) -> list[Known]:
    """The code of the exercise's kind, where a package has it: with other code it is another one."""
    exercise = recipe.fields.exercise
    return [] if exercise is None else [known(path) for path in sources_of(type(exercise))]


def _title_place(source: Recipe | Series) -> Place:
    return source.source.place(("title",))


def folder_names(recipes: Sequence[Recipe]) -> list[str]:
    """Names of the lessons' folders of a series in order: ``01-kettle-on``."""
    width = max(2, len(str(len(recipes))))
    return [f"{n:0{width}}-{one.slug}" for n, one in enumerate(recipes, start=1)]


def _font(recipe: Recipe, override: Path | None, fonts: dict[Path, Known]) -> Known | None:
    """The soundfont that a lesson is played with, as it is now. Raises SoundfontError."""
    if not PLAYED_OUTPUTS & set(recipe.outputs):
        return None
    path = soundfont_path(recipe, override)
    if path not in fonts:
        try:
            require_soundfont(path)
            fonts[path] = known_large(path)
        except InputError as error:
            if override is None and recipe.fields.audio.soundfont is not None:
                error.place = recipe.place("audio", "soundfont")
            raise
        except OSError:
            return None  # told of by whoever opens it
    return fonts[path]


def _fingerprints(recipe: Recipe, used: Mapping[str, str | None], font: Known | None) -> list[str]:
    """The fingerprint of each version."""
    files = sorted(
        (path, digest)  # by the whole path: of two files of one name each has its own place in the music
        for path, digest in used.items()
        if not path.startswith(_PACKAGE)  # what comes with genex counts as its version
    )
    common = [*_common(recipe, font), files]
    marks = [fingerprint(common, _of_version(version)) for version in recipe.versions]
    if "page" in recipe.outputs and len(marks) > 1:
        # The first version brings the page, which has all of them.
        marks[0] = fingerprint(common, [_of_version(version) for version in recipe.versions])
    return marks


def _common(recipe: Recipe, font: Known | None) -> list[object]:
    """What all versions of a recipe are made from, but for files that are named."""
    data = recipe.source.data if isinstance(recipe.source.data, dict) else {}
    return [
        {name: value for name, value in data.items() if name not in _OF_NO_VERSION},
        recipe.title,
        recipe.slug,
        str(recipe.key),
        # What the tempos of sections are in proportion to, where any has its own.
        [
            str(one.usual_tempo)
            for one in (recipe, *recipe.exercises)
            if any(section.tempo is not None for section in one.sections)
        ],
        [Path(font.path).name, font.sha256] if font else None,
        versions(),
        recipe.draws,
    ]


def _of_version(version: Version) -> list[str]:
    return [str(version.key), str(version.tempo), version.suffix]


def fingerprint(*what: object) -> str:
    """A digest of plain data."""
    text = json.dumps(what, sort_keys=True, default=str)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:32]


def _sort_out(work: LessonWork, unit: Unit, rebuild: bool) -> None:
    """Tell the versions that can be kept from those that are to be made."""
    recipe = work.job.recipe
    if not rebuild:
        work.job = replace(work.job, kept=replace(work.job.kept, files=unit.sounds, known=unit.known))
    for number, mark in enumerate(work.fingerprints):
        kept = None if rebuild else unit.kept_of(mark)
        if kept is not None:
            work.kept[number] = kept
        else:
            work.numbers.append(number)
    if len(work.numbers) == len(recipe.versions):
        work.to_make = work.job
    elif work.numbers:
        few = replace(recipe, versions=tuple(recipe.versions[number] for number in work.numbers))
        first = None if work.numbers[0] and not recipe.exercises else work.job.at_hand
        work.to_make = Job(few, first, unit.inputs, recipe, work.job.pieces, work.job.kept)


def distinct_recipes(paths: Sequence[Path]) -> list[Path]:
    """The same file under several names is one; defaults files among recipes are left out."""
    return list({os.path.realpath(path): path for path in reversed(recipes_of(paths))}.values())[::-1]


def require_distinct(folders: Iterable[tuple[Path, Recipe | Series]]) -> None:
    """What several recipes of one build make may not share a folder. Raises InputError."""
    seen: dict[Path, Recipe | Series] = {}
    for folder, source in folders:
        if folder in seen:
            what = "series" if isinstance(source, Series) else "lesson"
            raise InputError(
                f"the folder of the {what} '{source.slug}' is also made by {seen[folder].source.file}",
                hint="give the two recipes different titles",
                place=_title_place(source),
            )
        seen[folder] = source
