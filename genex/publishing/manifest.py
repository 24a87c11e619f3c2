"""Manifests: what genex wrote into a folder, and for which recipe.

A manifest names its *owner*: a digest of the recipe's whole place as seen from the output folder.
So two recipes of one name in two folders are told apart, recipes and lessons may move together,
and a folder that is handed out says nothing of its author's disk.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from genex.publishing.stamps import sha256_of

MANIFEST = "manifest.json"


@dataclass(frozen=True)
class Earlier:
    """What the manifest of a folder says: of an earlier build.

    owner    digest of the recipe's place; None in manifests of genex before it named owners
    recipe   name of the recipe file
    files    SHA-256 by path below the folder, with / between; None for manifests
    archive  name and SHA-256 of the zip beside the folder, if there is one
    """

    owner: str | None
    recipe: str | None
    files: Mapping[str, str | None] = field(default_factory=dict)
    archive: tuple[str, str] | None = None


def owner_of(recipe: Path, out: Path) -> str:
    """The owner's mark in the manifests below ``out``: 32 hexadecimal digits."""
    place = os.path.realpath(recipe)
    with suppress(ValueError):  # another drive of Windows
        place = os.path.relpath(place, os.path.realpath(out))
    return hashlib.sha256(Path(place).as_posix().encode("utf-8", "surrogateescape")).hexdigest()[:32]


def read_earlier(folder: Path) -> Earlier | None:
    """What an earlier build wrote into a folder; None where there is no manifest of genex.

    Raises OSError.
    """
    found = _read(folder / MANIFEST)
    if found is None:
        return None
    files: dict[str, str | None] = {MANIFEST: None, **_entries(found, "")}
    for name in found.get("lessons") or ():
        if _is_plain(name) and (lesson := _read(folder / name / MANIFEST)):
            files[f"{name}/{MANIFEST}"] = None
            files |= _entries(lesson, f"{name}/")
    owner, recipe, archive = found.get("owner"), found.get("recipe"), found.get("archive")
    return Earlier(
        owner if isinstance(owner, str) else None,
        recipe if isinstance(recipe, str) else None,
        files,
        _archive(archive),
    )


def vouches(path: Path) -> bool:
    """Whether a manifest is as genex writes it, and every file is as it says. Raises OSError."""
    found = _read(path)
    if found is None or path.read_bytes() != manifest_bytes(found):
        return False
    listed = _entries(found, "")
    return all(
        (path.parent / name).is_file() and sha256_of(path.parent / name) == digest
        for name, digest in listed.items()
    )


def _read(path: Path) -> dict[str, Any] | None:
    """A manifest of genex; None where there is none. Raises OSError: that is not to be taken for it."""
    try:
        if not stat.S_ISREG(os.lstat(path).st_mode):
            return None
        found = json.loads(path.read_bytes())
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (ValueError, RecursionError):
        return None
    good = isinstance(found, dict) and "genex" in found and isinstance(found.get("files"), list)
    return found if good and isinstance(found.get("lessons", []), list) else None


def _entries(manifest: dict[str, Any], below: str) -> dict[str, str | None]:
    return {
        below + entry["name"]: str(entry.get("sha256"))
        for entry in manifest["files"]
        if isinstance(entry, dict) and _is_plain(entry.get("name"))
    }


def _archive(entry: Any) -> tuple[str, str] | None:
    if isinstance(entry, dict) and _is_plain(entry.get("name")):
        return entry["name"], str(entry.get("sha256"))
    return None


def _is_plain(name: Any) -> bool:
    """Whether it is the name of a file, and leads nowhere else."""
    return isinstance(name, str) and name not in ("", ".", "..") and not set(name) & set("/\\\0")


def manifest_bytes(content: Mapping[str, Any]) -> bytes:
    """A manifest as it is written. Names that are not UTF-8 are shown as far as they can be."""
    return (json.dumps(content, ensure_ascii=False, indent=2) + "\n").encode("utf-8", "replace")
