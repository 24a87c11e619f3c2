"""Files on disk: where they are staged, single ones written all or nothing, errors in plain words."""

from __future__ import annotations

import errno
import os
import signal
import tempfile
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from genex.errors import GenexError, OutputError, UnwritableFolderError
from genex.publishing.locks import try_lock

_DISK_ERRORS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "your disk quota is used up",
    errno.EFBIG: "the file would be larger than this system allows",
    errno.EIO: "the disk reported an error",
    errno.EMFILE: "too many files are open at once",
    errno.ENFILE: "too many files are open at once",
    errno.ENOMEM: "there is too little memory",
}
_NO_SYNC = frozenset(
    {errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EBADF, errno.EROFS}
)
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

    @property
    def place(self) -> Path:
        """The folder that they are written to."""
        return self._stage

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
            with ExitStack() as held:
                # So that nobody takes it for what a killed command left.
                with suppress(OSError):
                    held.enter_context(try_lock(path))
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


def on_disk(path: Path) -> None:
    """Wait until a file or folder is on the disk, as far as the drive can tell. Raises OSError.

    Of a folder that is the names in it.
    """
    try:
        handle = os.open(path, os.O_RDONLY)
    except PermissionError:  # Windows opens no folder
        return
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in _NO_SYNC:
            raise
    finally:
        os.close(handle)


@contextmanager
def to_its_end() -> Iterator[None]:
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
