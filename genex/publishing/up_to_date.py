"""Whether a recipe has to be built at all. Uses the standard library only, to answer at once.

After a build, what went into it and what came out is written down in the user's cache folder:
every file that was read with the digest that it had when it was read, the versions of genex and
its libraries, and every file that was written with its digest and stamp. If all of that is as it
was, there is nothing to do. If some of it is not, the note still says which files were made from
what: those that would come out the same are kept. The notes may be deleted at any time; then
everything is built again.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import os
import platform
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from genex import __version__
from genex.inputs import open_plain, recipes_of
from genex.publishing.stamps import Known, key_of, known, stamp_of
from genex.resources import user_cache_dir

LIBRARIES = (
    "markdown-it-py", "mido", "numpy", "pretty_midi", "pydantic", "pyfluidsynth", "pygame-ce",
    "quicktions", "resvg_py", "ruamel.yaml", "segno", "soundfile", "typst", "verovio",
)  # fmt: skip
"""What bytes and samples depend on, beside genex itself."""

MOST_NOTES = 2000
_LARGE_BYTES = 1 << 20


@dataclass(frozen=True)
class Request:
    """What is to be built: a recipe file, into a folder, with a soundfont or the usual one."""

    recipe: Path
    out: Path
    soundfont: Path | None = None

    @property
    def note(self) -> Path:
        """The file that remembers the last build of this request."""
        parts = (self.recipe, self.out, self.soundfont or "")
        name = hashlib.sha256(
            "\0".join(str(Path(part).absolute()) for part in parts).encode("utf-8", "surrogateescape")
        ).hexdigest()
        return user_cache_dir() / "builds" / f"{name[:32]}.json"


def sort_out(
    recipes: Iterable[Path], out: Path, soundfont: Path | None
) -> tuple[dict[Path, list[str]], list[Path]]:
    """Recipes whose files are up to date, with what their build printed; and the others."""
    fresh: dict[Path, list[str]] = {}
    stale: list[Path] = []
    for path in dict.fromkeys(recipes_of(recipes)):
        printed = remembered(Request(path, out, soundfont))
        if printed is None:
            stale.append(path)
        else:
            fresh[path] = printed
    return fresh, stale


def has_parts(out: Path) -> bool:
    """Whether builds are working in an output folder, or have left something there."""
    try:
        with os.scandir(out) as found:
            return any(entry.name.endswith(".part") for entry in found)
    except OSError:
        return False


@dataclass(frozen=True)
class Note:
    """What a build wrote down.

    read     every file that was read, as it was then; None in place of one that cannot be told
    written  every file that was written
    printed  what the build printed
    made     files by the digest of all that they were made from: where they lie (path below the
             output folder), and what is known of each
    settings each lesson's fields by its slug: a digest of what each of them said
    lessons  what was told of a lesson and the files that were read for it, by a digest of its recipe
    """

    versions: dict[str, str]
    read: list[Known]
    written: list[Known]
    printed: list[str]
    made: dict[str, tuple[str, list[dict[str, Any]]]]
    settings: dict[str, dict[str, str]] = field(default_factory=dict)
    lessons: dict[str, dict[str, Any]] = field(default_factory=dict)

    @property
    def is_fresh(self) -> bool:
        """Whether nothing has changed since."""
        return (
            self.versions == versions()
            and all(_is_read_the_same(file) for file in self.read)
            and all(file.is_as_it_was() for file in self.written)
        )


def _is_read_the_same(file: Known) -> bool:
    """Whether a file would be read as it was. A small one is read again, whatever its times say."""
    if file.sha256 is not None and file.stamp and file.stamp[0] > _LARGE_BYTES:
        return file.is_as_it_was()
    return Known(file.path, file.sha256).is_as_it_was()


def remembered(request: Request) -> list[str] | None:
    """What the last build printed, if nothing has changed since; else None."""
    note = last_build(request)
    return note.printed if note is not None and note.is_fresh else None


def files_of(request: Request) -> list[Path]:
    """What the last build of a request wrote, if it can be told."""
    note = last_build(request)
    return [Path(file.path) for file in note.written] if note is not None else []


def last_build(request: Request) -> Note | None:
    """What the last build of a request wrote down, if it can be read."""
    try:
        found = _read_note(request.note)
        return Note(
            dict(found["versions"]),
            [Known(*file) for file in found["read"]],
            [Known(*file) for file in found["written"]],
            [str(line) for line in found["printed"]],
            {key: (str(made[0]), list(made[1])) for key, made in found["made"].items()},
            {slug: dict(said) for slug, said in found.get("settings", {}).items()},
            {key: dict(told) for key, told in found.get("lessons", {}).items()},
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def _read_note(path: Path) -> Any:
    """What a note says: no pipe is waited for, no link of somebody else followed.

    Raises OSError, and KeyError, TypeError or ValueError for one that is damaged: what it says of a file
    would be taken for true.
    """
    with open_plain(path) as file:
        found = json.loads(file.read())
    if found["digest"] != _digest_of(found["content"]):
        raise ValueError("damaged")
    return found["content"]


def remember(request: Request, note: Note) -> None:
    """Write down a finished build. A cache folder that cannot be written is left alone."""
    _write_note(request.note, asdict(note))


def _digest_of(content: Any) -> str:
    return hashlib.sha256(json.dumps(content).encode("ascii")).hexdigest()


def _write_note(path: Path, content: Any) -> None:
    """Write a note, wholly or not at all; a folder that cannot be written is left alone."""
    with suppress(OSError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        _make_room(path.parent)
        part = path.with_suffix(f".{os.getpid()}.part")
        part.unlink(missing_ok=True)  # of a build that was killed
        with part.open("x", encoding="utf-8") as file:  # follows no link
            file.write(json.dumps({"content": content, "digest": _digest_of(content)}))
        part.replace(path)


@lru_cache(maxsize=1)
def versions() -> dict[str, str]:
    """Versions of everything that the files depend on."""
    found = {"genex": __version__, "code": _code_digest(), "python": platform.python_version()}
    return found | {name: installed(name) for name in LIBRARIES}


def installed(name: str) -> str:
    """The version of a package; empty if it is not there."""
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return ""


def _code_digest() -> str:
    """Size and time of every file of the package: a contributor's edit counts as a new version."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256()
    for folder, folders, names in os.walk(package):
        folders[:] = sorted(name for name in folders if name != "__pycache__")
        for name in sorted(names):
            path = os.path.join(folder, name)  # noqa: PTH118 - hundreds of them, at every start
            status = os.stat(path)  # noqa: PTH116
            what = path[len(str(package)) :], status.st_size, status.st_mtime_ns
            digest.update(repr(what).encode("utf-8", "surrogateescape"))
    return digest.hexdigest()


def _make_room(folder: Path) -> None:
    """Keep the folder bounded: the oldest notes go, and what builds left that were killed."""
    notes = list(folder.iterdir())
    if len(notes) < MOST_NOTES:
        return
    notes.sort(key=lambda path: path.stat().st_mtime_ns)
    for path in notes[: len(notes) + 1 - MOST_NOTES]:
        path.unlink(missing_ok=True)


def known_large(path: Path) -> Known:
    """As ``known``, for a file of megabytes: its digest is remembered as long as its stamp stays.

    Raises OSError.
    """
    place = key_of(path)
    name = hashlib.sha256(place.encode("utf-8", "surrogateescape")).hexdigest()[:32]
    note = user_cache_dir() / "builds" / f"{name}.large"
    try:
        found = Known(*_read_note(note))
        if found.path == place and found.stamp == stamp_of(place):
            return found
    except (OSError, ValueError, KeyError, TypeError):
        pass
    file = known(place)
    _write_note(note, file)
    return file
