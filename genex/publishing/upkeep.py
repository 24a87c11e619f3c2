"""Looking after what was built: whether it is as it was made, and what may go."""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from genex.errors import InputError
from genex.publishing.files import writing
from genex.publishing.locks import try_lock
from genex.publishing.manifest import MANIFEST, read_earlier
from genex.publishing.staging import clear_leftovers, leftovers
from genex.publishing.stamps import sha256_of
from genex.resources import user_cache_dir


@dataclass(frozen=True)
class Finding:
    """A file that is not as the manifest says: ``missing``, ``changed``, or ``unreadable``."""

    path: Path
    state: str


def verify(folder: Path) -> tuple[int, list[Finding]]:
    """Hold a lesson, a series, or a folder of them against the manifests.

    Returns how many files are listed, and which are not as they were made. Raises InputError where
    there is no manifest.
    """
    folders = [folder] if (folder / MANIFEST).exists() else _built_folders(folder)
    if not folders:
        raise InputError(
            f"{folder} holds no manifest of genex",
            hint="name the folder of a lesson or of a series, or the folder that they lie in",
        )
    count, found = 0, []
    for one in folders:
        listed = _listed(one)
        count += len(listed)
        found += [finding for path, digest in listed if (finding := _look(path, digest))]
    return count, found


def _built_folders(folder: Path) -> list[Path]:
    try:
        inside = sorted(path for path in folder.iterdir() if not path.name.startswith("."))
    except OSError as problem:
        raise InputError(
            f"{folder} cannot be looked into: {problem.strerror}", hint="check the name"
        ) from None
    return [path for path in inside if (path / MANIFEST).is_file()]


def _listed(folder: Path) -> list[tuple[Path, str | None]]:
    """Every file that a folder's manifests list, with its digest."""
    with writing(folder):
        earlier = read_earlier(folder)
    if earlier is None:
        raise InputError(
            f"{folder / MANIFEST} is damaged, or not one of genex", hint="build that recipe once more"
        )
    listed: list[tuple[Path, str | None]] = [
        (folder / path, digest) for path, digest in earlier.files.items()
    ]
    if earlier.archive is not None:
        name, digest = earlier.archive
        listed.append((folder.with_name(name), digest))
    return listed


def _look(path: Path, digest: str | None) -> Finding | None:
    try:
        if not path.is_file():
            return Finding(path, "missing")
        return Finding(path, "changed") if digest is not None and sha256_of(path) != digest else None
    except OSError:
        return Finding(path, "unreadable")


@dataclass(frozen=True)
class Disposable:
    """What can go: leftovers of killed builds, and the cache. Bytes are counted once a file."""

    leftovers: tuple[Path, ...]
    leftover_bytes: int
    cache: Path
    cache_files: int
    cache_bytes: int

    def as_json(self) -> dict[str, Any]:
        """As data."""
        return {
            "leftovers": [str(path) for path in self.leftovers],
            "leftover_bytes": self.leftover_bytes,
            "cache": str(self.cache),
            "cache_files": self.cache_files,
            "cache_bytes": self.cache_bytes,
        }


def disposable(out: Path) -> Disposable:
    """What can go of an output folder and of the cache. Removes nothing."""
    dead = tuple(path for path in leftovers(out) if _is_dead(path))
    cache = user_cache_dir()
    count, size = _measure(cache)
    return Disposable(dead, sum(_measure(path)[1] for path in dead), cache, count, size)


def _is_dead(path: Path) -> bool:
    """Whether no build is at work there."""
    try:
        with try_lock(path):
            return True
    except OSError:
        return False


def _measure(path: Path) -> tuple[int, int]:
    """Files and bytes below a path."""
    if path.is_file():
        return 1, path.lstat().st_size
    count, size = 0, 0
    for folder, _, names in os.walk(path):
        for name in names:
            with suppress(OSError):
                size += (Path(folder) / name).lstat().st_size
                count += 1
    return count, size


def dispose(out: Path) -> None:
    """Remove leftovers and the cache. Raises OutputError, UnwritableFolderError."""
    clear_leftovers(out)
    cache = user_cache_dir()
    if cache.is_dir() and not cache.is_symlink():
        with writing(cache):
            shutil.rmtree(cache)
