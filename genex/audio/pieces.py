"""A file that is written piece by piece and summed while its pieces are still at hand."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from io import FileIO
from pathlib import Path


def write_pieces(path: Path, pieces: Iterable[bytes | memoryview]) -> str:
    """Write a file; the SHA-256 of what it holds. Raises OSError, and what making a piece raises."""
    checksum = hashlib.sha256()
    with path.open("wb", buffering=0) as file:
        for piece in pieces:
            checksum.update(piece)
            _write_all(file, piece)
    return checksum.hexdigest()


def _write_all(file: FileIO, data: bytes | memoryview) -> None:
    """Unbuffered files may take less than they are given."""
    view = memoryview(data)
    while len(view):
        view = view[file.write(view) :]
