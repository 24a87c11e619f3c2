"""A file of an earlier build, if it is as it was made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from genex.publishing.stamps import Known, Stamp, key_of, sha256_of, stamp_of
from genex.publishing.version_files import BuiltFile


@dataclass(frozen=True)
class KeptFile:
    """A file of an earlier build that would come out the same, and where it lies."""

    file: BuiltFile
    path: Path
    stamp: Stamp

    def is_as_it_was(self) -> bool:
        """Whether it still is."""
        return Known(str(self.path), self.file.sha256, self.stamp).is_as_it_was()


def kept_file(file: BuiltFile, folder: Path, known: Mapping[str, Known]) -> KeptFile | None:
    """A file of an earlier build if it is as it was made; it is read if its stamp is none that is
    ``known``, by absolute path. Raises OSError."""
    path = folder / file.name
    stamp = stamp_of(path)
    note = known.get(key_of(path))
    as_it_was = note is not None and note.stamp == stamp and note.sha256 == file.sha256
    if not path.is_symlink() and (as_it_was or sha256_of(path) == file.sha256):
        return KeptFile(file, path, stamp)
    return None
