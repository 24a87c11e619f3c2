"""What a worker of a cluster does: it makes versions of a lesson, or says why it is not fit for it."""

from __future__ import annotations

import hashlib
import platform
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from genex import __version__
from genex.errors import GenexError, InputError, OutputError, UnwritableFolderError
from genex.lazy import lazy
from genex.publishing.maker import Job, files_of, soundfont_path
from genex.publishing.up_to_date import LIBRARIES, installed
from genex.publishing.version_files import BuiltFile

if TYPE_CHECKING:
    from genex import audio
else:
    audio = lazy("genex.audio")

_CODE = "code of genex"
_ONE_AT_A_TIME = threading.Lock()
"""A worker may have several threads; a lesson is made by one, as the synthesizer is."""


@dataclass(frozen=True)
class Task:
    """What a worker is to make: some versions of a lesson, by their numbers.

    ``facts`` are what its genex must be; ``font`` is a path and a digest, with no path for the soundfont
    that comes with genex, or None where nothing sounds.
    """

    job: Job
    numbers: tuple[int, ...]
    facts: Mapping[str, str]
    font: tuple[Path | None, str] | None


@dataclass(frozen=True)
class Unfit:
    """A worker that could not make a lesson, for a reason of its own; ``where`` is its machine."""

    why: str
    where: str = field(default="", compare=False)

    def __str__(self) -> str:
        return f"{self.why} (on {self.where})" if self.where else self.why


Outcome = list[tuple[BuiltFile, bytes]] | GenexError | Unfit
"""What comes back: files with their content, a fault of the lesson, or of the worker."""


@lru_cache(maxsize=1)
def facts() -> dict[str, str]:
    """What must be the same on two machines, so that they make the same bytes."""
    found = {"genex": __version__, _CODE: _code_digest()}
    found["Python"] = ".".join(platform.python_version_tuple()[:2])
    return found | {name: installed(name) for name in LIBRARIES}


def _code_digest() -> str:
    """Of the content of every module: clones have other times."""
    digest = hashlib.sha256()
    package = Path(__file__).parents[1]
    for path in sorted(package.rglob("*")):
        if path.is_file() and "__pycache__" not in path.parts and "_data" not in path.parts:
            digest.update(str(path.relative_to(package)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


def greeting() -> tuple[str, dict[str, str]]:
    """A worker's machine, and what it has."""
    return platform.node(), facts()


def unlike(there: Mapping[str, str], here: Mapping[str, str]) -> str:
    """What is other there than here, in words; empty if nothing is."""
    said = [
        f"{name} {there.get(name) or '(none)'} in place of {here[name] or '(none)'}"
        for name in here
        if name != _CODE and there.get(name) != here[name]
    ]
    if not said and there.get(_CODE) != here[_CODE]:
        said.append("genex of the same version with other code")
    return ", ".join(said)


def make(task: Task) -> Outcome:
    """Make a lesson, on the machine that this is called on. Raises nothing that it knows of."""
    with _ONE_AT_A_TIME:
        if why := unlike(facts(), task.facts) or _without_font(task):
            return Unfit(why, platform.node())
        font = task.font[0] if task.font else None
        try:
            return files_of(task.job, font, task.numbers)
        except InputError as fault:
            if not isinstance(fault, UnwritableFolderError):  # its folder of a moment
                return fault
            return Unfit(_in_words(fault), platform.node())
        except (GenexError, OSError, MemoryError) as problem:
            return Unfit(_in_words(problem), platform.node())


def _in_words(problem: Exception) -> str:
    """What went wrong on a worker; of a file in its own folder of a moment, without the path."""
    if isinstance(problem, OutputError | UnwritableFolderError):
        return problem.message.rpartition(": ")[2]
    if isinstance(problem, GenexError):
        return problem.message
    return getattr(problem, "strerror", None) or str(problem) or type(problem).__name__


def _without_font(task: Task) -> str:
    """What is wrong with the soundfont there; empty if nothing is."""
    if task.font is None:
        return ""
    try:
        path = task.font[0] or soundfont_path(task.job.recipe, None)
        return f"another soundfont at {path}" if audio.content_digest(path) != task.font[1] else ""
    except OSError:
        return f"no soundfont at {path}"
