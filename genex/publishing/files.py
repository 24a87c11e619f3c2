"""Files on disk, all or nothing: written beside their final place, then moved there.

A lesson's files are staged in a hidden folder next to the lesson's own, so that a move is a
rename on one file system and therefore atomic. The manifest goes away first and comes back
last: while a publication is under way, or if it is cut off, no manifest vouches for the files.
A staging folder that a killed build left behind is cleared by the next build of that lesson.
"""

from __future__ import annotations

import errno
import os
import shutil
import signal
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType

from genex.errors import GenexError, OutputError, UnwritableFolderError

MANIFEST = "manifest.json"

_DISK_ERRORS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "your disk quota is used up",
    errno.EFBIG: "the file would be larger than this system allows",
    errno.EIO: "the disk reported an error",
}
_FOLDER_ERRORS = {
    errno.EACCES: "you may not write there",
    errno.EPERM: "you may not write there",
    errno.EROFS: "that disk is read-only",
    errno.ENOTDIR: "a part of that path is a file, not a folder",
    errno.EEXIST: "a file of that name is in the way",
    errno.EISDIR: "a folder of that name is in the way",
    errno.ENAMETOOLONG: "the name is too long",
    errno.ELOOP: "the path runs in a circle",
}


@contextmanager
def writing(target: Path) -> Iterator[None]:
    """Turn an OSError while writing ``target`` into an error that says what to do."""
    try:
        yield
    except OSError as error:
        raise write_error(target, error) from error


def write_error(target: Path, error: OSError) -> GenexError:
    """The GenexError for an OSError at ``target``: OutputError or UnwritableFolderError."""
    code = error.errno or 0
    if code in _DISK_ERRORS:
        return OutputError(
            f"{target} cannot be written: {_DISK_ERRORS[code]}",
            hint="make room, or choose another disk with --out; earlier files are as they were",
        )
    if code in _FOLDER_ERRORS:
        return UnwritableFolderError(
            f"{target} cannot be written: {_FOLDER_ERRORS[code]}",
            hint="choose another folder with --out",
        )
    if code == errno.ENOENT:
        return OutputError(
            f"{target} cannot be written: its folder was removed meanwhile", hint="build once more"
        )
    return OutputError(f"{target} cannot be written: {error.strerror or error}")


class Stage:
    """Where the files of ``folder`` are written before they are moved there.

    ``names`` are the files written so far, by this object.
    """

    def __init__(self, folder: Path, stage: Path) -> None:
        self.folder = folder
        self.names: list[str] = []
        self._stage = stage

    def path(self, name: str) -> Path:
        """Where to write, or to read back, the file that shall be called ``name``."""
        if name not in self.names:
            self.names.append(name)
        return self._stage / name

    def write(self, name: str, data: bytes) -> None:
        """Stage a whole file. Raises ValueError where the name is taken: two files would be one."""
        if name in self.names:
            raise ValueError(f"{name} is made twice")
        target = self.path(name)
        with writing(self.folder / name):
            target.write_bytes(data)


class Staging:
    """The files of one lesson on their way to ``folder``.

    Between ``open`` and ``close``, or as a context manager: have the files written to ``stage``,
    then call ``publish``. Closing without publishing removes what was staged and leaves ``folder``
    as it was.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._path: Path | None = None
        self._lock: int | None = None

    def __enter__(self) -> Staging:
        self.open()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def open(self) -> None:
        """Make the place to write to. Raises OutputError or UnwritableFolderError."""
        parent = self.folder.parent
        with writing(self.folder):
            parent.mkdir(parents=True, exist_ok=True)
            if self.folder.exists() and not self.folder.is_dir():
                raise FileExistsError(errno.EEXIST, "in the way")
            if self.folder.is_dir() and not os.access(self.folder, os.W_OK | os.X_OK):
                raise PermissionError(errno.EACCES, "no write access")
            self._clear_leftovers()
            try:
                with _to_its_end():
                    self._make(parent)
            except BaseException:
                self.close()
                raise

    def close(self) -> None:
        """Remove what is still staged. Closing twice is allowed."""
        if self._path is not None:
            shutil.rmtree(self._path, ignore_errors=True)
            _unlock(self._lock)
            self._path = self._lock = None

    def _make(self, parent: Path) -> None:
        # Between making and locking, another build may take it for a leftover: make another.
        while self._path is None:
            prefix = f".{self.folder.name}~"
            self._path = Path(tempfile.mkdtemp(prefix=prefix, suffix=".part", dir=parent))
            with suppress(BlockingIOError):
                self._lock = _try_lock(self._path)
                if self._path.exists():
                    return
            self.close()

    @property
    def stage(self) -> Stage:
        """Where to write. Each is a new one: every writer keeps his own names."""
        return Stage(self.folder, self._place())

    def _place(self) -> Path:
        if self._path is None:
            raise ValueError("nothing is open")
        return self._path

    def publish(
        self, names: Sequence[str], manifest: bytes, *, stale: frozenset[str] = frozenset()
    ) -> None:
        """Move the files of these names to their place; ``stale`` are those of an earlier build.

        Raises ValueError where two files have one name.
        """
        if len(set(names)) < len(names):
            raise ValueError(f"a file of {self.folder.name} is made twice")
        with writing(self.folder):
            (self._place() / MANIFEST).write_bytes(manifest)
            self.folder.mkdir(exist_ok=True)
            lock = _lock(self.folder)
            try:
                with _to_its_end():
                    (self.folder / MANIFEST).unlink(missing_ok=True)
                    for name in names:
                        (self._place() / name).replace(self.folder / name)
                    for name in sorted(stale - set(names)):
                        (self.folder / name).unlink(missing_ok=True)
                    (self._place() / MANIFEST).replace(self.folder / MANIFEST)
            finally:
                _unlock(lock)

    def _clear_leftovers(self) -> None:
        """Remove staging folders whose build is no longer alive: nobody holds their lock."""
        for path in self.folder.parent.glob(f".{self.folder.name}~*.part"):
            with suppress(BlockingIOError):
                lock = _try_lock(path)
                if lock is not None:
                    shutil.rmtree(path, ignore_errors=True)
                    _unlock(lock)


@contextmanager
def atomic_path(target: Path) -> Iterator[Path]:
    """A path beside ``target`` to write to; it takes the target's name if all goes well.

    Raises OutputError or UnwritableFolderError.
    """
    with writing(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{target.name}-", suffix=".part", dir=target.parent)
        os.close(handle)
        path = Path(name)
        try:
            yield path
            path.chmod(0o666 & ~_umask())
            path.replace(target)
        except BaseException:
            path.unlink(missing_ok=True)
            raise


def write_file(target: Path, data: bytes) -> None:
    """Write one file atomically. Raises OutputError or UnwritableFolderError."""
    with atomic_path(target) as path:
        path.write_bytes(data)


@contextmanager
def _to_its_end() -> Iterator[None]:
    """Ctrl-C waits until what has begun is done: files that belong together are moved together."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    waiting: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, frame: waiting.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)
        if waiting:
            signal.raise_signal(signal.SIGINT)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


# Folders are locked with flock on the folder itself, which needs no extra file. Windows has no
# flock; there two builds of one lesson at once are not kept apart, and leftovers stay.
try:
    import fcntl

    def _open_locked(path: Path, flags: int) -> int:
        handle = os.open(path, os.O_RDONLY)
        try:
            fcntl.flock(handle, flags)
        except OSError:
            os.close(handle)
            raise
        return handle

    def _lock(path: Path) -> int | None:
        return _open_locked(path, fcntl.LOCK_EX)

    def _try_lock(path: Path) -> int | None:
        """None where there are no locks, or no such folder. Raises BlockingIOError if it is held."""
        try:
            return _open_locked(path, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise
        except OSError:
            return None

except ImportError:  # pragma: no cover

    def _lock(path: Path) -> int | None:
        return None

    def _try_lock(path: Path) -> int | None:
        return None


def _unlock(handle: int | None) -> None:
    if handle is not None:
        os.close(handle)
