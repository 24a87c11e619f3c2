"""Locks on folders, by flock on the folder itself: no file more, and gone with its process.

Windows has no flock and some network drives offer none; there two builds of one lesson at once are
not kept apart, and what a killed build left is known by its age.
"""

from __future__ import annotations

import errno
import os
from contextlib import suppress
from pathlib import Path

_NOT_OFFERED = frozenset(
    {errno.ENOLCK, errno.ENOSYS, errno.EINVAL, errno.EOPNOTSUPP, errno.ENOTSUP, errno.EBADF}
)


class Lock:
    """A lock that is held. ``offered`` is false where the drive has no locks."""

    def __init__(self, handle: int | None) -> None:
        self._handle = handle
        self.offered = handle is not None

    def __enter__(self) -> Lock:
        return self

    def __exit__(self, *_: object) -> None:
        self.release()

    def release(self) -> None:
        """Let go of it. Releasing twice is allowed."""
        if self._handle is not None:
            with suppress(OSError):  # it is shut all the same, and nothing was written to it
                os.close(self._handle)
            self._handle = None


try:
    import fcntl

    def _flock(handle: int, flags: int) -> None:
        fcntl.flock(handle, flags)

    _EXCLUSIVE, _AT_ONCE = fcntl.LOCK_EX, fcntl.LOCK_NB
except ImportError:  # pragma: no cover
    _EXCLUSIVE = _AT_ONCE = 0

    def _flock(handle: int, flags: int) -> None:
        raise OSError(errno.ENOSYS, os.strerror(errno.ENOSYS))


def lock(path: Path) -> Lock:
    """Wait for the lock of a folder or file. Raises OSError."""
    return _locked(path, _EXCLUSIVE)


def try_lock(path: Path) -> Lock:
    """The lock of a folder or file. Raises BlockingIOError if somebody holds it; OSError."""
    return _locked(path, _EXCLUSIVE | _AT_ONCE)


def _locked(path: Path, flags: int) -> Lock:
    try:
        handle = os.open(path, os.O_RDONLY)
    except PermissionError:  # Windows opens no folder
        if os.name == "nt":
            return Lock(None)
        raise
    try:
        _flock(handle, flags)
    except OSError as error:
        os.close(handle)
        if error.errno in _NOT_OFFERED:
            return Lock(None)
        raise
    except BaseException:
        os.close(handle)
        raise
    return Lock(handle)
