"""Lessons made by other machines: a task a lesson, handed to the workers of a Dask scheduler.

A task takes all that a lesson is made from but the soundfont, and gives its files back as bytes: nobody
needs a shared folder, and the first machine alone writes. What comes back is laid down below the output
folder, in ``.made``, until its recipe is published; if the build does not come to its end, because a
lesson cannot be made or the scheduler goes, the next one finds there what was made.

A worker that ends takes nothing along: the scheduler gives its lesson to another one. A worker that is
not fit for a lesson (no room on its disk, another soundfont) is left out, and another one is asked.
"""

from __future__ import annotations

import hashlib
import importlib
import json
import platform
import shutil
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from genex import __version__
from genex.errors import ClusterError, GenexError, InputError, SynthesizerError
from genex.lazy import lazy
from genex.processes import threads_begin
from genex.publishing.files import Stage, writing
from genex.publishing.following import Follower
from genex.publishing.maker import Job, files_of, soundfont_path
from genex.publishing.stamps import sha256_of
from genex.publishing.swap import link
from genex.publishing.units import LessonWork, Unit, fingerprint
from genex.publishing.up_to_date import LIBRARIES, installed
from genex.publishing.version_files import PLAYED_OUTPUTS, BuiltFile, Report
from genex.publishing.workshop import Workshop

if TYPE_CHECKING:
    from genex import audio
else:
    audio = lazy("genex.audio")

MADE = ".made"
"""Below the output folder: lessons that were made and are not in place yet."""
_LIST = "files.json"
_CONNECT_SECONDS = 10
_LOOK_SECONDS = 0.5
_ALONE_SECONDS = 60.0
"""So long a build waits for a worker where none is left."""
_MOST_TRIES = 3
_ONE_AT_A_TIME = threading.Lock()
"""A worker may have several threads; a lesson is made by one, as the synthesizer is."""


@dataclass(frozen=True)
class Task:
    """What a worker is to make. ``facts`` are what its genex must be; ``font`` is a path and a digest,
    with no path for the soundfont that comes with genex, or None where nothing sounds."""

    job: Job
    facts: Mapping[str, str]
    font: tuple[Path | None, str] | None


@dataclass(frozen=True)
class Unfit:
    """A worker that could not make a lesson, for a reason of its own."""

    why: str


Outcome = list[tuple[BuiltFile, bytes]] | GenexError | Unfit
"""What comes back: files with their content, a fault of the lesson, or of the worker."""


@lru_cache(maxsize=1)
def facts() -> dict[str, str]:
    """What must be the same on two machines, so that they make the same bytes."""
    found = {"genex": __version__, "its code": _code_digest()}
    found["python"] = ".".join(platform.python_version_tuple()[:2])
    return found | {name: installed(name) for name in LIBRARIES}


def _code_digest() -> str:
    """Of the content of every module: clones have other times."""
    digest = hashlib.sha256()
    package = Path(__file__).parents[1]
    for path in sorted(package.rglob("*")):
        if path.is_file() and "__pycache__" not in path.parts and "_data" not in path.parts:
            digest.update(str(path.relative_to(package)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


def make(task: Task) -> Outcome:
    """Make a lesson, on the machine that this is called on. Raises nothing that it knows of."""
    with _ONE_AT_A_TIME:
        if unfit := _unfit(task):
            return unfit
        font = task.font[0] if task.font else None
        try:
            return files_of(task.job, font)
        except InputError as fault:
            return fault
        except (GenexError, OSError, MemoryError) as problem:
            return Unfit(str(problem) or type(problem).__name__)


def _unfit(task: Task) -> Unfit | None:
    here = facts()
    other = [name for name in task.facts if here.get(name) != task.facts[name]]
    if other:
        said = [f"{name} {here.get(name) or '(none)'} in place of {task.facts[name]}" for name in other]
        return Unfit(", ".join(said))
    if task.font is None:
        return None
    try:
        path = task.font[0] or soundfont_path(task.job.recipe, None)
        if audio.content_digest(path) != task.font[1]:
            return Unfit(f"another soundfont at {path}")
    except OSError:
        return Unfit(f"no soundfont at {path}")
    return None


class Dask:
    """The scheduler, as far as it is needed. To be closed. Raises ClusterError."""

    def __init__(self, address: str) -> None:
        try:
            distributed: Any = importlib.import_module("distributed")
        except ImportError:
            raise ClusterError(
                "building on a cluster takes the package 'distributed', which is not installed",
                hint="pip install 'genex[cluster]', here and on every machine",
            ) from None
        threads_begin()
        self._library = distributed
        try:
            self._client = distributed.Client(address, timeout=_CONNECT_SECONDS)
        except (OSError, ValueError, TypeError, RuntimeError) as problem:
            raise ClusterError(
                f"no scheduler answers at {address}: {problem or type(problem).__name__}",
                hint="start one with 'dask scheduler' and give the address that it prints, "
                "such as tcp://10.0.0.5:8786",
            ) from None

    def workers(self) -> list[str]:
        """Addresses of the workers there are."""
        return sorted(self._client.scheduler_info(n_workers=-1)["workers"])

    def submit(self, task: Task, workers: Sequence[str] | None) -> Any:
        """Hand out a task, to any worker or to some."""
        return self._client.submit(make, task, pure=False, workers=workers, retries=1)

    def done(self, futures: Sequence[Any]) -> list[Any]:
        """Those that have come to their end, after a moment. Raises ClusterError."""
        with suppress(TimeoutError):
            self._library.wait(futures, timeout=_LOOK_SECONDS, return_when="FIRST_COMPLETED")
        if self._client.status != "running" or any(
            one.status in ("lost", "cancelled") for one in futures
        ):
            raise ClusterError(
                "the scheduler is gone",
                hint="start it and its workers, and build again: lessons that were made are kept",
            )
        return [one for one in futures if one.done()]

    def outcome(self, future: Any) -> Outcome:
        """What came of a task."""
        try:
            found: Outcome = future.result(timeout=60)
        except GenexError as fault:
            found = fault
        except Exception as problem:
            kind = type(problem).__name__
            if kind == "KilledWorker":
                found = GenexError(
                    "its worker was ended each time that it was at this lesson",
                    hint="see whether the workers have memory enough",
                )
            else:
                found = Unfit(f"{kind}: {problem}".strip(": "))
        future.release()
        return found

    def close(self) -> None:
        """Let go of it."""
        with suppress(Exception):
            self._client.close(timeout=5)


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
        *,
        anew: bool = False,
        connect: Callable[[str], Any] | None = None,
    ) -> None:
        self._units, self._address, self._soundfont = units, address, soundfont
        self._report, self._follower = report, follower
        self._connect = connect or Dask
        self._anew = anew
        self._place = out / MADE
        self._is_told = False  # which lessons are to be put in place
        self._wanted: list[tuple[Unit, LessonWork]] = []
        self._failed: list[tuple[Unit, LessonWork, GenexError]] = []

    def __enter__(self) -> Cluster:
        self._wanted = [(unit, work) for unit in self._units for work in unit.lessons if work.to_make]
        if self._anew:
            self._clear()
        return self

    def __exit__(self, kind: object, error: object, trace: object) -> None:
        if self._is_told and (error is None or self._failed):
            self._clear()

    def _clear(self) -> None:
        """Remove what was made of these lessons. Others stay there, of other builds too."""
        for number in range(len(self._wanted)):
            shutil.rmtree(self._folder(number), ignore_errors=True)
        with suppress(OSError):
            self._place.rmdir()

    def check(self) -> dict[int, InputError]:
        """As ``Workshop.check``, on this machine."""
        jobs = [work.to_make for _, work in self._wanted if work.to_make]
        with Workshop(jobs, None, self._report, only_checks=True) as workshop:
            return workshop.check()

    def made(self) -> list[Unit]:
        """Have every lesson made, and give the units of which all could be. Raises ClusterError."""
        waiting = []
        for number in range(len(self._wanted)):
            if self._kept(number):
                self._tell(number)
            else:
                waiting.append(number)
        if waiting:
            scheduler = self._connect(self._address)
            try:
                self._hand_out(scheduler, waiting)
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
            said = "\n".join(
                f"  {work.job.recipe.title}: {error.message}" for _, work, error in self._failed
            )
            count = len(self._failed)
            raise ClusterError(
                f"{count} lesson{'s' if count != 1 else ''} could not be made:\n{said}",
                hint="build again when that is mended: what was made is kept",
            )

    def order(self, lesson: int, stage: Stage) -> None:
        """Put a lesson's files where they are staged."""
        folder = self._folder(lesson)
        for file in self._files(lesson):
            with writing(stage.folder / file.name):
                link(folder / file.name, stage.path(file.name))

    def files(self, lesson: int) -> list[BuiltFile]:
        """The files of a lesson that was ordered."""
        return self._files(lesson)

    def stop(self) -> None:
        """Nothing is at work any more."""

    def _hand_out(self, scheduler: Any, waiting: Sequence[int]) -> None:
        workers = scheduler.workers()
        if not workers:
            raise ClusterError(
                f"the scheduler at {self._address} has no workers",
                hint="start some with 'dask worker ADDRESS --nthreads 1', in an environment with genex",
            )
        self._report(f"{len(waiting)} lessons, {len(workers)} workers")
        tasks = {number: self._task(number) for number in waiting}
        under_way = {scheduler.submit(task, None): number for number, task in tasks.items()}
        tries = dict.fromkeys(waiting, 0)
        seen = time.monotonic()
        while under_way:
            if scheduler.workers():
                seen = time.monotonic()
            elif time.monotonic() > seen + _ALONE_SECONDS:
                raise ClusterError(
                    f"no worker is left at the scheduler {self._address}",
                    hint="start some and build again: lessons that were made are kept",
                )
            for future in scheduler.done(list(under_way)):
                number = under_way.pop(future)
                outcome = scheduler.outcome(future)
                if isinstance(outcome, Unfit):
                    tries[number] += 1
                    if tries[number] < _MOST_TRIES * max(1, len(workers)):
                        under_way[
                            scheduler.submit(tasks[number], self._another(scheduler, tries[number]))
                        ] = number
                        continue
                    outcome = ClusterError(f"no worker could make it: {outcome.why}")
                if isinstance(outcome, GenexError):
                    self._failed.append((*self._wanted[number], outcome))
                else:
                    self._keep(number, outcome)
                    self._tell(number)

    @staticmethod
    def _another(scheduler: Any, tries: int) -> list[str] | None:
        """Each of the workers that there are now, in turn."""
        workers = scheduler.workers()
        return [workers[tries % len(workers)]] if workers else None

    def _task(self, number: int) -> Task:
        work = self._wanted[number][1]
        assert work.to_make is not None
        recipe = work.to_make.recipe
        if not PLAYED_OUTPUTS & set(recipe.outputs):
            return Task(work.to_make, facts(), None)
        path = soundfont_path(recipe, self._soundfont)
        own = self._soundfont is not None or recipe.fields.audio.soundfont is not None
        try:
            digest = audio.content_digest(path)
        except OSError as problem:
            raise SynthesizerError(f"the soundfont {path} cannot be read: {problem.strerror}") from None
        return Task(work.to_make, facts(), (path.absolute() if own else None, digest))

    def _tell(self, number: int) -> None:
        unit, work = self._wanted[number]
        assert work.to_make is not None
        for _ in work.to_make.recipe.versions:
            self._follower.version_made()
        self._follower.lesson_made(work.job.recipe.title, unit.folder / work.below)

    def _folder(self, number: int) -> Path:
        """Where a lesson that was made lies, by all that it is made from."""
        unit, work = self._wanted[number]
        marks = [work.fingerprints[one] for one in work.numbers]
        return self._place / fingerprint(marks, unit.source.slug, work.below)

    def _keep(self, number: int, made: Sequence[tuple[BuiltFile, bytes]]) -> None:
        folder = self._folder(number)
        part = folder.with_suffix(".new")
        with writing(folder):
            shutil.rmtree(part, ignore_errors=True)
            part.mkdir(parents=True)
            for file, data in made:
                (part / file.name).write_bytes(data)
            (part / _LIST).write_text(json.dumps([asdict(file) for file, _ in made]))
            shutil.rmtree(folder, ignore_errors=True)
            part.rename(folder)

    def _kept(self, number: int) -> bool:
        """Whether a lesson was made by a build before and is whole."""
        folder = self._folder(number)
        try:
            return all(sha256_of(folder / file.name) == file.sha256 for file in self._files(number))
        except (OSError, ValueError, TypeError):
            return False

    def _files(self, number: int) -> list[BuiltFile]:
        text = (self._folder(number) / _LIST).read_text()
        return [BuiltFile(**file) for file in json.loads(text)]
