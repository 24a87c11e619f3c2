"""A few processes that make lessons side by side, where there is enough to do.

Each has a ``Maker`` of its own. Orders stand in one line for each process, so that versions of
one key, which share their lines and notes, are made in the same process, and those of one tempo, which
share their drums, one after the other (``in_turn``); whoever has nothing left takes from the far end of
the longest line. What is made does not depend on who makes
it, or when.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import traceback
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

from genex.errors import GenexError, InputError
from genex.processes import ctrl_c_waits, may_be_copied
from genex.publishing.files import Stage
from genex.publishing.following import NOBODY, Follower
from genex.publishing.maker import (
    Job,
    Maker,
    Order,
    RendererKeeper,
    all_versions,
    in_turn,
    load_rooms,
    other_keys,
    soundfont_digests,
)
from genex.publishing.stamps import Known
from genex.publishing.version_files import BuiltFile, Report

_MOST_WORKERS = 4
_LAST_SECONDS = 5.0
_DISK_FAILED = -getattr(signal, "SIGBUS", 0) or None
"""How a process ends that looks at a mapped file and its disk does not answer."""
Result = list[BuiltFile] | Exception
"""What has become of an order: the files made, or what kept them from being made."""


@contextmanager
def seldom_collecting() -> Iterator[None]:
    """Composing makes many small values that live to its end: within this (or in a function that it
    decorates) garbage is looked for less often, which saves a twentieth of a build's time."""
    before = gc.get_threshold()
    gc.set_threshold(50_000, 20, 20)
    try:
        yield
    finally:
        gc.set_threshold(*before)


class Workshop:
    """Makes the versions of lessons. A context manager, to be entered before files are staged.

    ``apart`` has even a single order made in a process of its own: a disk that fails under a long
    sound ends whoever looks at it (SIGBUS), and the first process is left to clear up and tell.
    ``most_workers`` is at most so many processes; if left away, one for each processor, up to four.
    ``fonts`` are soundfonts whose digest is known.
    """

    def __init__(
        self,
        jobs: Sequence[Job],
        soundfont: Path | None,
        report: Report,
        *,
        only_checks: bool = False,
        apart: bool = False,
        most_workers: int | None = None,
        follower: Follower = NOBODY,
        keeper: RendererKeeper | None = None,
        fonts: Sequence[Known] = (),
    ) -> None:
        self._fonts = fonts
        self._follower, self._keeper = follower, keeper
        self.most_workers = most_workers or processes()
        self._apart = apart
        self._jobs, self._soundfont, self._report = jobs, soundfont, report
        self._only_checks = only_checks
        self._workers: list[_Worker] = []
        self._lines: list[deque[Order]] = [deque()]
        self._maker: Maker | None = None
        self._results: dict[tuple[int, int], Result] = {}  # by lesson and version

    def __enter__(self) -> Workshop:
        self._collecting = seldom_collecting()
        self._collecting.__enter__()
        of_a_job = other_keys if self._only_checks else all_versions
        orders = sum(len(of_a_job(job.recipe)) for job in self._jobs)
        count = min(self.most_workers, orders)
        if count > 1 or (self._apart and count):
            # A copy of this process is ready at once; where that is not safe, a new one is started.
            context = multiprocessing.get_context("fork" if may_be_copied() else "spawn")
            digests: dict[Path, str] = {}
            if not self._only_checks:
                load_rooms(self._jobs)
                digests = self._digests()  # once for all of them
            if self._keeper:
                self._keeper.close()  # no copy shall share it
            gc.freeze()  # the copies share what is there as long as nobody writes to it
            self._lines = [deque() for _ in range(count)]
            with ctrl_c_waits():
                for _ in range(count):
                    known = [worker.connection for worker in self._workers]
                    self._workers.append(_Worker(context, self._jobs, self._soundfont, digests, known))
        else:
            digests = {} if self._only_checks else self._digests()
            self._maker = Maker(self._jobs, self._soundfont, self._report, digests, self._keeper)
        return self

    def _digests(self) -> dict[Path, str]:
        return soundfont_digests(self._jobs, self._soundfont, self._fonts)

    def __exit__(self, kind: object, error: BaseException | None, *_: object) -> None:
        if error is not None:
            self.stop()
        for worker in self._workers:
            worker.dismiss()
        if self._maker:
            self._maker.close()
        gc.unfreeze()
        self._collecting.__exit__(None, None, None)

    def stop(self) -> None:
        """End all work at once and leave it undone."""
        for worker in self._workers:
            worker.end()
        self._workers.clear()

    @property
    def lookahead(self) -> int:
        """How many lessons should be on order beside the one that is waited for."""
        return len(self._workers)

    def check(self) -> dict[int, InputError]:
        """Compose the lessons' other keys. Errors by the number of their lesson.

        Raises what is no fault of a recipe.
        """
        wanted = {lesson: other_keys(job.recipe) for lesson, job in enumerate(self._jobs)}
        self._queue([Order(lesson, number) for lesson in wanted for number in wanted[lesson]])
        found: dict[int, InputError] = {}
        count, done = sum(map(len, wanted.values())), 0
        for lesson, numbers in wanted.items():
            recipe = self._jobs[lesson].recipe
            try:
                for number in numbers:
                    done += 1
                    key = recipe.versions[number].key
                    self._report(
                        f"{recipe.source.file}: {recipe.title} in {key}, {done} of {count} keys"
                    )
                    self._made(lesson, number)
            except InputError as error:
                found[lesson] = error
        for line in self._lines:
            line.clear()
        while any(worker.order for worker in self._workers):
            self._go_on()
        self._results.clear()
        return found

    def order(self, lesson: int, stage: Stage) -> None:
        """Have all versions of a lesson made."""
        numbers = in_turn(self._jobs[lesson].recipe, len(self._lines))
        self._queue([Order(lesson, number, stage) for number in numbers])

    def files(self, lesson: int) -> list[BuiltFile]:
        """The files of a lesson that was ordered, once they are made.

        Raises GenexError, always the same one: that of the first version that cannot be made.
        """
        numbers = all_versions(self._jobs[lesson].recipe)
        return [file for number in numbers for file in self._made(lesson, number)]

    def _made(self, lesson: int, number: int) -> list[BuiltFile]:
        """What was made of a version, once it is made. Raises what kept it from that."""
        while (lesson, number) not in self._results:
            self._go_on()
        result = self._results.pop((lesson, number))
        if isinstance(result, Exception):
            raise result
        return result

    def _queue(self, orders: Sequence[Order]) -> None:
        share = -(-len(orders) // len(self._lines))
        for index, line in enumerate(self._lines):
            line.extend(orders[index * share : (index + 1) * share])

    def _go_on(self) -> None:
        """Hand out what can be handed out, and wait until something has been made."""
        if self._maker:
            order = self._lines[0].popleft()
            self._keep_result(order, _result(self._maker, order))
            return
        for index, worker in enumerate(self._workers):
            if not worker.order and (following := self._next(index)):
                worker.send(following)
        ready = wait([worker.connection for worker in self._workers if worker.order])
        for worker in self._workers:
            if worker.connection in ready:
                self._hear(worker)

    def _next(self, index: int) -> Order | None:
        if self._lines[index]:
            return self._lines[index].popleft()
        longest = max(self._lines, key=len)
        return longest.pop() if longest else None

    def _hear(self, worker: _Worker) -> None:
        heard = worker.receive()
        if isinstance(heard, str):
            self._report(heard)
        elif worker.order:
            order, worker.order = worker.order, None
            self._keep_result(order, heard)

    def _keep_result(self, order: Order, result: Result) -> None:
        self._results[order.lesson, order.version] = result
        if order.stage is not None and not isinstance(result, Exception):
            self._follower.version_made()


class _Worker:
    """A process at work, and the order that it has at the moment."""

    def __init__(
        self,
        context: Any,
        jobs: Sequence[Job],
        soundfont: Path | None,
        digests: Mapping[Path, str],
        known: Sequence[Connection],
    ) -> None:
        self.connection, other = context.Pipe()
        self.order: Order | None = None
        # A copied process has copies of these. It must let go of them: a line ends when the first
        # process, however it ends, was the only one to hold its other end.
        foreign = [*known, self.connection] if context.get_start_method() == "fork" else []
        self._process = context.Process(
            target=_work, args=(other, jobs, soundfont, digests, foreign), daemon=True
        )
        self._process.start()
        other.close()

    def send(self, order: Order) -> None:
        self.order = order
        try:
            self.connection.send(order)
        except OSError as problem:
            raise self._gone() from problem

    def receive(self) -> str | Result:
        """What the process reports, or the result of its order."""
        try:
            heard: str | Result = self.connection.recv()
            return heard
        except (EOFError, OSError) as problem:
            raise self._gone() from problem

    def dismiss(self) -> None:
        """Let the process go when it has done what it is at."""
        with suppress(OSError):
            self.connection.send(None)
        self.connection.close()
        self._process.join()

    def end(self) -> None:
        """End the process, whatever it is at."""
        self._process.terminate()
        self._process.join()
        self.connection.close()

    def _gone(self) -> GenexError:
        """What to say of a process that is no more."""
        self._process.join(_LAST_SECONDS)
        if self._process.exitcode == _DISK_FAILED:
            return GenexError(
                "a sound could not be read back from the disk of the lessons' folder",
                hint="see whether that disk is still there and sound, or choose another with --out",
            )
        return GenexError(
            "a part of the build was ended from outside",
            hint="build once more; close other programs if memory is short, and if that does not help "
            "delete the cache folder",
        )


def _work(
    connection: Connection,
    jobs: Sequence[Job],
    soundfont: Path | None,
    digests: Mapping[Path, str],
    foreign: Sequence[Connection],
) -> None:
    """What a worker does until it is dismissed, or nobody is at the other end of the line."""
    for other in foreign:
        other.close()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the first process ends the build

    maker = Maker(jobs, soundfont, connection.send, digests)
    try:
        while order := connection.recv():
            try:
                result = _result(maker, order)
            except Exception as error:
                # Any error can be told, not every one can be sent.
                result = RuntimeError("".join(traceback.format_exception_only(error)).strip())
                result.add_note(traceback.format_exc())
            connection.send(result)
    except (EOFError, OSError):
        return  # the first process is gone
    finally:
        maker.close()


def _result(maker: Maker, order: Order) -> Result:
    try:
        return maker.fulfil(order)
    except GenexError as error:
        return error


def processes() -> int:
    """How many work at once where nobody says how many."""
    return min(_MOST_WORKERS, _processors())


def _processors() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
