"""Units made in a workshop and published, each in one step: lessons and series."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from itertools import groupby
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from genex.errors import GenexError, OutputError
from genex.lazy import lazy
from genex.publishing.contents_page import CONTENTS_PAGE, contents_page
from genex.publishing.files import writing
from genex.publishing.following import NOBODY, Follower
from genex.publishing.kept_files import KeptFile
from genex.publishing.lesson_manifest import lesson_in_a_line, lesson_manifest, lesson_summary
from genex.publishing.maker import Job, soundfont_path
from genex.publishing.manifest import MANIFEST
from genex.publishing.plan import Plan, Verdict
from genex.publishing.series_files import (
    CONTENTS,
    archive_key,
    book_key,
    bound_key,
    contents,
    digests_of,
    has_page,
    page_key,
    page_name,
    series_manifest,
    write_zip,
)
from genex.publishing.staging import NO_LOCKS, Staging, sha256
from genex.publishing.stamps import Known, Stamp, key_of, sha256_of, stamp_of
from genex.publishing.swap import link
from genex.publishing.units import LessonWork, Unit
from genex.publishing.up_to_date import Note, remember, versions
from genex.publishing.version_files import BuiltFile, Report
from genex.publishing.workshop import Workshop
from genex.recipe import Recipe

if TYPE_CHECKING:
    from genex.page import merge
    from genex.publishing import series_book
    from genex.publishing.cluster import Cluster
else:
    merge = lazy("genex.page.merge")
    series_book = lazy("genex.publishing.series_book")


MOST_LISTED = 60
"""Of a series with more files, each lesson is told in a line."""


@dataclass(frozen=True)
class Lesson:
    """A finished lesson and where it lies."""

    recipe: Recipe
    folder: Path
    files: tuple[BuiltFile, ...]


@dataclass
class Content:
    """What a unit's folder shall hold: files made or kept, by path below the folder.

    small         what is written as it is
    adopted       files of an earlier build that are kept, and the stamps that they had
    digests       SHA-256 of every file
    made          files by what they were made from: where they lie, and what they are
    listed        files that a series lists beside its lessons
    archive       the zip beside a series' folder, where it is kept
    archive_file  the zip, kept or new
    has_new       whether anything large had to be made
    """

    lessons: list[Lesson] = field(default_factory=list)
    small: dict[str, bytes] = field(default_factory=dict)
    adopted: dict[str, tuple[Path, Stamp]] = field(default_factory=dict)
    digests: dict[str, str] = field(default_factory=dict)
    sizes: dict[str, int] = field(default_factory=dict)
    made: dict[str, tuple[str, list[dict[str, Any]]]] = field(default_factory=dict)
    listed: list[str] = field(default_factory=list)
    archive: KeptFile | None = None
    archive_file: BuiltFile | None = None
    archive_key: str = ""
    has_new: bool = False

    def add(self, path: str, data: bytes) -> None:
        """A small file."""
        self.small[path], self.digests[path], self.sizes[path] = data, sha256(data), len(data)

    def adopt(self, below: str, kept: Sequence[KeptFile]) -> None:
        """Files that are kept."""
        for one in kept:
            path = below + one.file.name
            self.adopted[path] = one.path, one.stamp
            self.digests[path], self.sizes[path] = one.file.sha256, one.file.size_bytes


@dataclass(frozen=True)
class Built:
    """A unit that is in place. ``printed`` is what is said of it; ``changed`` whether it is new.

    ``paths`` are all its files, the manifest of each folder last, then the zip.
    """

    unit: Unit
    printed: list[str]
    changed: bool
    paths: list[Path]


def jobs_to_make(units: Sequence[Unit]) -> list[Job]:
    """What the workshop has to make for some units, in order."""
    return [work.to_make for unit in units for work in unit.lessons if work.to_make is not None]


def build_units(
    units: Sequence[Unit],
    workshop: Workshop | Cluster,
    report: Report,
    note: Report,
    follower: Follower = NOBODY,
) -> Iterator[Built]:
    """Make what is to be made of each unit and publish it, wholly or not at all. Yields in order.

    The workshop is one for ``jobs_to_make`` of the units. Raises GenexError.
    """
    return _Builder(units, workshop, report, note, follower).run()


class _Builder:
    def __init__(
        self,
        units: Sequence[Unit],
        workshop: Workshop | Cluster,
        report: Report,
        note: Report,
        follower: Follower,
    ) -> None:
        self._units, self._workshop, self._report, self._note = units, workshop, report, note
        self._follower = follower
        self._waiting = deque(
            (unit, work) for unit in units for work in unit.lessons if work.to_make is not None
        )
        self._open: dict[int, Staging] = {}
        self._ordered: deque[int] = deque()
        self._count = 0
        self._told_of_locks = False

    def run(self) -> Iterator[Built]:
        for unit in self._units:
            unit.claim.earlier()  # before anything is made
        try:
            for unit in self._units:
                made = [self._made(unit, work) for work in unit.lessons]
                built = self._publish(unit, made)
                if staging := self._open.get(id(unit)):
                    staging.close()
                    del self._open[id(unit)]
                yield built
        except BaseException:
            self._workshop.stop()  # nobody shall write any more to what is removed now
            raise
        finally:
            for staging in self._open.values():
                staging.close()

    def _made(self, unit: Unit, work: LessonWork) -> list[BuiltFile]:
        """The files of a lesson that had to be made, in the order of its versions."""
        if work.to_make is None:
            return []
        while self._waiting and len(self._ordered) <= self._workshop.lookahead:
            its_unit, ahead = self._waiting.popleft()
            self._workshop.order(self._count, self._staging(its_unit).stage(ahead.below))
            self._ordered.append(self._count)
            self._count += 1
        files = self._workshop.files(self._ordered.popleft())
        self._follower.lesson_made(work.job.recipe.title, unit.folder / work.below)
        return files

    def _staging(self, unit: Unit) -> Staging:
        staging = self._open.get(id(unit))
        if staging is None:
            archive = unit.folder.with_name(f"{unit.source.slug}.zip") if unit.series else None
            # Known before it is open: Ctrl-C leaves nothing that is not closed.
            staging = self._open[id(unit)] = Staging(unit.folder, archive)
            staging.open()
            if not staging.has_locks and not self._told_of_locks:
                self._note(NO_LOCKS)
                self._told_of_locks = True
        return staging

    def _publish(self, unit: Unit, made: Sequence[list[BuiltFile]]) -> Built:
        content = Content()
        of_lessons = zip(unit.lessons, made, strict=True)
        for _, works in groupby(of_lessons, key=lambda one: one[0].below):
            _add_lesson(content, unit, list(works))
        if unit.series:
            self._add_series(content, unit)
        whole = unit.series is None or content.archive is not None
        if whole and not any(made) and not content.has_new:
            plan = unit.claim.plan(dict(content.digests), unit.known)
            if not plan.changes:
                return _unchanged(unit, content, plan)
        staging = self._staging(unit)
        for below in sorted(unit.folders):
            staging.stage(below)
        for path, (source, _) in content.adopted.items():
            staging.adopt(path, source)
        _write(content.small, unit, staging)
        if unit.series:
            self._add_archive(content, unit, staging)
        before = {path: stamp_of(staging.staged_path(path)) for path in content.digests}
        _require_kept_as_they_were(unit, content, before)
        plan = staging.publish(
            content.digests, lambda wanted: unit.claim.plan(wanted, unit.known), unit.claim.earlier
        )
        for text in (*plan.notes(), *staging.notes):
            self._note(text)
        _remember(unit, content, {path: _still(unit, path, before[path]) for path in before})
        return Built(unit, _printed(unit, content), True, _paths(unit, content))

    def _add_series(self, content: Content, unit: Unit) -> None:
        """The book, the contents page, and the zip if it would come out the same."""
        series = unit.series
        assert series is not None
        if series.chords:
            with unit.inputs.active():
                mark = book_key(series)
            most = self._workshop.most_workers
            self._add_printed(content, unit, mark, "book", lambda: series_book.book_files(series, most))
        if series.fields.bound:
            with unit.inputs.active():
                mark = bound_key(series, digests_of("handout", content.lessons))
            jobs = [work.job for work in unit.lessons]
            self._add_printed(
                content, unit, mark, "bound sheets", lambda: series_book.bound_files(series, jobs)
            )
        if has_page(series):
            self._add_page(content, unit)
        if content.lessons:
            page = contents_page(series, content.lessons, content.listed)
            content.add(CONTENTS, contents(series, content.lessons).encode())
            content.add(CONTENTS_PAGE, page.encode())
            content.listed += [CONTENTS, CONTENTS_PAGE]
        content.archive_key = archive_key(series, _members(content))
        kept = unit.kept_of(content.archive_key)
        if kept is not None:
            content.archive, content.archive_file = kept[0], kept[0].file
            self._list_series(content, unit)

    def _add_printed(
        self, content: Content, unit: Unit, mark: str, kind: str, make: Callable[[], dict[str, bytes]]
    ) -> None:
        """Files of the series itself: those that were made from the same, or new ones."""
        kept = unit.kept_of(mark)
        if kept is None:
            self._report(f"{unit.source.slug}: the {kind}")
            with unit.inputs.active():
                files = make()
            for name, data in files.items():
                content.add(name, data)
            content.has_new = True
            built = [BuiltFile(name, kind, content.sizes[name], content.digests[name]) for name in files]
        else:
            built = [one.file for one in kept]
            content.adopt("", kept)
        content.made[mark] = (unit.source.slug, [asdict(file) for file in built])
        content.listed += [file.name for file in built]

    def _add_page(self, content: Content, unit: Unit) -> None:
        """The page with all lessons, put together from theirs."""
        series = unit.series
        assert series is not None
        pages = digests_of("page", content.lessons)
        name = page_name(series)

        def make() -> dict[str, bytes]:
            places = [self._place_of(path, content, unit) for path in pages]
            with writing(unit.folder / name):
                return {name: merge.merged_page(series.title, [place.read_bytes() for place in places])}

        self._add_printed(content, unit, page_key(series, pages), "page", make)

    def _place_of(self, path: str, content: Content, unit: Unit) -> Path:
        """Where a lesson's file lies now: kept from an earlier build, or just made."""
        if path in content.adopted:
            return content.adopted[path][0]
        return self._staging(unit).staged_path(path)

    def _add_archive(self, content: Content, unit: Unit, staging: Staging) -> None:
        """The zip: the one that is there, or a new one."""
        if content.archive is not None:
            with writing(content.archive.path):
                link(content.archive.path, staging.archive_path)
            return
        name = unit.folder.with_name(f"{unit.source.slug}.zip")
        self._report(f"{unit.source.slug}: the zip")
        with writing(name):
            write_zip(staging.archive_path, unit.source.slug, _members(content), staging.staged_path)
            size, digest = staging.archive_path.stat().st_size, sha256_of(staging.archive_path)
        content.archive_file = BuiltFile(name.name, "zip", size, digest)
        self._list_series(content, unit)
        _write({MANIFEST: content.small[MANIFEST]}, unit, staging)

    def _list_series(self, content: Content, unit: Unit) -> None:
        assert unit.series is not None and content.archive_file is not None
        content.made[content.archive_key] = ("", [asdict(content.archive_file)])
        manifest = series_manifest(
            unit.series,
            unit.claim,
            unit.folders,
            {name: content.digests[name] for name in content.listed},
            content.sizes,
            content.archive_file,
        )
        content.add(MANIFEST, manifest)


def _add_lesson(
    content: Content, unit: Unit, works: Sequence[tuple[LessonWork, Sequence[BuiltFile]]]
) -> None:
    """A lesson's files, kept and made, in the order of its works and versions, and its manifest."""
    first = works[0][0]
    recipe, below = first.lesson, f"{first.below}/" if first.below else ""
    place = str(PurePosixPath(unit.source.slug, first.below))
    files: list[BuiltFile] = []
    for work, made in works:
        of_version = _by_version(work, made)
        for number, mark in enumerate(work.fingerprints):
            if number in work.kept:
                content.adopt(below, work.kept[number])
                found = [one.file for one in work.kept[number]]
            else:
                found = of_version[number]
            content.made[mark] = (place, [asdict(file) for file in found])
            files += found
    if len({file.name for file in files}) < len(files):
        raise ValueError(f"a file of {recipe.slug} is made twice")
    content.digests |= {below + file.name: file.sha256 for file in files}
    content.lessons.append(Lesson(recipe, unit.folder / first.below, tuple(files)))
    font = soundfont_path(recipe, unit.request.soundfont)
    music = {slug: facts for work, _ in works for slug, facts in work.facts.music.items()}
    content.add(
        below + MANIFEST,
        lesson_manifest(music, recipe, files, font, unit.claim),
    )


def _by_version(work: LessonWork, made: Sequence[BuiltFile]) -> dict[int, list[BuiltFile]]:
    """Files that were made, by the number of their version."""
    if len(work.fingerprints) == 1:
        return {0: list(made)}
    versions = work.job.recipe.versions
    numbers = {(str(versions[n].key), float(versions[n].tempo)): n for n in work.numbers}
    found: dict[int, list[BuiltFile]] = {number: [] for number in work.numbers}
    for file in made:
        found[numbers[file.facts["key"], file.facts["tempo"]]].append(file)
    return found


def _members(content: Content) -> dict[str, str]:
    """What the zip holds: everything but manifests."""
    return {
        path: digest for path, digest in content.digests.items() if PurePosixPath(path).name != MANIFEST
    }


def _write(files: Mapping[str, bytes], unit: Unit, staging: Staging) -> None:
    for path, data in files.items():
        with writing(unit.folder / path):
            staging.staged_path(path).write_bytes(data)


def _require_kept_as_they_were(unit: Unit, content: Content, staged: Mapping[str, Stamp]) -> None:
    """Raise OutputError where something changed under the build's hands."""
    for font in unit.fonts:
        try:
            same = font.stamp == stamp_of(font.path)
        except OSError:
            same = False
        if not same:
            raise GenexError(
                f"the soundfont {font.path} was changed while the build went on",
                hint="build once more; earlier files are as they were",
            )
    for path, (_, stamp) in content.adopted.items():
        if not _alike(staged[path], stamp):
            raise OutputError(
                f"{unit.folder / path} was changed while the build went on",
                hint="build once more; earlier files are as they were",
            )


def _alike(one: Stamp, other: Stamp) -> bool:
    """The same file with the same content: a link more changes only one of its times.

    A copy, where there are no links, has another number.
    """
    return one[:2] == other[:2]


def _still(unit: Unit, path: str, before: Stamp) -> Stamp | None:
    """The stamp of a file that is in place, if it is the one that was put there."""
    try:
        now = stamp_of(unit.folder / path)
    except OSError:
        return None
    return now if _alike(now, before) and now[3] == before[3] else None


def _unchanged(unit: Unit, content: Content, plan: Plan) -> Built:
    stamps = {e.path: e.stamp for e in plan.entries if e.verdict is Verdict.SAME}
    _remember(unit, content, stamps)
    return Built(unit, _printed(unit, content), False, _paths(unit, content))


def _remember(unit: Unit, content: Content, stamps: Mapping[str, Stamp | None]) -> None:
    if not unit.keeps:
        return
    written = [
        Known(key_of(unit.folder / path), digest, stamps.get(path))
        for path, digest in content.digests.items()
    ]
    if content.archive_file is not None:
        zip_path = unit.folder.with_name(content.archive_file.name)
        with suppress(OSError):
            stamp = stamp_of(zip_path)
            written.append(Known(key_of(zip_path), content.archive_file.sha256, stamp))
    read = [Known(path, digest) for path, digest in unit.inputs.digests.items()]
    note = Note(
        versions(),
        [*read, *unit.fonts, *unit.sources],
        written,
        _printed(unit, content),
        content.made,
        {work.job.recipe.slug: work.settings for work in unit.lessons},
        {
            work.key: {"used": dict(work.used), "facts": work.facts.as_json()}
            for work in unit.lessons
            if work.key
        },
    )
    remember(unit.request, note)


def _paths(unit: Unit, content: Content) -> list[Path]:
    """All files of a unit that is in place."""
    paths = []
    for lesson in content.lessons:
        paths += [lesson.folder / name for name in (*(f.name for f in lesson.files), MANIFEST)]
    if content.archive_file is not None:
        paths += [unit.folder / name for name in (*content.listed, MANIFEST)]
        paths.append(unit.folder.with_name(content.archive_file.name))
    return paths


def _printed(unit: Unit, content: Content) -> list[str]:
    """What is said of a unit that is in place."""
    is_long = sum(len(lesson.files) for lesson in content.lessons) > MOST_LISTED
    told = lesson_in_a_line if unit.series is not None and is_long else lesson_summary
    lines = [told(lesson.recipe.title, lesson.folder, lesson.files) for lesson in content.lessons]
    if unit.series is not None and content.archive_file is not None:
        lines += [str(unit.folder / name) for name in (*content.listed, MANIFEST)]
        lines.append(str(unit.folder.with_name(content.archive_file.name)))
    return lines
