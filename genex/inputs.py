"""Files that people name, read safely and once. Imports nothing of genex but its errors.

Whoever reads a file that a recipe or the command line names reads it here. Inside ``active`` each
file is read once: what came first is what the whole build sees, and its digest is taken from those
very bytes, so that an edit made meanwhile is noticed at the next build.

Pipes and devices are refused and never waited for. A link that lies in a folder where everybody
may write is followed only if it belongs to this user or to the folder's owner, as the Linux kernel
does it [published: kernel documentation, admin-guide/sysctl/fs, protected_symlinks].
"""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import BinaryIO

DEFAULTS_FILE = "genex-defaults.yaml"
"""What the recipes of a folder share is read from a file of this name."""
_MOST_LINKS = 40


class NotPlainFileError(OSError):
    """A pipe, a device, or a link of somebody else in a shared folder."""


class Inputs:
    """What has been read so far: the bytes of every file, None for one that was not there."""

    def __init__(self) -> None:
        self._read: dict[str, bytes | None] = {}
        self._used: set[str] = set()

    def read(self, path: Path, most_bytes: int) -> bytes:
        """As ``read_file``, but each file once."""
        key = os.path.abspath(path)  # noqa: PTH100 - as a key, with .. taken out
        self._used.add(key)
        if key not in self._read:
            try:
                self._read[key] = _read_plain(path, most_bytes)
            except FileNotFoundError:
                self._read[key] = None
                raise
        data = self._read[key]
        if data is None:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(path))
        return data

    @property
    def digests(self) -> dict[str, str | None]:
        """SHA-256 of every file read, by its absolute path; None for a file that was not there."""
        return {path: _sha256(data) for path, data in self._read.items()}

    def missing(self, path: Path) -> None:
        """As ``note_missing``."""
        self._read.setdefault(os.path.abspath(path), None)  # noqa: PTH100 - as in read

    @property
    def unreadable(self) -> set[str]:
        """Absolute paths of files that are there and could not be read."""
        return self._used - self._read.keys()

    @contextmanager
    def active(self) -> Iterator[Inputs]:
        """Have everything that ``read_file`` reads go through here."""
        token = _active.set(self)
        try:
            yield self
        finally:
            _active.reset(token)

    @contextmanager
    def noting(self) -> Iterator[dict[str, str | None]]:
        """As ``active``; fills a dictionary with the digests of what is read, again or anew."""
        used: dict[str, str | None] = {}
        before, self._used = self._used, set()
        try:
            with self.active():
                yield used
        finally:
            used |= {path: _sha256(self._read[path]) for path in self._used if path in self._read}
            self._used |= before


_active: ContextVar[Inputs | None] = ContextVar("inputs", default=None)


def _sha256(data: bytes | None) -> str | None:
    return None if data is None else hashlib.sha256(data).hexdigest()


def read_file(path: Path, most_bytes: int) -> bytes:
    """The bytes of a file, at most one more than ``most_bytes``. Raises OSError, ValueError."""
    inputs = _active.get()
    return inputs.read(path, most_bytes) if inputs else _read_plain(path, most_bytes)


def recipes_of(paths: Iterable[Path]) -> list[Path]:
    """Files without those of defaults, which ``*.yaml`` names too; alone they stay."""
    named = list(paths)
    return [path for path in named if path.name != DEFAULTS_FILE] or named


def note_missing(path: Path) -> None:
    """A file that is named and is not there: who follows what was read waits for it too."""
    if inputs := _active.get():
        inputs.missing(path)


def _read_plain(path: Path, most_bytes: int) -> bytes:
    with open_plain(path) as file:
        return file.read(most_bytes + 1)


def open_plain(path: Path) -> BinaryIO:
    """Open a file for reading. Raises NotPlainFileError, OSError, ValueError."""
    require_plain(path)  # before it is opened: to open a device may do something
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        _require_regular(os.fstat(handle), path)
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def require_plain(path: Path) -> None:
    """Raise NotPlainFileError or OSError for what is no file, without opening it."""
    _require_regular(path.stat(), path)
    if hasattr(os, "geteuid") and (link := _foreign_link(path)):
        raise NotPlainFileError(
            errno.EPERM, f"'{link}' is somebody else's link in a folder where everybody may write"
        )


def _require_regular(status: os.stat_result, path: Path) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(status.st_mode):
        raise NotPlainFileError(errno.EPERM, "it is a pipe or a device, not a file")


def _foreign_link(path: Path) -> Path | None:
    """The first link on the way to a file that is not to be followed."""
    user = os.geteuid()
    todo, place = list(reversed(path.absolute().parts[1:])), Path(path.absolute().anchor)
    links = 0
    while todo and links <= _MOST_LINKS:
        step = todo.pop()
        if step == "..":
            place = place.parent
            continue
        found = place / step
        status = os.lstat(found)
        if not stat.S_ISLNK(status.st_mode):
            place = found
            continue
        if not may_follow(status.st_uid, os.lstat(place), user):
            return found
        links += 1
        target = found.readlink()
        if target.is_absolute():
            place = Path(target.anchor)
        todo += reversed([part for part in target.parts if part != target.anchor])
    return None


def may_follow(link_owner: int, folder: os.stat_result, user: int) -> bool:
    """Whether a link may be followed, by whose it is and in what kind of folder it lies."""
    return not folder.st_mode & stat.S_IWOTH or link_owner in (user, folder.st_uid)
