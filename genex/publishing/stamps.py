"""What a file is told by: its content's digest, and a stamp that says whether to look again.

A stamp is size, times of the last change of the content and of the entry, and number of the entry
(inode). Programs can set the first time to what they like, the second one only the system sets: a
file that has the stamp of its last reading has the content too. Another stamp proves nothing (a
copy, another link), so then the content is read. Uses the standard library only, to answer at once.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

Stamp = list[int]


class Known(NamedTuple):
    """A file whose content had a digest when it had a stamp. No digest: there was no file."""

    path: str
    sha256: str | None
    stamp: Stamp | None = None

    def is_as_it_was(self) -> bool:
        """Whether the file still has that content."""
        try:
            return (self.stamp is not None and stamp_of(self.path) == self.stamp) or (
                sha256_of(self.path) == self.sha256
            )
        except FileNotFoundError:
            return self.sha256 is None
        except OSError:
            return False


def key_of(path: str | Path) -> str:
    """A file's absolute path, with .. taken out and links left in."""
    return os.path.abspath(path)  # noqa: PTH100 - pathlib leaves .. in


def stamp_of(path: str | Path) -> Stamp:
    """The stamp of a file. Raises OSError."""
    return stamp_from(os.stat(path))  # noqa: PTH116 - hundreds of them, at every start


def stamp_from(status: os.stat_result) -> Stamp:
    """The stamp in what the system says of a file."""
    return [status.st_size, status.st_mtime_ns, status.st_ctime_ns, status.st_ino]


def sha256_of(path: str | Path) -> str:
    """SHA-256 of a file's content, in hexadecimal digits. Raises OSError."""
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def known(path: str | Path) -> Known:
    """A file as it is now: the stamp is taken before and after, so that it vouches for the content."""
    place = key_of(path)
    before = stamp_of(place)
    digest = sha256_of(place)
    return Known(place, digest, before if stamp_of(place) == before else None)


def by_path(files: Iterable[Known]) -> dict[str, Known]:
    """Known files by their absolute path."""
    return {file.path: file for file in files}
