"""What a build will do to a folder: decided in one place, before anything is touched.

Publishing, ``--dry-run`` and the messages all follow a ``Plan``. What genex did not write, or what
was edited since, is never lost: where its name is needed it is kept beside under a dated name,
everywhere else it stays as it is.
"""

from __future__ import annotations

import os
import stat
import time
from collections.abc import Callable, Iterator, Mapping, Set
from dataclasses import dataclass
from enum import Enum
from pathlib import Path, PurePosixPath

from genex.errors import InputError, Place
from genex.plain_text import clean
from genex.publishing.files import writing
from genex.publishing.manifest import Earlier, read_earlier, vouches
from genex.publishing.stamps import Known, Stamp, key_of, sha256_of, stamp_from


class Verdict(Enum):
    """What happens to a file."""

    MAKE = "make"
    REPLACE = "replace"
    SAME = "leave as it is"
    REMOVE = "remove"
    KEEP_ASIDE = "keep beside"
    LEAVE = "leave, edited"
    FOREIGN = "not by genex"


CARRIED = frozenset({Verdict.KEEP_ASIDE, Verdict.LEAVE, Verdict.FOREIGN})
"""What goes on lying in the folder though the build does not make it."""


@dataclass(frozen=True)
class Entry:
    """A path below the folder and what happens to it. ``to`` is where it goes on lying.

    ``stamp`` and ``sha256`` are those of what genex wrote and may take away.
    """

    path: str
    verdict: Verdict
    to: str | None = None
    stamp: Stamp | None = None
    sha256: str | None = None


@dataclass(frozen=True)
class Plan:
    """All entries of a folder, sorted by path."""

    folder: Path
    entries: tuple[Entry, ...]

    @property
    def changes(self) -> bool:
        """Whether anything genex makes is new, other or no longer there."""
        same = CARRIED - {Verdict.KEEP_ASIDE} | {Verdict.SAME}
        return any(entry.verdict not in same for entry in self.entries)

    @property
    def carried(self) -> list[Entry]:
        """What stays though it is not made."""
        return [entry for entry in self.entries if entry.verdict in CARRIED]

    def notes(self) -> list[str]:
        """What its owner should know, a line each: what was found edited."""
        found = []
        for entry in self.entries:
            path = self.folder / entry.path
            if entry.verdict is Verdict.KEEP_ASIDE:
                found.append(f"note: {path} was not as genex wrote it: kept as {entry.to}")
            elif entry.verdict is Verdict.LEAVE:
                found.append(f"note: {path} is made no longer; it was edited and stays")
        return found


@dataclass(frozen=True)
class Claim:
    """A recipe's claim to a folder. ``place`` is where a message points."""

    folder: Path
    owner: str
    recipe: Path
    place: Place
    take_over: bool = False

    def plan(self, wanted: Mapping[str, str | None], known: Mapping[str, Known]) -> Plan:
        """As ``decide``. Raises InputError where a folder holds what another recipe makes."""
        earlier = self.earlier()
        with writing(self.folder):
            return decide(self.folder, wanted, earlier, known)

    def earlier(self) -> Earlier | None:
        """What an earlier build of this recipe wrote there. Raises InputError, OutputError.

        Manifests of genex before it named owners name only the recipe file, those of series not
        even that; the same name is taken for the same.
        """
        with writing(self.folder):
            earlier = read_earlier(self.folder)
        if earlier is None or self.take_over or earlier.owner == self.owner:
            return earlier
        if earlier.owner is None and earlier.recipe in (None, clean(self.recipe.name)):
            return earlier
        whose = earlier.recipe or "a series"
        if earlier.recipe == clean(self.recipe.name):
            whose += " of another folder"
        raise InputError(
            f"the folder {self.folder} holds the lesson of another recipe, {whose}",
            hint="give this one another title or choose another --out; if the recipe was moved, "
            "build once with --take-over",
            place=self.place,
        )


def decide(
    folder: Path,
    wanted: Mapping[str, str | None],
    earlier: Earlier | None,
    known: Mapping[str, Known],
) -> Plan:
    """What is to be done so that a folder holds the ``wanted`` files and loses nothing.

    ``wanted`` gives the SHA-256 of each path, None where it is not made yet. ``known`` spares
    reading files that are as a build left them. Raises OSError.
    """
    folders = {str(up) for path in wanted for up in PurePosixPath(path).parents} - {"."}
    judge = _Judge(folder, wanted, folders, earlier.files if earlier else {}, known)
    entries = [judge.entry(path, status) for path, status in _walk(folder, wanted, folders)]
    there = {entry.path for entry in entries if entry.verdict in (Verdict.REPLACE, Verdict.SAME)}
    entries += [Entry(path, Verdict.MAKE) for path in wanted if path not in there]
    return Plan(folder, tuple(sorted(entries, key=lambda entry: (entry.path, entry.verdict.value))))


@dataclass(frozen=True)
class _Judge:
    """Says what happens to what lies in a folder. ``ours`` is what the manifest lists."""

    folder: Path
    wanted: Mapping[str, str | None]
    folders: Set[str]
    ours: Mapping[str, str | None]
    known: Mapping[str, Known]

    def entry(self, path: str, status: os.stat_result | None) -> Entry:
        if status is None:
            return Entry(path, Verdict.FOREIGN, path)
        digest = _digest(self.folder / path, status, self.known)
        verdict = self._verdict(path, digest)
        if verdict is Verdict.KEEP_ASIDE:
            return Entry(path, verdict, self._aside(path))
        if verdict in CARRIED:
            return Entry(path, verdict, path)
        return Entry(path, verdict, None, stamp_from(status), digest)

    def _verdict(self, path: str, digest: str | None) -> Verdict:
        mine = digest is not None and path in self.ours and self._is_unedited(path, digest)
        if path in self.folders:
            return Verdict.KEEP_ASIDE
        if path not in self.wanted:
            if mine:
                return Verdict.REMOVE
            return Verdict.LEAVE if path in self.ours else Verdict.FOREIGN
        if digest is not None and digest == self.wanted[path]:
            return Verdict.SAME
        return Verdict.REPLACE if mine else Verdict.KEEP_ASIDE

    def _is_unedited(self, path: str, digest: str) -> bool:
        recorded = self.ours[path]
        if recorded is None and (note := self.known.get(key_of(self.folder / path))):
            # A build that was killed right after the swap has noted nothing of its manifest.
            return digest == note.sha256 or vouches(self.folder / path)
        return recorded is None or digest == recorded

    def _aside(self, path: str) -> str:
        taken = {*self.wanted, *self.folders}
        return dated(path, lambda name: name in taken or os.path.lexists(self.folder / name))


def _digest(path: Path, status: os.stat_result, known: Mapping[str, Known]) -> str | None:
    """SHA-256 of a file; None for a link, a pipe or what else is no file of genex."""
    if not stat.S_ISREG(status.st_mode):
        return None
    note = known.get(key_of(path))
    if note is not None and note.stamp == stamp_from(status):
        return note.sha256
    return sha256_of(path)


def _walk(
    folder: Path, files: Mapping[str, str | None], folders: Set[str], below: str = ""
) -> Iterator[tuple[str, os.stat_result | None]]:
    """Paths below a folder with what the system says of them: files, links, and what is in the way.

    A folder where a file is wanted, and a file where a folder is, come as one; so does, with None,
    a folder with nothing in it.
    """
    try:
        with os.scandir(folder) as entries:
            found = sorted(entries, key=lambda entry: entry.name)
    except FileNotFoundError:
        return
    if not found and below and below.rstrip("/") not in folders:
        yield below.rstrip("/"), None
    for entry in found:
        path = below + entry.name
        if entry.is_dir(follow_symlinks=False) and path not in files:
            yield from _walk(Path(entry.path), files, folders, f"{path}/")
        else:
            yield path, entry.stat(follow_symlinks=False)


def dated(path: str, is_taken: Callable[[str], bool]) -> str:
    """A dated name that nothing has yet: ``rain.tab.kept-2026-01-31.txt``."""
    place = PurePosixPath(path)
    stem = f"{place.stem}.kept-{time.strftime('%Y-%m-%d')}"
    name, number = str(place.with_name(f"{stem}{place.suffix}")), 1
    while is_taken(name):
        number += 1
        name = str(place.with_name(f"{stem}-{number}{place.suffix}"))
    return name
