"""A series on disk: one folder a lesson, a contents page, a zip to hand out; a chord-type book."""

from __future__ import annotations

import hashlib
import shutil
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from genex import __version__
from genex.export.note_names import key_words
from genex.export.phrases import words
from genex.lazy import lazy
from genex.plain_text import clean
from genex.publishing.fonts import fonts_digest, own_font
from genex.publishing.manifest import manifest_bytes
from genex.publishing.own_shapes import book_tuning
from genex.publishing.plan import Claim
from genex.publishing.units import fingerprint
from genex.publishing.up_to_date import versions
from genex.publishing.version_files import BuiltFile
from genex.publishing.worded import tag_of
from genex.recipe import Recipe, Series

if TYPE_CHECKING:
    from genex.publishing import letterheads
    from genex.publishing.lessons import Lesson
else:
    letterheads = lazy("genex.publishing.letterheads")

CONTENTS = "contents.txt"
_ZIP_TIME = (1980, 1, 1, 0, 0, 0)
"""The earliest time that a zip can hold: the same files give the same zip."""
_DENSE = frozenset({".wav", ".flac", ".mp3", ".ogg", ".opus", ".pdf", ".png"})
"""What would cost time to compress and hardly shrink."""


def book_key(series: Series) -> str:
    """The fingerprint of the book: of all that it is made from."""
    fields: dict[str, Any] = series.fields.model_dump(
        include={"book", "left_handed", "language", "note_names"}
    )
    font = own_font(series)
    letters = None if font is None else hashlib.sha256(font.data).hexdigest()
    chords = [str(chord) for chord in series.chords]
    neck = repr(book_tuning(series))
    head = _letterhead(series)
    return fingerprint(
        "book", series.title, series.slug, fields, letters, chords, neck, head, versions()
    )


def _letterhead(series: Series) -> str:
    """What a series' letterhead says and shows; where it has none, no typesetting is loaded."""
    return "" if series.fields.letterhead is None else repr(letterheads.letterhead_of(series))


def digests_of(kind: str, lessons: Iterable[Lesson]) -> dict[str, str]:
    """The files of a kind that the lessons have, by their paths below the series, with their digests."""
    return {
        f"{lesson.folder.name}/{file.name}": file.sha256
        for lesson in lessons
        for file in lesson.files
        if file.kind == kind
    }


def bound_name(series: Series) -> str:
    """The file with all sheets."""
    return f"{series.slug}.bound.pdf"


def bound_key(series: Series, sheets: Mapping[str, str]) -> str:
    """The fingerprint of the bound sheets, by the digests of the single ones, and of the lessons' fonts:
    the cover may have letters that no single sheet has."""
    date = series.fields.book.date if series.fields.book else None
    head = _letterhead(series)
    return fingerprint(
        "bound", series.title, series.slug, date, head, fonts_digest(_every_recipe(series)),
        sorted(sheets.items()), versions(),
    )  # fmt: skip


def page_name(series: Series) -> str:
    """The page with all lessons that have one."""
    return f"{series.slug}.page.html"


def page_key(series: Series, pages: Mapping[str, str]) -> str:
    """The fingerprint of that page, by the digests of the lessons' own pages."""
    return fingerprint("page", series.title, series.slug, sorted(pages.items()), versions())


def has_page(series: Series) -> bool:
    """Whether there are pages to be put together."""
    return sum("page" in one.outputs for one in _every_recipe(series)) > 1


def _every_recipe(series: Series) -> Iterator[Recipe]:
    """Its lessons and their exercises."""
    for lesson in series.lessons:
        yield from (lesson, *lesson.exercises)


def archive_key(series: Series, members: Mapping[str, str]) -> str:
    """The fingerprint of the zip."""
    return fingerprint("zip", series.slug, sorted(members.items()), versions())


def series_manifest(
    series: Series,
    claim: Claim,
    lessons: Iterable[str],
    digests: Mapping[str, str],
    sizes: Mapping[str, int],
    archive: BuiltFile,
) -> bytes:
    """What the series consists of: its lessons, each with a manifest of its own, and its files."""
    return manifest_bytes(
        {
            "genex": __version__,
            "recipe": clean(claim.recipe.name),
            "owner": claim.owner,
            "slug": series.slug,
            "title": series.title,
            "lessons": [name for name in lessons if name],
            "files": [
                {"name": name, "bytes": sizes[name], "sha256": digest}
                for name, digest in sorted(digests.items())
            ],
            "archive": {
                "name": archive.name,
                "bytes": archive.size_bytes,
                "sha256": archive.sha256,
            },
        }
    )


def contents(series: Series, lessons: Sequence[Lesson]) -> str:
    """The contents page: number, title, key, tempo and files of each lesson; its exercises by name."""
    lines = [series.title, "=" * len(series.title)]
    for lesson in lessons:
        lines += ["", f"{lesson.folder.name}: {lesson.recipe.title}"]
        lines += [f"    {facts}" for facts in lesson_facts(lesson.recipe)]
        lines += [f"    {file.name}" for file in lesson.files]
    return "\n".join(lines) + "\n"


def lesson_facts(recipe: Recipe) -> Iterator[str]:
    """Key, meter and tempo of a lesson, or those of each of its exercises behind their names."""
    phrases = words(tag_of(recipe))
    for one in recipe.exercises or (recipe,):
        version, named = one.versions[0], f"{one.title}: " if recipe.exercises else ""
        yield f"{named}{key_words(version.key, phrases)}, {one.meter}, {float(version.tempo):g}"


def write_zip(target: Path, slug: str, members: Iterable[str], place: Callable[[str], Path]) -> None:
    """Everything that a series consists of, in a fixed order. ``place`` is where each file lies."""
    with zipfile.ZipFile(target, "w") as archive:
        for path in sorted(members, key=lambda path: PurePosixPath(path).parts):
            info = zipfile.ZipInfo(f"{slug}/{path}", _ZIP_TIME)
            info.external_attr = 0o644 << 16
            info.compress_type = (
                zipfile.ZIP_STORED if PurePosixPath(path).suffix in _DENSE else zipfile.ZIP_DEFLATED
            )
            with place(path).open("rb") as source, archive.open(info, "w") as member:
                shutil.copyfileobj(source, member)
