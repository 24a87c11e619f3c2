"""One lesson: a recipe's Score turned into files."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from genex import __version__
from genex.audio import Renderer
from genex.build.files import MANIFEST, Staging, writing
from genex.build.paper import require_drawable
from genex.build.version import AUDIO_OUTPUTS, BuiltFile, Report, VersionWriter
from genex.compose import Composition, compose
from genex.errors import InputError
from genex.recipe import Recipe
from genex.resources import default_soundfont, user_cache_dir


@dataclass(frozen=True)
class Lesson:
    """A finished lesson and where it lies."""

    recipe: Recipe
    folder: Path
    files: tuple[BuiltFile, ...]

    @property
    def paths(self) -> list[Path]:
        """Every file of the lesson, the manifest last."""
        return [self.folder / name for name in (*(file.name for file in self.files), MANIFEST)]


@dataclass(frozen=True)
class Job:
    """A checked recipe, ready to be built. ``piece`` is its first version."""

    recipe: Recipe
    piece: Composition


def prepare(recipe: Recipe) -> Job:
    """Compose a recipe's first version, and one in each other key to know that it can be played.

    Raises InputError for what cannot be played or drawn.
    """
    job = Job(recipe, compose(recipe))
    require_drawable(recipe, job.piece.score)
    seen = {recipe.versions[0].key}
    for version in recipe.versions:
        if version.key not in seen:
            seen.add(version.key)
            compose(recipe, version)
    return job


def soundfont_path(recipe: Recipe, override: Path | None) -> Path:
    """The soundfont of a lesson: the option's, the recipe's (relative to it), or the default."""
    if override is not None:
        return override
    written = recipe.fields.audio.soundfont
    if written is None:
        return default_soundfont()
    return Path(recipe.source.file).parent / Path(written).expanduser()


def build_lesson(job: Job, folder: Path, *, soundfont: Path | None, report: Report) -> Lesson:
    """Write all files of a lesson into ``folder``, or none. Raises GenexError."""
    recipe = job.recipe
    _require_own(folder, recipe)
    font = soundfont_path(recipe, soundfont)
    with Staging(folder) as staging, ExitStack() as stack:
        renderer: Renderer | None = None
        if AUDIO_OUTPUTS & set(recipe.outputs):
            renderer = stack.enter_context(_renderer(recipe, font))
        files: list[BuiltFile] = []
        for index, version in enumerate(recipe.versions):
            piece = job.piece if index == 0 else compose(recipe, version)
            writer = VersionWriter(recipe, version, piece, staging, report)
            writer.write_symbolic()
            writer.write_paper()
            if renderer is not None:
                writer.write_audio(renderer)
            files += writer.files
        staging.publish(_manifest(job, staging, files, font), stale=_earlier_files(folder))
    return Lesson(recipe, folder, tuple(files))


def _manifest(job: Job, staging: Staging, files: list[BuiltFile], font: Path) -> bytes:
    recipe, score = job.recipe, job.piece.score
    entries = []
    for file in sorted(files, key=lambda file: file.name):
        with writing(staging.folder / file.name):
            data = staging.path(file.name).read_bytes()
        entries.append(
            {
                "name": file.name,
                "kind": file.kind,
                "bytes": len(data),
                "sha256": hashlib.sha256(data).hexdigest(),
                **file.facts,
            }
        )
    manifest = {
        "genex": __version__,
        "recipe": Path(recipe.source.file).name,
        "slug": recipe.slug,
        "title": recipe.title,
        "key": str(recipe.versions[0].key),
        "meter": str(recipe.meter),
        "tempo": float(recipe.versions[0].tempo),
        "feel": score.feel,
        "seed": recipe.fields.seed,
        "bars": len(score.timeline.bars),
        "length_beats": str(score.length_beats),
        "parts": [part.name for part in score.parts],
        "soundfont": font.name,
        "files": entries,
    }
    return (json.dumps(manifest, ensure_ascii=False, indent=2) + "\n").encode()


def _renderer(recipe: Recipe, font: Path) -> Renderer:
    """A renderer with the recipe's soundfont. Raises SoundfontError, with its place if it has one."""
    try:
        return Renderer(font, recipe.fields.audio.rate, user_cache_dir())
    except InputError as error:
        if error.place is None and recipe.fields.audio.soundfont is not None:
            error.place = recipe.place("audio", "soundfont")
        raise


def _require_own(folder: Path, recipe: Recipe) -> None:
    """Raise InputError where the folder holds the lesson of another recipe."""
    try:
        other = json.loads((folder / MANIFEST).read_text("utf-8"))["recipe"]
    except (OSError, ValueError, KeyError, TypeError):
        return
    if other != Path(recipe.source.file).name:
        raise InputError(
            f"the folder {folder} holds the lesson of another recipe, {other}",
            hint="give this one another title or choose another --out; or remove that folder",
            place=recipe.place("title"),
        )


def _earlier_files(folder: Path) -> frozenset[str]:
    """Names that the folder's manifest lists, if there is a readable one: they were ours."""
    try:
        listed = json.loads((folder / MANIFEST).read_text("utf-8"))["files"]
        names = {str(entry["name"]) for entry in listed}
    except (OSError, ValueError, KeyError, TypeError):
        return frozenset()
    return frozenset(name for name in names if Path(name).name == name and name not in ("", ".", ".."))


def require_distinct(recipes: Iterable[Recipe]) -> None:
    """Two lessons of one build may not share a folder. Raises InputError."""
    seen: dict[str, Recipe] = {}
    for recipe in recipes:
        if recipe.slug in seen:
            raise InputError(
                f"the lesson '{recipe.slug}' is also made by {seen[recipe.slug].source.file}",
                hint="give the two recipes different titles",
                place=recipe.place("title"),
            )
        seen[recipe.slug] = recipe
