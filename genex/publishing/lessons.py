"""Lessons: made in a workshop, listed in a manifest, published all or nothing."""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from genex import __version__
from genex.errors import InputError
from genex.publishing.files import MANIFEST, Staging
from genex.publishing.maker import Job, soundfont_path
from genex.publishing.version_files import BuiltFile
from genex.publishing.workshop import Workshop
from genex.recipe import Recipe


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


def build_lessons(
    jobs: Sequence[Job], folders: Sequence[Path], workshop: Workshop, *, soundfont: Path | None
) -> Iterator[Lesson]:
    """Make each job's lesson in its folder, wholly or not at all. Yields them in order.

    Raises GenexError.
    """
    for job, folder in zip(jobs, folders, strict=True):
        _require_own(folder, job.recipe)
    waiting = deque(enumerate(zip(jobs, folders, strict=True)))
    opened: deque[tuple[int, Job, Staging]] = deque()
    try:
        while waiting or opened:
            while waiting and len(opened) <= workshop.lookahead:
                number, (job, folder) = waiting.popleft()
                staging = Staging(folder)
                staging.open()
                opened.append((number, job, staging))
                workshop.order(number, staging.stage)
            number, job, staging = opened[0]
            files = workshop.files(number)
            manifest = _manifest(job, files, soundfont_path(job.recipe, soundfont))
            names = [file.name for file in files]
            staging.publish(names, manifest, stale=_earlier_files(staging.folder))
            opened.popleft()
            staging.close()
            yield Lesson(job.recipe, staging.folder, tuple(files))
    except BaseException:
        workshop.stop()  # nobody shall write any more to what is removed now
        raise
    finally:
        for _, _, staging in opened:
            staging.close()


def _manifest(job: Job, files: list[BuiltFile], font: Path) -> bytes:
    recipe, score = job.recipe, job.piece.score
    entries = [
        {
            "name": file.name,
            "kind": file.kind,
            "bytes": file.size_bytes,
            "sha256": file.sha256,
            **file.facts,
        }
        for file in sorted(files, key=lambda file: file.name)
    ]
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
