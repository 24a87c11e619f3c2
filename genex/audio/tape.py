"""Where sound lies while it is made: in memory, or, a long one, in a nameless file mapped into it.

Mixing, metering, limiting and writing look at a sound from end to end several times. A file holds what
is not looked at, so memory does not grow with length; the system keeps as much of it at hand as it
can spare. It has no name, so it is gone with its process, however that ends, and all of its room on
the disk is taken before anything is written: a full disk is an error then, and no fault later.

Whoever walks over planes does it in ``stretches``: what lies behind is let go.
"""

from __future__ import annotations

import errno
import io
import mmap
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, cast

import numpy as np

if TYPE_CHECKING:
    from genex.audio.sound import Samples

LONG_FRAMES = 1 << 22
"""Longer sounds lie in a file: 87 seconds at 48 kHz, 34 MB."""
_STRETCH_FRAMES = 1 << 20
_AROUND_BYTES = 2 << 20
"""What the system may bring in around a place that is looked at."""
_NOT_OFFERED = frozenset({errno.ENOSYS, errno.EINVAL, errno.EOPNOTSUPP, errno.ENOTSUP})

_folder: ContextVar[Path | None] = ContextVar("folder", default=None)


class TapeError(OSError):
    """There is no room for a long sound, on the disk or among the addresses of the process."""


@contextmanager
def long_sounds_in(folder: Path) -> Iterator[None]:
    """Within it long sounds lie in nameless files of a folder's disk. Elsewhere all lie in memory."""
    token = _folder.set(folder)
    try:
        yield
    finally:
        _folder.reset(token)


def blank(frames: int) -> Samples:
    """Planes of silence to be filled, shape (2, frames). Raises TapeError."""
    folder = _folder.get()
    if folder is None or frames <= LONG_FRAMES:
        return np.zeros((2, frames), np.float32)
    size = 2 * frames * np.dtype(np.float32).itemsize
    try:
        with tempfile.TemporaryFile(dir=folder) as file:
            _take_room(file.fileno(), size)
            mapped = _Mapped(file.fileno(), size)
    except OSError as problem:
        raise TapeError(problem.errno, problem.strerror) from problem
    return np.ndarray((2, frames), np.float32, mapped)


def scratch_file(most_bytes: int) -> IO[bytes]:
    """A file to write to and read back: in memory up to a size, then nameless on the same disk."""
    folder = _folder.get()
    if folder is None:
        return io.BytesIO()
    return cast(IO[bytes], tempfile.SpooledTemporaryFile(most_bytes, dir=os.fspath(folder)))


def stretches(planes: Samples, frames: int = _STRETCH_FRAMES) -> Iterator[tuple[int, int]]:
    """First frame and end of one stretch of some planes after the other.

    Once the next one is asked for, memory does not hold what has been looked at.
    """
    length = planes.shape[1]
    for first in range(0, length, frames):
        end = min(first + frames, length)
        yield first, end
        let_go(planes, first, end)
    let_go(planes)


def let_go(planes: Samples, first: int = 0, end: int | None = None) -> None:
    """Hold in memory no more of what lies in a file, or of some frames of it; the file has it still."""
    base: Any = planes
    while isinstance(base, np.ndarray):
        base = base.base
    if isinstance(base, _Mapped):
        for plane in planes:
            part = plane[max(0, first) : end]
            if len(part):
                base.let_go(part.__array_interface__["data"][0], part.nbytes)


class _Mapped(mmap.mmap):
    """A file mapped into memory, shared with nobody."""

    def let_go(self, address: int, count: int) -> None:
        """Hold no more of some bytes, given where they begin, and of what lies around them."""
        if not hasattr(self, "madvise"):
            return
        start = address - np.frombuffer(self, np.uint8, 1).__array_interface__["data"][0]
        first = max(0, start // _AROUND_BYTES - 1) * _AROUND_BYTES
        end = min(len(self), start + count + _AROUND_BYTES)
        self.madvise(mmap.MADV_DONTNEED, first, end - first)  # of a shared mapping: nothing is lost


def _take_room(handle: int, size: int) -> None:
    """Have a file of zeros of that size, its room on the disk taken. Raises OSError."""
    if hasattr(os, "posix_fallocate"):
        try:
            os.posix_fallocate(handle, 0, size)
        except OSError as problem:
            if problem.errno not in _NOT_OFFERED:
                raise
        else:
            return
    zeros = bytes(_STRETCH_FRAMES)
    while size > 0:
        size -= os.write(handle, zeros[:size])
