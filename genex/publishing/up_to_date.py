"""Whether a recipe has to be built at all. Uses the standard library only, to answer at once.

After a build, what went into it and what came out is written down in the user's cache folder:
every file that was read with its digest, the versions of genex and its libraries, and every
file that was written with its size and time. If all of that is as it was, there is nothing to
do. The notes may be deleted at any time; then everything is built again.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import platform
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from genex import __version__
from genex.resources import user_cache_dir

LIBRARIES = (
    "mido", "numpy", "pretty_midi", "pydantic", "pyfluidsynth", "pygame-ce", "quicktions",
    "resvg_py", "ruamel.yaml", "soundfile", "typst", "verovio",
)  # fmt: skip
"""What bytes and samples depend on, beside genex itself."""

MOST_NOTES = 2000


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
            "\0".join(str(Path(part).absolute()) for part in parts).encode()
        ).hexdigest()
        return user_cache_dir() / "builds" / f"{name[:32]}.json"


def sort_out(
    recipes: Iterable[Path], out: Path, soundfont: Path | None
) -> tuple[dict[Path, list[str]], list[Path]]:
    """Recipes whose files are up to date, with what their build printed; and the others."""
    fresh: dict[Path, list[str]] = {}
    stale: list[Path] = []
    for path in dict.fromkeys(recipes):
        printed = remembered(Request(path, out, soundfont))
        if printed is None:
            stale.append(path)
        else:
            fresh[path] = printed
    return fresh, stale


def remembered(request: Request) -> list[str] | None:
    """What the last build printed, if nothing has changed since; else None."""
    try:
        note = json.loads(request.note.read_text("utf-8"))
        if note["versions"] != versions():
            return None
        if any(_digest(Path(path)) != digest for path, digest in note["read"]):
            return None
        if any(_stamp(Path(path)) != stamp for path, *stamp in note["written"]):
            return None
        return [str(line) for line in note["printed"]]
    except (OSError, ValueError, KeyError, TypeError):
        return None


def remember(
    request: Request, read: Iterable[Path], written: Iterable[Path], printed: Iterable[str]
) -> None:
    """Write down a finished build. A cache folder that cannot be written is left alone."""
    try:
        note = {
            "versions": versions(),
            "read": [[str(path.absolute()), _digest(path)] for path in read],
            "written": [[str(path.absolute()), *_stamp(path)] for path in written],
            "printed": list(printed),
        }
        request.note.parent.mkdir(parents=True, exist_ok=True)
        _make_room(request.note.parent)
        part = request.note.with_suffix(".part")
        part.write_text(json.dumps(note), "utf-8")
        part.replace(request.note)
    except OSError:
        return


@lru_cache(maxsize=1)
def versions() -> dict[str, str]:
    """Versions of everything that the files depend on."""
    found = {"genex": __version__, "code": _code_digest(), "python": platform.python_version()}
    for name in LIBRARIES:
        try:
            found[name] = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:
            found[name] = ""
    return found


def _code_digest() -> str:
    """Size and time of every file of the package: a contributor's edit counts as a new version."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256()
    for path in sorted(package.rglob("*")):
        if path.suffix in (".py", ".yaml", ".json", ".typ") and path.is_file():
            digest.update(repr((str(path.relative_to(package)), _stamp(path))).encode())
    return digest.hexdigest()


def _digest(path: Path) -> str:
    """SHA-256 of a small file; size and time of one over a megabyte, such as a soundfont."""
    size, time = _stamp(path)
    if size > 1 << 20:
        return f"{size}/{time}"
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _stamp(path: Path) -> list[int]:
    status = path.stat()
    return [status.st_size, status.st_mtime_ns]


def _make_room(folder: Path) -> None:
    """Keep the folder bounded: the oldest notes go."""
    notes: list[Any] = sorted(folder.glob("*.json"), key=lambda path: path.stat().st_mtime_ns)
    for path in notes[: max(0, len(notes) - MOST_NOTES)]:
        path.unlink(missing_ok=True)
