"""Lessons made by other machines: handed as tasks to the workers of a Dask scheduler.

A task takes all that some versions of a lesson are made from but the soundfont, and gives their files
back as bytes: nobody needs a shared folder, and the first machine alone writes. What comes back is laid
down below the output folder, in ``.made``, until its recipe is published; if the build does not come to
its end, because a lesson cannot be made or the scheduler goes, the next one finds there what was made.

A worker that ends takes nothing along: the scheduler gives its task to another one.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from genex.errors import ClusterError, GenexError, InputError, SynthesizerError
from genex.lazy import lazy
from genex.publishing.cluster_worker import Task, facts
from genex.publishing.files import Stage, writing
from genex.publishing.following import Follower
from genex.publishing.kept_sounds import KeptSounds
from genex.publishing.maker import in_turn, soundfont_path
from genex.publishing.scheduler import Dask, made_elsewhere
from genex.publishing.stamps import sha256_of
from genex.publishing.swap import link
from genex.publishing.units import LessonWork, Unit, fingerprint
from genex.publishing.version_files import PLAYED_OUTPUTS, BuiltFile, Report
from genex.publishing.workshop import Workshop

if TYPE_CHECKING:
    from genex import audio
else:
    audio = lazy("genex.audio")

MADE = ".made"
"""Below the output folder: lessons that were made and are not in place yet."""
_LIST = "files.json"
_MOST_TITLES = 8
_MOST_VERSIONS, _MOST_BYTES = 4, 64 << 20
"""Of a task: what shares drums and lines is made together, as far as memory holds what comes back."""


@dataclass(frozen=True)
class _Share:
    """Versions of a lesson that are one task: the lesson's number, and theirs."""

    lesson: int
    numbers: tuple[int, ...]


class Cluster:
    """Stands in for a ``Workshop``: what it is asked for was made elsewhere. A context manager."""

    lookahead = 0
    most_workers = 1

    def __init__(
        self,
        units: Sequence[Unit],
        out: Path,
        soundfont: Path | None,
        address: str,
        report: Report,
        follower: Follower,
        note: Report,
        *,
        anew: bool = False,
    ) -> None:
        self._units, self._address, self._soundfont = units, address, soundfont
        self._report, self._follower, self._note = report, follower, note
        self._anew = anew
        self._place = out / MADE
        self._is_told = False  # which lessons are to be put in place
        self._wanted: list[tuple[Unit, LessonWork]] = []
        self._shares: list[list[_Share]] = []
        self._failed: list[tuple[Unit, LessonWork, GenexError]] = []

    def __enter__(self) -> Cluster:
        self._wanted = [(unit, work) for unit in self._units for work in unit.lessons if work.to_make]
        self._shares = [_shares(number, work) for number, (_, work) in enumerate(self._wanted)]
        if self._anew:
            self._clear()
        return self

    def __exit__(self, kind: object, error: object, trace: object) -> None:
        if self._is_told and (error is None or self._failed):
            self._clear()
        with suppress(OSError):  # if nothing is in it
            self._place.rmdir()

    def _clear(self) -> None:
        """Remove what was made of these lessons. Others stay there, of other builds too."""
        for number in range(len(self._wanted)):
            for share in self._shares[number]:
                shutil.rmtree(self._folder(share), ignore_errors=True)

    def check(self) -> dict[int, InputError]:
        """As ``Workshop.check``, on this machine."""
        jobs = [work.to_make for _, work in self._wanted if work.to_make]
        with Workshop(jobs, None, self._report, only_checks=True) as workshop:
            return workshop.check()

    def made(self) -> list[Unit]:
        """Have every lesson made, and give the units of which all could be. Raises ClusterError."""
        waiting = {number: self._missing(number) for number in range(len(self._wanted))}
        for number, missing in waiting.items():
            if not missing:
                self._tell(number)
        shares = [share for missing in waiting.values() for share in missing]
        if shares:
            self._require_writable()
            scheduler = Dask(self._address)
            try:
                self._have_made(scheduler, shares, waiting)
            finally:
                scheduler.close()
        faulty = {id(unit) for unit, _, _ in self._failed}
        good = [unit for unit in self._units if id(unit) not in faulty]
        self._wanted = [one for one in self._wanted if id(one[0]) not in faulty]
        self._is_told = True
        return good

    def require_all(self) -> None:
        """Raise ClusterError for the lessons that could not be made."""
        if self._failed:
            count = len(self._failed)
            raise ClusterError(
                f"{count} lesson{'s' if count != 1 else ''} could not be made:\n{self._told()}",
                hint="build again when that is mended: what was made is kept",
            )

    def _told(self) -> str:
        """Lessons that failed; those that failed for one reason stand together."""
        by_reason: dict[str, list[str]] = {}
        for _, work, error in self._failed:
            by_reason.setdefault(str(error), []).append(work.job.recipe.title)
        lines = []
        for reason, titles in by_reason.items():
            more = f" and {len(titles) - _MOST_TITLES} more" if len(titles) > _MOST_TITLES else ""
            said = reason.replace("\n", "\n  ")
            lines.append(f"  {', '.join(titles[:_MOST_TITLES])}{more}: {said}")
        return "\n".join(lines)

    def order(self, lesson: int, stage: Stage) -> None:
        """Put a lesson's files where they are staged."""
        for share in self._shares[lesson]:
            for file in self._files(share):
                with writing(stage.folder / file.name):
                    link(self._folder(share) / file.name, stage.path(file.name))

    def files(self, lesson: int) -> list[BuiltFile]:
        """The files of a lesson that was ordered."""
        return [file for share in self._shares[lesson] for file in self._files(share)]

    def stop(self) -> None:
        """Nothing is at work any more."""

    def _require_writable(self) -> None:
        """Raise OutputError or UnwritableFolderError before anybody works for nothing."""
        with writing(self._place.parent):
            self._place.mkdir(parents=True, exist_ok=True)
            if not os.access(self._place, os.W_OK | os.X_OK):
                raise PermissionError(errno.EACCES, "no write access")

    def _have_made(
        self, scheduler: Any, shares: Sequence[_Share], waiting: dict[int, list[_Share]]
    ) -> None:
        self._report(f"{len(shares)} tasks for {len(scheduler.workers())} workers")
        results = made_elsewhere(
            scheduler, self._address, range(len(shares)),
            lambda name: self._task(shares[name]), self._note,
        )  # fmt: skip
        given_up: set[int] = set()
        for name, outcome in results:
            share = shares[name]
            number = share.lesson
            if isinstance(outcome, GenexError):
                if number not in given_up:
                    given_up.add(number)
                    self._failed.append((*self._wanted[number], outcome))
                continue
            self._keep(share, outcome)
            waiting[number].remove(share)
            if not waiting[number]:
                self._tell(number)

    def _task(self, share: _Share) -> Task:
        work = self._wanted[share.lesson][1]
        assert work.to_make is not None
        recipe = work.to_make.recipe
        # Sounds of an earlier build lie on this machine: there, all is rendered.
        checked = work.to_make.kept.font
        job = replace(work.to_make, kept=KeptSounds(checked))
        if not PLAYED_OUTPUTS & set(recipe.outputs):
            return Task(job, share.numbers, facts(), None)
        path = soundfont_path(recipe, self._soundfont)
        own = self._soundfont is not None or recipe.fields.audio.soundfont is not None
        try:
            # What was checked: the fingerprints, by which what comes back is laid down, are of that.
            digest = checked or audio.content_digest(path)
        except OSError as problem:
            raise SynthesizerError(f"the soundfont {path} cannot be read: {problem.strerror}") from None
        return Task(job, share.numbers, facts(), (path.absolute() if own else None, digest))

    def _tell(self, number: int) -> None:
        unit, work = self._wanted[number]
        assert work.to_make is not None
        for _ in work.to_make.recipe.versions:
            self._follower.version_made()
        self._follower.lesson_made(work.job.recipe.title, unit.folder / work.below)

    def _folder(self, share: _Share) -> Path:
        """Where versions that were made lie, by all that they are made from."""
        unit, work = self._wanted[share.lesson]
        marks = [work.fingerprints[work.numbers[number]] for number in share.numbers]
        return self._place / fingerprint(marks, unit.source.slug, work.below)

    def _keep(self, share: _Share, made: Sequence[tuple[BuiltFile, bytes]]) -> None:
        folder = self._folder(share)
        part = folder.with_suffix(".new")
        with writing(self._place):
            shutil.rmtree(part, ignore_errors=True)
            part.mkdir(parents=True)
            for file, data in made:
                (part / file.name).write_bytes(data)
            (part / _LIST).write_text(json.dumps([asdict(file) for file, _ in made]))
            shutil.rmtree(folder, ignore_errors=True)
            part.rename(folder)

    def _missing(self, number: int) -> list[_Share]:
        """Shares of a lesson that no build before has made, or that are not whole."""
        return [share for share in self._shares[number] if not self._is_whole(share)]

    def _is_whole(self, share: _Share) -> bool:
        folder = self._folder(share)
        try:
            return all(sha256_of(folder / file.name) == file.sha256 for file in self._files(share))
        except (OSError, ValueError, TypeError):
            return False

    def _files(self, share: _Share) -> list[BuiltFile]:
        text = (self._folder(share) / _LIST).read_text()
        return [BuiltFile(**file) for file in json.loads(text)]


def _shares(lesson: int, work: LessonWork) -> list[_Share]:
    """A lesson's versions cut into tasks of few keys each."""
    assert work.to_make is not None
    size = max(1, work.facts.amounts[work.numbers[0]].size_bytes)
    most = max(1, min(_MOST_VERSIONS, _MOST_BYTES // size))
    recipe = work.to_make.recipe
    numbers = in_turn(recipe, -(-len(recipe.versions) // most))
    return [
        _Share(lesson, tuple(numbers[first : first + most])) for first in range(0, len(numbers), most)
    ]
