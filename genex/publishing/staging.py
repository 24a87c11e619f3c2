"""The files of a folder on their way there, and what builds left that were killed."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import shutil
import tempfile
import time
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from pathlib import Path, PurePosixPath
from types import TracebackType

from genex.errors import OutputError
from genex.publishing.files import Stage, on_disk, to_its_end, writing
from genex.publishing.locks import Lock, lock, try_lock
from genex.publishing.manifest import MANIFEST, Earlier
from genex.publishing.plan import Plan
from genex.publishing.stamps import sha256_of
from genex.publishing.swap import (
    ARCHIVE,
    NEW,
    ZIP,
    Journal,
    TornError,
    carry,
    link,
    settle,
    swap,
    sweep,
)

_PART = re.compile(r"\.[^/]+~[a-z0-9_]{8}\.part")
_LOOSE = re.compile(r"\.[^/]+\.(zip|yaml|yml|svg|png|txt|json|pdf)-[a-z0-9_]{8}\.part")
_DAY_SECONDS = 86_400.0
NO_LOCKS = (
    "note: this drive offers no file locks: build what goes there in one place at a time; what a "
    "killed build left goes after a day"
)


class Staging:
    """What shall be a folder, and perhaps a zip beside it.

    Between ``open`` and ``close``, or as a context manager: have the files written to a ``stage``
    or ``adopt`` them, then call ``publish``. Closing without publishing removes what was staged and
    leaves the folder as it was.
    """

    def __init__(self, folder: Path, archive: Path | None = None) -> None:
        self.folder, self.archive = folder, archive
        self._part: Path | None = None
        self._lock = Lock(None)
        self._keep = False
        self.notes: list[str] = []
        """What publishing found besides the plan, a line each."""

    def __enter__(self) -> Staging:
        self.open()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def _place(self) -> Path:
        """The folder itself, where its name is a link."""
        return Path(os.path.realpath(self.folder)) if self.folder.is_symlink() else self.folder

    @property
    def has_locks(self) -> bool:
        """Whether other builds keep clear of this one."""
        return self._lock.offered

    def open(self) -> None:
        """Make the place to write to. Raises OutputError or UnwritableFolderError."""
        with writing(self.folder):
            parent = self._place.parent
            parent.mkdir(parents=True, exist_ok=True)
            if self.folder.exists() and not self.folder.is_dir():
                raise FileExistsError(errno.EEXIST, "in the way")
            if self.folder.is_dir() and not os.access(self.folder, os.W_OK | os.X_OK):
                raise PermissionError(errno.EACCES, "no write access")
            try:
                with to_its_end():
                    self._make(parent)
                    (self._open_part / NEW).mkdir()
            except BaseException:
                self.close()
                raise

    def _make(self, parent: Path) -> None:
        # Between making and locking, another build may take it for a leftover: make another.
        while self._part is None:
            prefix = f".{self._place.name}~"
            self._part = Path(tempfile.mkdtemp(prefix=prefix, suffix=".part", dir=parent))
            with suppress(BlockingIOError, FileNotFoundError):
                self._lock = try_lock(self._part)
                if self._part.exists():
                    return
            self.close()

    def close(self) -> None:
        """Remove what is still staged. Closing twice is allowed."""
        if self._part is not None:
            if not self._keep:
                with suppress(OSError):  # what stays is cleared by the next build
                    shutil.rmtree(self._part)
            self._lock.release()
            self._part = None

    @property
    def _open_part(self) -> Path:
        if self._part is None:
            raise ValueError("nothing is open")
        return self._part

    def stage(self, below: str = "") -> Stage:
        """Where to write what shall lie in the folder, or in one below it.

        Each is a new one: every writer keeps his own names.
        """
        place = self._open_part / NEW / below
        with writing(self.folder):
            place.mkdir(exist_ok=True)
        return Stage(self.folder / below, place)

    def adopt(self, path: str, source: Path) -> None:
        """Have a file that is there already at a path in the folder. Raises OutputError."""
        with writing(self.folder / path):
            link(source, self._open_part / NEW / path)

    @property
    def archive_path(self) -> Path:
        """Where to write the zip."""
        return self._open_part / ARCHIVE

    def staged_path(self, path: str) -> Path:
        """Where a file of the folder lies until it is published."""
        return self._open_part / NEW / path

    def publish(
        self,
        files: Mapping[str, str],
        plan_for: Callable[[Mapping[str, str | None]], Plan],
        earlier: Callable[[], Earlier | None] = lambda: None,
    ) -> Plan:
        """Put all of it in place in one step: the staged files, given with their SHA-256, and the zip.

        ``plan_for`` says what happens to what lies there by now. Returns that plan. Raises
        OutputError, UnwritableFolderError, and what ``plan_for`` raises; the folder is as it was
        then, unless the message says otherwise.
        """
        part = self._open_part
        with writing(self.folder):
            place = self._place
            targets, new = {NEW: place.name}, dict(files)
            if self.archive is not None:
                same = self.archive.parent == place.parent
                targets[ARCHIVE] = self.archive.name if same else str(self.archive.absolute())
                new[ZIP] = sha256_of(part / ARCHIVE)
                (part / ARCHIVE).chmod(0o666 & (part / NEW).stat().st_mode)
            with lock(place.parent), to_its_end():
                plan = plan_for(dict(files))
                journal = Journal.of(targets, new, plan)
                if self.archive is not None:
                    self._keep_archive(earlier(), journal)
                if place.is_dir():
                    (part / NEW).chmod(place.stat().st_mode & 0o7777)
                self._manifests_on_disk(files)
                # From here on, a part that is left is settled, not just removed.
                journal.write(part)
                carry(plan, part / NEW)
                try:
                    swap(part, journal)
                except TornError as problem:
                    self._keep = True
                    raise self._torn(problem) from problem
                self._in_place_on_disk()
                self._sweep(part, journal)
        return plan

    def _manifests_on_disk(self, files: Iterable[str]) -> None:
        """A power cut shall find no folder whose manifest is not whole."""
        new = self._open_part / NEW
        for path in files:
            if PurePosixPath(path).name == MANIFEST:
                on_disk(new / path)
                on_disk((new / path).parent)

    def _in_place_on_disk(self) -> None:
        """What was there goes only once the exchange would outlast a power cut, if that can be told."""
        with suppress(OSError):  # all is in place
            on_disk(self._open_part.parent)
            if self.archive:
                on_disk(self.archive.parent)

    def _keep_archive(self, earlier: Earlier | None, journal: Journal) -> None:
        """Note in the journal what may go of an earlier zip: one that genex wrote."""
        assert self.archive is not None
        digest, ours = archive_of(self.archive, earlier)
        journal.old[ZIP] = (None, None, digest if ours else None)
        if digest not in (None, journal.new[ZIP]) and not ours:
            self.notes.append(
                f"note: {self.archive} was not as genex wrote it: kept beside it under a dated name"
            )

    def _sweep(self, part: Path, journal: Journal) -> None:
        try:
            sweep(part, journal)
        except OSError as problem:
            self._keep = True
            raise OutputError(
                f"{self.folder} is new, but what somebody saved there meanwhile could not be moved "
                f"back and lies in {part}: {problem.strerror}",
                hint="build once more: that moves it back",
            ) from problem

    def _torn(self, problem: TornError) -> OutputError:
        cause = problem.__cause__
        reason = cause.strerror if isinstance(cause, OSError) else cause
        return OutputError(
            f"{self.folder} could not be put in place whole, nor taken back: {reason}",
            hint=f"build once more: that puts it right; until then leave {self._part} alone",
        )


def archive_of(archive: Path, earlier: Earlier | None) -> tuple[str | None, bool]:
    """SHA-256 of the zip that is there, None if there is none; whether it is as genex wrote it.

    Manifests of genex before it named owners do not list the zip: what is there is taken for it.
    Raises OSError.
    """
    try:
        digest = sha256_of(archive)
    except FileNotFoundError:
        return None, False
    if earlier is None or earlier.archive is None:
        return digest, earlier is not None and earlier.owner is None
    return digest, earlier.archive[1] == digest


def clear_leftovers(out: Path) -> int:
    """Settle and remove what killed builds left in an output folder; how many there were.

    What a living build works in is locked and left alone; without locks, its age tells.
    """
    cleared = 0
    for path in leftovers(out):
        with suppress(OSError), try_lock(path) as held:
            if held.offered or time.time() - path.stat().st_mtime > _DAY_SECONDS:
                if path.is_dir():
                    with lock(out):
                        settle(path)
                else:
                    path.unlink()
                cleared += 1
    return cleared


def leftovers(out: Path) -> list[Path]:
    """What builds are working in, or left behind, in an output folder."""
    try:
        with os.scandir(out) as found:
            return sorted(
                Path(entry.path) for entry in found if entry.name.endswith(".part") and _is_part(entry)
            )
    except OSError:
        return []


def _is_part(entry: os.DirEntry[str]) -> bool:
    if entry.is_dir(follow_symlinks=False):
        return _PART.fullmatch(entry.name) is not None
    return entry.is_file(follow_symlinks=False) and _LOOSE.fullmatch(entry.name) is not None


def sha256(data: bytes) -> str:
    """SHA-256 in hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()
