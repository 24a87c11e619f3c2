"""Builds that follow the pen: a recipe is built again as soon as something it is made from is saved.

What counts is what lies in the files: after each build, everything that was read for it is compared
with what lies there now. Events of the file system (watchfiles) only wake the process up, so that it
does not matter how an editor saves (writing in place, renaming over), and on drives that tell no events
a save is found a moment later. What is saved while a build goes on ends that build; nothing of it is
published, and what is there now is built instead.
"""

from __future__ import annotations

import os
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

from genex.compose import Memory
from genex.errors import GenexError
from genex.inputs import Inputs
from genex.lazy import lazy
from genex.processes import Stopped
from genex.publishing.following import NOBODY, Follower
from genex.publishing.jobs import Wishes, build_checked
from genex.publishing.lessons import Built
from genex.publishing.maker import RendererKeeper, soundfont_path
from genex.publishing.outlook import require_within
from genex.publishing.reasons import Reason, reasons_of
from genex.publishing.stamps import Known, key_of, sha256_of, stamp_of
from genex.publishing.units import distinct_recipes, prepare_unit
from genex.publishing.up_to_date import Request
from genex.publishing.version_files import AUDIO_OUTPUTS, Report
from genex.publishing.workshop import seldom_collecting

if TYPE_CHECKING:
    import watchfiles
else:
    watchfiles = lazy("watchfiles")

LOOK_SECONDS = 0.25
"""So often inputs are looked at where no event comes."""
SETTLE_SECONDS = 0.15
"""So long an input may be away or empty: some editors save in two steps."""
_STEP_MS, _GROUP_MS = 10, 50
_GLANCE_SECONDS = 0.1


Made = TypeVar("Made")
"""What is made of a recipe each time."""


class _OvertakenError(Exception):
    """Something was saved while it was built."""


@dataclass(frozen=True)
class Round(Generic[Made]):
    """What became of one build: ``built``, or the ``error`` for which the last good one stays.

    ``saved`` are the files for which it was made, none at first; ``seconds`` is how long it took.
    """

    recipe: Path
    built: Made | None
    error: GenexError | None
    saved: tuple[Path, ...]
    seconds: float


@dataclass
class Seen:
    """What was read for a recipe, digests by absolute path, and what could not be read, with stamps.

    ``tried`` are pairs of digests, of what was read and what lay there, that were built for already:
    of a file that is too long only a part is read, and that is no reason to build for ever.
    """

    read: dict[str, str | None] = field(default_factory=dict)
    stamps: dict[str, list[int] | None] = field(default_factory=dict)
    tried: set[tuple[str, str | None, str | None]] = field(default_factory=set)

    def news(self) -> list[tuple[str, str | None, str | None]]:
        """Files that are not as they were read: path, digest read, digest now."""
        found = []
        for path, digest in self.read.items():
            if Known(path, digest).is_as_it_was():
                continue
            news = path, digest, _digest(path)
            if news not in self.tried:
                found.append(news)
        found += [(path, None, None) for path, stamp in self.stamps.items() if _stamp(path) != stamp]
        return found


class Following(ABC, Generic[Made]):
    """Recipes of which something is made again whenever they, or files that they name, are saved."""

    def __init__(
        self,
        paths: Sequence[Path],
        soundfont: Path | None = None,
        *,
        waiting: Callable[[list[Path]], None] = lambda files: None,
    ) -> None:
        self._paths = distinct_recipes(paths)
        self._soundfont, self._waiting = soundfont, waiting
        self._seen: dict[Path, Seen] = {}
        self._keeper, self._memory = RendererKeeper(), Memory()
        self._unfinished: dict[Path, tuple[Path, ...]] = {}  # what was given up, whatever lies there now

    @abstractmethod
    def _make(self, path: Path, inputs: Inputs, seen: Seen, *, first: bool) -> Made:
        """Make it, reading with ``inputs``, and have what was read remembered. Raises GenexError."""

    def run(self) -> Iterator[Round[Made]]:
        """Build all, then what is saved, until Ctrl-C while it waits. Yields each build's end."""
        todo: dict[Path, tuple[Path, ...]] = dict.fromkeys(self._paths, ())
        try:
            while todo:
                for path, saved in todo.items():
                    yield from self._round(path, saved)
                todo = self._wait()
        finally:
            self._keeper.close()

    def _round(self, path: Path, saved: tuple[Path, ...]) -> Iterator[Round[Made]]:
        """One build; nothing if it was overtaken."""
        start = time.perf_counter()
        first = path not in self._seen
        seen = self._seen.setdefault(path, Seen())
        inputs = Inputs()
        built, error = None, None
        try:
            with self._memory.active():
                built = self._make(path, inputs, seen, first=first)
        except GenexError as problem:
            error = problem
        except _OvertakenError:
            self._unfinished[path] = saved
            return
        finally:
            if built is None:
                self._keeper.close()  # it may have been left in the middle
        yield Round(path, built, error, saved, time.perf_counter() - start)

    def _remember(self, seen: Seen, path: Path, inputs: Inputs, fonts: set[Path]) -> None:
        """What a build depends on, as it was read; a soundfont, there or not, by its stamp."""
        seen.read = dict(inputs.digests)
        other = inputs.unreadable | {key_of(font) for font in fonts}
        if self._soundfont is not None:
            other.add(key_of(self._soundfont))
        seen.stamps = {file: _stamp(file) for file in other | {key_of(path)} - seen.read.keys()}
        seen.tried = {pair for pair in seen.tried if pair[:2] in seen.read.items()}

    def _saved(self) -> dict[Path, tuple[Path, ...]]:
        """Recipes that have to be built, each with what was saved of it, once all has settled."""
        if not self._unfinished and not any(seen.news() for seen in self._seen.values()):
            return {}
        patience = time.perf_counter() + SETTLE_SECONDS
        while time.perf_counter() < patience and any(
            _is_away(path) for seen in self._seen.values() for path, read, _ in seen.news() if read
        ):
            time.sleep(_STEP_MS / 1000)
        found, self._unfinished = self._unfinished, {}
        for recipe, seen in self._seen.items():
            if news := seen.news():
                seen.tried |= set(news)
                found[recipe] = tuple(Path(path) for path, _, _ in news)
        return found

    def _files(self) -> list[Path]:
        """Everything that is watched, by absolute paths."""
        files = {path for seen in self._seen.values() for path in (*seen.read, *seen.stamps)}
        return [Path(path) for path in sorted(files)]

    def _wait(self) -> dict[Path, tuple[Path, ...]]:
        """What is saved next; nothing if Ctrl-C came. No other thread lives outside of this."""
        try:
            if found := self._saved():
                return found
            self._waiting(self._files())
            while True:
                try:
                    if found := self._watch():
                        return found
                except OSError:  # too many watches, or a folder that went away
                    if found := self._saved():
                        return found
                    time.sleep(LOOK_SECONDS)
        except (KeyboardInterrupt, Stopped):
            return {}

    def _watch(self) -> dict[Path, tuple[Path, ...]]:
        """As ``_wait``; nothing also if other folders are to be watched now. Raises OSError."""
        folders = self._folders()
        changes = watchfiles.watch(
            *folders, recursive=False, watch_filter=None, step=_STEP_MS, debounce=_GROUP_MS,
            rust_timeout=int(LOOK_SECONDS * 1000), yield_on_timeout=True, ignore_permission_denied=True,
        )  # fmt: skip
        with closing(changes):
            for _ in changes:
                if found := self._saved():
                    return found
                if self._folders() != folders:
                    return {}
        return {}

    def _folders(self) -> list[str]:
        """Folders that are to be watched: of names and of what links lead to, the nearest there is."""
        found = set()
        for file in self._files():
            for place in (file, Path(os.path.realpath(file))):
                folder = place.parent
                while not folder.is_dir() and folder != folder.parent:
                    folder = folder.parent
                found.add(str(folder))
        return sorted(found)


class Watch(Following[Built]):
    """Recipes that are built again whenever they, or files that they name, are saved."""

    def __init__(
        self,
        paths: Sequence[Path],
        out: Path,
        *,
        wishes: Wishes,
        report: Report = lambda text: None,
        note: Report = lambda text: None,
        follower: Follower = NOBODY,
        waiting: Callable[[list[Path]], None] = lambda files: None,
        why: Callable[[list[Reason]], None] | None = None,
    ) -> None:
        super().__init__(paths, wishes.soundfont, waiting=waiting)
        self._out, self._wishes = out, wishes
        self._report, self._note, self._follower, self._why = report, note, follower, why
        self._looked = 0.0

    def _make(self, path: Path, inputs: Inputs, seen: Seen, *, first: bool) -> Built:
        rebuild = first and self._wishes.rebuild
        request = Request(path, self._out, self._wishes.soundfont)
        fonts: set[Path] = set()
        try:
            with seldom_collecting():
                unit = prepare_unit(
                    request, rebuild=rebuild, take_over=self._wishes.take_over, inputs=inputs
                )
            recipes = [work.job.recipe for work in unit.lessons]
            fonts = {
                soundfont_path(recipe, self._wishes.soundfont)
                for recipe in recipes
                if AUDIO_OUTPUTS & set(recipe.outputs)
            }
        finally:
            self._remember(seen, path, inputs, fonts)
        require_within([unit])
        if self._why is not None:
            self._why(reasons_of(unit, rebuild=rebuild))

        def report(text: str) -> None:
            self._report(text)
            now = time.perf_counter()
            if now > self._looked + _GLANCE_SECONDS:
                self._looked = now
                if seen.news():
                    raise _OvertakenError

        (built,) = build_checked(
            [unit], self._out, wishes=self._wishes, report=report, note=self._note,
            follower=self._follower, keeper=self._keeper,
        )  # fmt: skip
        for file, digest in inputs.digests.items():
            seen.read.setdefault(file, digest)  # what was read on the way
        return built


def _digest(path: str) -> str | None:
    try:
        return sha256_of(path)
    except OSError:
        return None


def _stamp(path: str) -> list[int] | None:
    try:
        return stamp_of(path)
    except OSError:
        return None


def _is_away(path: str) -> bool:
    stamp = _stamp(path)
    return stamp is None or stamp[0] == 0
