"""A Dask scheduler, as far as it is needed, and how tasks are given to its workers.

Workers come and go. Each is greeted first: one that has other versions, or no genex at all, is told of
and left out. Only so many tasks are handed out as the workers do next, so that nobody's memory holds a
whole course. A task that a worker was not fit for (no room on its disk, another soundfont) goes to each
of the others in turn.
"""

from __future__ import annotations

import importlib
import logging
import time
import warnings
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from threading import Thread
from typing import Any

from genex.errors import ClusterError, GenexError
from genex.processes import threads_begin
from genex.publishing import cluster_worker
from genex.publishing.cluster_worker import Outcome, Task, Unfit, facts, greeting, make, unlike
from genex.publishing.version_files import BuiltFile, Report

_CONNECT_SECONDS = 10
_GREETING_SECONDS, _ONE_GREETING_SECONDS = 30, 5
_LOOK_SECONDS = 0.5
_ALONE_SECONDS = 60.0
"""So long a build waits for a worker where none is left."""
_MOST_TRIES = 2
"""So often a lesson is given to each worker that is not fit for it."""
_AHEAD = 2
"""So many tasks for each worker are handed out: the one that it is at, and the next."""


class Dask:
    """The scheduler. To be closed. Raises ClusterError."""

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
        # genex tells itself what differs between machines, as far as it matters, and who is gone.
        for handler in logging.getLogger("distributed").handlers:
            handler.setLevel(logging.CRITICAL + 1)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                self._client = distributed.Client(address, timeout=_CONNECT_SECONDS)
        except Exception as problem:  # a server of another kind makes the library fail in many ways
            told = isinstance(problem, OSError | ValueError | TypeError | RuntimeError) and str(problem)
            raise ClusterError(
                f"no scheduler answers at {address}: {told or 'what answers there is something else'}",
                hint="start one with 'dask scheduler' and give the address that it prints, "
                "such as tcp://10.0.0.5:8786",
            ) from None

    def workers(self) -> list[str]:
        """Addresses of the workers there are."""
        return sorted(self._client.scheduler_info(n_workers=-1)["workers"])

    def greet(self, workers: Sequence[str]) -> dict[str, Unfit | None]:
        """Why each of some workers is not fit; None for one that is."""
        found: dict[str, Unfit | None] = {}
        # By name at first: a worker cannot be sent what it cannot load.
        loaded = self._ask(workers, importlib.import_module, cluster_worker.__name__)
        for address, answer in loaded.items():
            if isinstance(answer, Exception):
                found[address] = Unfit(f"genex cannot be loaded there: {answer}", address)
        rest = [address for address in workers if address not in found]
        answers = self._ask(rest, greeting)
        for address in rest:
            answer = answers.get(address)
            if isinstance(answer, tuple):
                why = unlike(answer[1], facts())
                found[address] = Unfit(why, answer[0]) if why else None
            else:
                found[address] = Unfit("it does not answer", address)
        return found

    def _ask(self, workers: Sequence[str], what: Callable[..., Any], *words: Any) -> dict[str, Any]:
        """What workers answer, or the exception that they met: of all together or, where one of them
        keeps the others waiting, of each. Those that do not answer are missing."""
        found = self._together(workers, what, words, _GREETING_SECONDS)
        for address in workers if len(workers) > 1 else ():
            if address not in found:
                found |= self._together([address], what, words, _ONE_GREETING_SECONDS)
        return found

    def _together(
        self, workers: Sequence[str], what: Callable[..., Any], words: Sequence[Any], seconds: float
    ) -> dict[str, Any]:
        answers: dict[str, Any] = {}

        def ask() -> None:
            with suppress(Exception):  # one of them went away meanwhile
                answers.update(self._client.run(what, *words, workers=workers, on_error="return"))

        if workers:
            asking = Thread(target=ask, daemon=True, name="genex-greeting")
            asking.start()
            asking.join(seconds)
        return dict(answers)

    def submit(self, task: Task, workers: Sequence[str] | None) -> Any:
        """Hand out a task, to any worker or to some."""
        return self._client.submit(make, task, pure=False, workers=workers, retries=1)

    def withdraw(self, future: Any) -> None:
        """Take a task back."""
        with suppress(Exception):
            future.cancel()

    def done(self, futures: Sequence[Any]) -> list[Any]:
        """Those that have come to their end, after a moment. Raises ClusterError."""
        try:
            self._library.wait(futures, timeout=_LOOK_SECONDS, return_when="FIRST_COMPLETED")
        except TimeoutError:
            pass
        except Exception as problem:  # all are given up when the connection is
            raise self._gone() from problem
        # One is lost for a while when the worker that had its result ends: it is made again.
        if not self._is_there or any(one.status == "cancelled" for one in futures):
            raise self._gone()
        return [one for one in futures if one.done()]

    @property
    def _is_there(self) -> bool:
        return bool(self._client.status == "running")

    @staticmethod
    def _gone() -> ClusterError:
        return ClusterError(
            "the scheduler is gone",
            hint="start it and its workers, and build again: lessons that were made are kept",
        )

    def outcome(self, future: Any) -> Outcome:
        """What came of a task. Raises ClusterError."""
        try:
            found: Outcome = future.result(timeout=60)
        except GenexError as fault:
            found = fault
        except Exception as problem:
            if not self._is_there:
                raise self._gone() from problem
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


@dataclass
class _Errand:
    """A task that is handed out: what it is called, how often it was given back, and to whom it went."""

    name: int
    task: Task
    tries: int = 0
    workers: Sequence[str] | None = None


class _Crew:
    """The workers there are, as far as they are fit."""

    def __init__(self, scheduler: Any, address: str, note: Report) -> None:
        self._scheduler, self._address, self._note = scheduler, address, note
        self._met: dict[str, Unfit | None] = {}
        self._told: set[str] = set()
        self._seen = time.monotonic()
        self.look()
        if not self._met:
            raise ClusterError(
                f"the scheduler at {address} has no workers",
                hint="start some with 'dask worker ADDRESS --nthreads 1', in an environment with genex",
            )

    @property
    def fit(self) -> list[str]:
        """Those that can be asked."""
        return [address for address, unfit in self._met.items() if unfit is None]

    def look(self) -> None:
        """Greet who is new. Raises ClusterError where nobody is left, or nobody of any use came."""
        there = self._scheduler.workers()
        self._met = {address: unfit for address, unfit in self._met.items() if address in there}
        if new := [address for address in there if address not in self._met]:
            self._met |= self._scheduler.greet(new)
        unfit = [one for one in self._met.values() if one is not None]
        for one in unfit:
            self.tell(f"note: a worker is left out: {one}")
        if self.fit:
            self._seen = time.monotonic()
        elif unfit and len(unfit) == len(there):
            raise ClusterError(
                f"none of the workers at {self._address} can make what this machine makes",
                hint="install there what is here, and start the workers in that environment",
            )
        elif time.monotonic() > self._seen + _ALONE_SECONDS:
            raise ClusterError(
                f"no worker is left at the scheduler {self._address}",
                hint="start some and build again: lessons that were made are kept",
            )

    def tell(self, text: str) -> None:
        """Tell of a worker, the same thing once."""
        if text not in self._told:
            self._told.add(text)
            self._note(text)

    def for_try(self, tries: int) -> Sequence[str] | None:
        """Whom to ask: anybody, or those that are fit; after a failure each of these in turn."""
        fit = self.fit
        if tries and fit:
            return [fit[tries % len(fit)]]
        return None if len(fit) == len(self._met) else fit


def made_elsewhere(
    scheduler: Any, address: str, names: Sequence[int], task_of: Callable[[int], Task], note: Report
) -> Iterator[tuple[int, list[tuple[BuiltFile, bytes]] | GenexError]]:
    """Have tasks made by the workers of a scheduler: yields what came of each, in no order.

    Raises ClusterError where the scheduler or all of its workers are gone.
    """
    crew = _Crew(scheduler, address, note)
    waiting = deque(names)
    under_way: dict[Any, _Errand] = {}

    def hand_out(errand: _Errand) -> None:
        errand.workers = crew.for_try(errand.tries)
        under_way[scheduler.submit(errand.task, errand.workers)] = errand

    try:
        while waiting or under_way:
            crew.look()
            for future, errand in list(under_way.items()):
                if errand.workers is not None and not set(errand.workers) & set(crew.fit):
                    scheduler.withdraw(future)  # all that it went to are gone
                    hand_out(under_way.pop(future))
            while waiting and len(under_way) < _AHEAD * len(crew.fit):
                name = waiting.popleft()
                hand_out(_Errand(name, task_of(name)))
            for future in scheduler.done(list(under_way)):
                errand = under_way.pop(future)
                outcome = scheduler.outcome(future)
                if isinstance(outcome, Unfit):
                    errand.tries += 1
                    crew.tell(f"note: a worker gave a lesson back: {outcome}")
                    if errand.tries < _MOST_TRIES * max(1, len(crew.fit)):
                        hand_out(errand)
                        continue
                    outcome = ClusterError(f"no worker could make it: {outcome}")
                yield errand.name, outcome
    finally:
        for future in under_way:
            scheduler.withdraw(future)
