"""New files put in the place of old ones in one step, and put right if the step is cut off.

A *part* is a hidden folder beside the lesson's own, ``.rain~x1y2z3a4.part``. In it stand ``new``,
what the folder shall be, and perhaps ``archive``, the zip that shall lie beside it; when all is
ready, a journal too. Then each is exchanged with what has its place: by the one system call that
exchanges two names, or, where there is none, by two renames. If one fails, those before it are
undone. A build that is killed in between is finished by the next one, which reads the journal. What
was in the folder lies in the part then, and is looked through before it goes: what genex did not
write goes back into the folder.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
import stat
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from genex.publishing.files import on_disk
from genex.publishing.manifest import MANIFEST
from genex.publishing.plan import Plan, dated
from genex.publishing.stamps import sha256_of, stamp_from

NEW, ARCHIVE, _JOURNAL, _ASIDE = "new", "archive", "journal.json", ".old"
ZIP = "../zip"
"""Stands for the archive among the paths below the folder; no file there can be called so."""
_NOT_OFFERED = frozenset({errno.ENOSYS, errno.EINVAL, errno.EOPNOTSUPP, errno.ENOTSUP})
_NO_LINKS = _NOT_OFFERED | {errno.EPERM, errno.EXDEV, errno.EMLINK}


class TornError(Exception):
    """A swap failed and could not be undone: the next build settles it. The cause is an OSError."""


@dataclass(frozen=True)
class Journal:
    """What a part is for.

    targets  name beside the part, by name in the part
    new      SHA-256 of all new files by their path in the folder; of the archive too
    old      what lay in the folder: where it goes on lying, or the digest of what may go
    """

    targets: Mapping[str, str]
    new: Mapping[str, str]
    old: dict[str, tuple[str | None, list[int] | None, str | None]]

    @classmethod
    def of(cls, targets: Mapping[str, str], new: Mapping[str, str], plan: Plan) -> Journal:
        """The journal of a plan."""
        old = {
            entry.path: (entry.to, entry.stamp, entry.sha256)
            for entry in plan.entries
            if entry.to is not None or entry.sha256 is not None
        }
        return cls(targets, new, old)

    def write(self, part: Path) -> None:
        """Write it down, wholly or not at all."""
        half = part / f"{_JOURNAL}.half"
        half.write_text(json.dumps([self.targets, self.new, self.old]), "utf-8")
        on_disk(half)
        half.replace(part / _JOURNAL)
        on_disk(part)

    @classmethod
    def read(cls, part: Path) -> Journal | None:
        """The journal of a part, None if there is none yet."""
        try:
            found: Any = json.loads((part / _JOURNAL).read_text("utf-8"))
        except FileNotFoundError:
            return None
        except ValueError:
            return None
        targets, new, old = found
        return cls(targets, new, {path: tuple(entry) for path, entry in old.items()})


def link(source: Path, target: Path) -> None:
    """The same file under another name too; a copy where the drive has no such links."""
    if not _linked(source, target):
        shutil.copy2(source, target, follow_symlinks=False)


def _linked(source: Path, target: Path) -> bool:
    """Give a file another name; False where the drive has no such links. Raises OSError."""
    how = {"follow_symlinks": False} if os.link in os.supports_follow_symlinks else {}
    try:
        os.link(source, target, **how)
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        return False
    return True


def carry(plan: Plan, new: Path) -> None:
    """Have what stays in the folder stand in the new one as well.

    Where the drive has no links it is moved after the swap.
    """
    for entry in plan.carried:
        assert entry.to is not None
        _carry(plan.folder / entry.path, new / entry.to)


def _carry(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    if stat.S_ISDIR(os.lstat(source).st_mode):
        target.mkdir(exist_ok=True)
        for inside in sorted(source.iterdir()):
            _carry(inside, target / inside.name)
        shutil.copystat(source, target)
        return
    _linked(source, target)


def swap(part: Path, journal: Journal) -> None:
    """Put what is new in its place, all or nothing. Raises OSError, or TornError from one."""
    done: list[str] = []
    try:
        for name, target in journal.targets.items():
            _put(part / name, part.parent / target)
            done.append(name)
    except OSError as problem:
        try:
            for name in reversed(done):
                _take_back(part / name, part.parent / journal.targets[name])
        except OSError:
            raise TornError from problem
        raise


def _aside(staged: Path) -> Path:
    """Where old things go that cannot be exchanged in one step."""
    return staged.with_name(staged.name + _ASIDE)


def _put(staged: Path, target: Path) -> None:
    """What is staged gets the place of the target; what was there goes to the part."""
    if not exists(target):
        staged.rename(target)
    elif not exchange(staged, target):
        target.rename(_aside(staged))
        try:
            staged.rename(target)
        except OSError as problem:
            try:
                _aside(staged).rename(target)
            except OSError:
                raise TornError from problem
            raise


def _take_back(staged: Path, target: Path) -> None:
    """Undo ``_put``."""
    if exists(staged):
        exchange(staged, target)
        return
    target.rename(staged)
    if exists(_aside(staged)):
        _aside(staged).rename(target)


def exists(path: Path) -> bool:
    """Whether there is anything of that name, be it a link that leads nowhere. Raises OSError."""
    try:
        os.lstat(path)
    except (FileNotFoundError, NotADirectoryError):
        return False
    return True


def settle(part: Path) -> None:
    """Finish what a build that is no longer alive began in a part, and remove it. Raises OSError."""
    journal = Journal.read(part)
    if journal is not None:
        for name, target in journal.targets.items():
            aside, place = _aside(part / name), part.parent / target
            if exists(aside) and not exists(place):
                aside.rename(place)
        done = {name: _is_in_place(part, name, journal) for name in journal.targets}
        if any(done.values()):
            for name in (name for name in done if not done[name]):
                _put(part / name, part.parent / journal.targets[name])
        sweep(part, journal)
    shutil.rmtree(part)


def _is_in_place(part: Path, name: str, journal: Journal) -> bool:
    """Whether what has the place is what is new, by its content."""
    target = journal.targets[name]
    place = part.parent / target
    try:
        if name == NEW:
            return sha256_of(place / MANIFEST) == journal.new[MANIFEST]
        return sha256_of(place) == journal.new[ZIP]
    except FileNotFoundError:
        return False


def sweep(part: Path, journal: Journal) -> None:
    """Bring back what lies in a part and is not genex's: saved there while the build went on.

    Raises OSError; then all that is not brought back still lies in the part.
    """
    folder = part.parent / journal.targets[NEW]
    for place in (part / NEW, _aside(part / NEW)):
        _sweep_folder(place, folder, journal)
    if ARCHIVE in journal.targets:
        for place in (part / ARCHIVE, _aside(part / ARCHIVE)):
            _sweep_archive(place, part.parent / journal.targets[ARCHIVE], journal)


def _sweep_folder(place: Path, folder: Path, journal: Journal) -> None:
    stays = {path: to for path, (to, _, _) in journal.old.items() if to is not None}
    stood = {to: path for path, to in stays.items()}
    for path, status in _files(place):
        source = place / path
        _, stamp, digest = journal.old.get(path, (None, None, None))
        wish = _moved(path, stays)
        target = folder / wish
        if any(_is_same(status, other) for other in (target, folder / _moved(path, stood))):
            continue
        if stamp is not None and stamp == stamp_from(status):
            continue
        if stat.S_ISREG(status.st_mode) and sha256_of(source) in (digest, journal.new.get(path)):
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        if exists(target):
            target = folder / dated(wish, lambda name: exists(folder / name))
        source.rename(target)


def _moved(path: str, places: Mapping[str, str]) -> str:
    """Where a path is, if it or a folder above it has another place."""
    for above in (path, *map(str, PurePosixPath(path).parents)):
        if above in places:
            return places[above] + path[len(above) :]
    return path


def _sweep_archive(old: Path, target: Path, journal: Journal) -> None:
    if not exists(old):
        return
    _, _, digest = journal.old.get(ZIP, (None, None, None))
    if stat.S_ISREG(os.lstat(old).st_mode) and sha256_of(old) in (digest, journal.new[ZIP]):
        return
    folder = target.parent
    old.rename(folder / dated(target.name, lambda name: exists(folder / name)))


def _files(folder: Path, below: str = "") -> Iterator[tuple[str, os.stat_result]]:
    """All that is not a folder, below a folder."""
    try:
        found = sorted(os.scandir(folder), key=lambda entry: entry.name)
    except FileNotFoundError:
        return
    for entry in found:
        if entry.is_dir(follow_symlinks=False):
            yield from _files(Path(entry.path), f"{below}{entry.name}/")
        else:
            yield below + entry.name, os.lstat(entry.path)


def _is_same(status: os.stat_result, other: Path) -> bool:
    """Whether a path is another name of a file."""
    with suppress(FileNotFoundError, NotADirectoryError):
        return os.path.samestat(status, os.lstat(other))
    return False


def _c_library() -> tuple[Any, Callable[[], int]] | None:
    """The system's library and what tells its last error; None where it cannot be called."""
    try:
        import ctypes

        return (ctypes.CDLL(None, use_errno=True), ctypes.get_errno) if os.name == "posix" else None
    except (ImportError, OSError):
        return None


_LIBRARY = _c_library()
"""Loaded before anything is published: between two moves no further file shall have to be opened."""


def exchange(one: Path, other: Path) -> bool:
    """Exchange two names in one step; False where the system or the drive cannot. Raises OSError.

    Linux: renameat2 with RENAME_EXCHANGE; macOS: renamex_np with RENAME_SWAP.
    """
    if _LIBRARY is None:
        return False
    (library, last_error), first, second = _LIBRARY, os.fsencode(one), os.fsencode(other)
    if sys.platform == "linux" and hasattr(library, "renameat2"):
        here = -100  # AT_FDCWD
        code = library.renameat2(here, first, here, second, 2)
    elif sys.platform == "darwin" and hasattr(library, "renamex_np"):
        code = library.renamex_np(first, second, 2)
    else:
        return False
    if code == 0:
        return True
    number = last_error()
    if number in _NOT_OFFERED:
        return False
    raise OSError(number, os.strerror(number), str(one), None, str(other))
