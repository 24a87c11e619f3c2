"""A series: one folder a lesson, a contents page, a zip to hand out; a chord-type book."""

from __future__ import annotations

import hashlib
import json
import shutil
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from genex import __version__
from genex.lazy import lazy
from genex.publishing.files import MANIFEST, atomic_path, write_file
from genex.publishing.lessons import Lesson
from genex.publishing.maker import Job, prepare
from genex.publishing.version_files import Report
from genex.recipe import Series

if TYPE_CHECKING:
    from genex.publishing import series_book
else:
    series_book = lazy("genex.publishing.series_book")

CONTENTS = "contents.txt"
_ZIP_TIME = (1980, 1, 1, 0, 0, 0)
"""The earliest time that a zip can hold: the same files give the same zip."""
_DENSE = frozenset({".wav", ".flac", ".mp3", ".ogg", ".opus", ".pdf", ".png"})
"""What would cost time to compress and hardly shrink."""


@dataclass(frozen=True)
class SeriesJob:
    """A checked series: its lessons composed, ready to be built."""

    series: Series
    jobs: tuple[Job, ...]


def prepare_series(series: Series) -> SeriesJob:
    """Compose every lesson's first version. Raises InputError."""
    return SeriesJob(series, tuple(prepare(recipe) for recipe in series.lessons))


def folder_names(job: SeriesJob) -> list[str]:
    """Names of the lessons' folders in order: ``01-kettle-on``."""
    width = max(2, len(str(len(job.jobs))))
    return [f"{n:0{width}}-{one.recipe.slug}" for n, one in enumerate(job.jobs, start=1)]


def finish_series(
    job: SeriesJob, lessons: Sequence[Lesson], folder: Path, report: Report
) -> Iterator[Path]:
    """Write the book, the contents and the zip of finished lessons. Yields each as it is done."""
    series = job.series
    files: dict[str, bytes] = {}
    if series.chords:
        report(f"{series.slug}: the book")
        files |= series_book.book_files(series)
    if lessons:
        files[CONTENTS] = _contents(series, lessons).encode()
    for name, data in files.items():
        write_file(folder / name, data)
        yield folder / name
    write_file(folder / MANIFEST, _manifest(series, lessons, files))
    yield folder / MANIFEST
    report(f"{series.slug}: the zip")
    yield _write_zip(folder, folder.with_name(f"{series.slug}.zip"), lessons, files)


def _manifest(series: Series, lessons: Sequence[Lesson], files: dict[str, bytes]) -> bytes:
    """What the series consists of: its lessons, each with a manifest of its own, and its files."""
    manifest = {
        "genex": __version__,
        "slug": series.slug,
        "title": series.title,
        "lessons": [lesson.folder.name for lesson in lessons],
        "files": [
            {"name": name, "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
            for name, data in sorted(files.items())
        ],
    }
    return (json.dumps(manifest, ensure_ascii=False, indent=2) + "\n").encode()


def _contents(series: Series, lessons: Sequence[Lesson]) -> str:
    """The contents page: number, title, key, tempo and files of each lesson."""
    lines = [series.title, "=" * len(series.title)]
    for lesson in lessons:
        version = lesson.recipe.versions[0]
        lines += [
            "",
            f"{lesson.folder.name}: {lesson.recipe.title}",
            f"    {version.key}, {lesson.recipe.meter}, {float(version.tempo):g}",
        ]
        lines += [f"    {file.name}" for file in lesson.files]
    return "\n".join(lines) + "\n"


def _write_zip(folder: Path, target: Path, lessons: Sequence[Lesson], files: dict[str, bytes]) -> Path:
    """Everything under the series' folder that this build made, in a fixed order."""
    members: list[Path] = [folder / name for name in files]
    for lesson in lessons:
        members += [lesson.folder / file.name for file in lesson.files]
    with atomic_path(target) as part, zipfile.ZipFile(part, "w") as archive:
        for path in sorted(members):
            info = zipfile.ZipInfo(path.relative_to(folder.parent).as_posix(), _ZIP_TIME)
            info.external_attr = 0o644 << 16
            info.compress_type = zipfile.ZIP_STORED if path.suffix in _DENSE else zipfile.ZIP_DEFLATED
            with path.open("rb") as source, archive.open(info, "w") as member:
                shutil.copyfileobj(source, member)
    return target
