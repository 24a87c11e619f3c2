"""What goes to the terminal: answers, notes, progress, errors, and streams that are shut or full.

Standard output gets what was asked for, the standard error all else. Every text is clean: see
``plain_text``.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import signal
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from types import FrameType, TracebackType
from typing import TYPE_CHECKING, Any, NoReturn

from genex.errors import GenexError, SeveralRecipesError
from genex.plain_text import clean

PATIENCE_SECONDS = 1.0
_TERMINAL_SECONDS, _PIPE_SECONDS = 0.25, 5.0
"""How often is told what takes long."""

if TYPE_CHECKING:
    from rich.progress import Progress as Bar


class UnprintableError(GenexError):
    """The answer could not be printed: its file or disk is full."""


def prepare_streams() -> None:
    """Make the standard streams such that printing is no fault.

    A terminal that cannot show a sign such as ø shows another one; a stream that is shut gets one
    that leads nowhere, before a file takes its number.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def say(text: str, *, end: str = "\n", flush: bool = False) -> None:
    """Print an answer. Raises UnprintableError, BrokenPipeError."""
    try:
        print(clean(text, lines=True), end=end, flush=flush)
    except BrokenPipeError:
        raise
    except OSError as problem:
        raise _unprintable(problem) from problem


def say_titles(entries: Sequence[Mapping[str, Any]], *, as_json: bool) -> None:
    """Print a list of names with their titles, as columns or as JSON."""
    if as_json:
        say_json(entries)
        return
    width = max(len(entry["name"]) for entry in entries)
    for entry in entries:
        say(f"{entry['name']:<{width}}  {entry['title']}")


def say_json(value: Any) -> None:
    """Print an answer as JSON. Raises as ``say``."""
    text = json.dumps(value, ensure_ascii=False, indent=2)
    say(text.encode("utf-8", "replace").decode("utf-8"))


def say_event(event: dict[str, Any]) -> None:
    """Print an event for a program: JSON in one line, at once. Raises as ``say``."""
    text = json.dumps(event, ensure_ascii=False)
    say(text.encode("utf-8", "replace").decode("utf-8"), flush=True)


def note(text: str) -> None:
    """Print what is not the answer. Where that cannot be printed, nothing more can be said."""
    with suppress(OSError):
        print(clean(text, lines=True), file=sys.stderr)


def finish() -> None:
    """Have everything printed. Raises as ``say``."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as problem:
        raise _unprintable(problem) from problem


def _unprintable(problem: OSError) -> UnprintableError:
    mute()
    return UnprintableError(
        f"the answer could not be printed: {problem.strerror or problem}",
        hint="make room where the output goes; what was built is in place",
    )


def mute() -> None:
    """Let standard output lead nowhere: who read it is gone, or has no room."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def fail(error: GenexError) -> NoReturn:
    """Tell an error, as JSON where the answer was to be JSON, and exit with its code."""
    if "--json" in sys.argv and not isinstance(error, UnprintableError):
        with suppress(OSError, GenexError):
            say_json(error_json(error))
            finish()
    else:
        note(str(error))
    sys.exit(error.exit_code)


def error_json(error: GenexError) -> dict[str, Any]:
    """An error as data; where there are several, each of them under ``errors``."""
    place = error.place
    found: dict[str, Any] = {
        "ok": False,
        "message": error.message,
        "hint": error.hint,
        "file": place.file if place else None,
        "line": place.line if place else None,
        "column": place.column if place else None,
    }
    if isinstance(error, SeveralRecipesError):
        found["errors"] = [error_json(one) for one in error.errors]
    return found


class Progress:
    """A line that is written over on a terminal, with a bar where there is more than one thing to make.

    In a pipe: a plain line for each finished thing.
    """

    def __init__(self, *, quiet: bool = False) -> None:
        self.quiet = quiet
        self.live = sys.stderr.isatty() and not quiet
        self.width = 0
        self.lessons = self.versions = self.lessons_made = self.versions_made = 0
        self._bar: Bar | None = None

    def begin(self, lessons: int, versions: int) -> None:
        """So many lessons are to be made, in so many versions."""
        self.clear()
        self.lessons, self.versions = lessons, versions
        self.lessons_made = self.versions_made = 0
        if self.live and versions > 1:
            self._bar = _bar(versions)
            self._show()

    def version_made(self) -> None:
        """One version more is made."""
        self.versions_made += 1
        self._show()

    def lesson_made(self, title: str) -> None:
        """One lesson more is made."""
        self.lessons_made += 1
        self._show()
        if self.lessons > 1 and not self.live and not self.quiet:
            note(f"{self.lessons_made} of {self.lessons} made: {title}")

    def step(self, text: str) -> None:
        """What is being done."""
        if self._bar is not None:
            self._show(clean(text))
        elif self.live:
            text = clean(text)
            print(f"\r{text:<{self.width}}", end="", file=sys.stderr, flush=True)
            self.width = len(text)

    def done(self, text: str) -> None:
        """What is finished: a part of the answer."""
        self._hide()
        if not self.quiet:
            say(text, flush=True)
        self._show()

    def note(self, text: str) -> None:
        """What should be known besides."""
        self._hide()
        if not self.quiet:
            note(text)
        self._show()

    def clear(self) -> None:
        """Take the line away; a bar has come to its end."""
        self._hide()
        self._bar = None

    def _hide(self) -> None:
        if self._bar is not None:
            self._bar.stop()
        elif self.live:
            print(f"\r{'':<{self.width}}\r", end="", file=sys.stderr, flush=True)
            self.width = 0

    def _show(self, text: str | None = None) -> None:
        if self._bar is None:
            return
        if self.versions_made >= self.versions and text is None:
            self._bar.stop()  # what still comes needs no bar
            return
        made = f"{self.versions_made} of {self.versions} versions"
        if self.lessons > 1:
            made = f"{self.lessons_made} of {self.lessons} lessons"
        task = self._bar.task_ids[0]
        self._bar.update(task, completed=self.versions_made, made=made)
        if text is not None:
            self._bar.update(task, description=text)
        self._bar.start()
        self._bar.refresh()


class Waiting:
    """Tells what a command is at once that takes longer than a second, and for how long already.

    A context manager. On a terminal it is one line that is written over and goes at the end; in a
    pipe a plain line every few seconds. The system's clock wakes it within long steps; where it has
    none that does (Windows), it tells at the next step. Whoever forks meanwhile copies no thread.
    """

    def __init__(self, *, quiet: bool = False) -> None:
        self._line = Progress(quiet=quiet)
        self._every = _TERMINAL_SECONDS if self._line.live else _PIPE_SECONDS
        self._text = ""
        self._begun = self._next = 0.0

    def __enter__(self) -> Waiting:
        self._begun = time.monotonic()
        self._next = self._begun + PATIENCE_SECONDS
        if hasattr(signal, "setitimer") and not self._line.quiet:
            self._before = signal.signal(signal.SIGALRM, self._woken)
            signal.setitimer(signal.ITIMER_REAL, PATIENCE_SECONDS, _TERMINAL_SECONDS)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if hasattr(signal, "setitimer") and not self._line.quiet:
            signal.setitimer(signal.ITIMER_REAL, 0)
            signal.signal(signal.SIGALRM, self._before or signal.SIG_DFL)
        with suppress(OSError):
            self._line.clear()

    def step(self, text: str) -> None:
        """What is being done."""
        self._text = text
        self._tell()

    def _woken(self, number: int, frame: FrameType | None) -> None:
        self._tell()

    def _tell(self) -> None:
        now = time.monotonic()
        if self._line.quiet or not self._text or now < self._next:
            return
        self._next = now + self._every
        seconds = f", {int(now - self._begun)} s"
        with suppress(OSError, RuntimeError):  # nobody looks; or it is being told already
            if self._line.live:
                room = max(4, shutil.get_terminal_size().columns - len(seconds) - 1)
                text = clean(self._text)  # of which the end says most
                self._line.step((text if len(text) <= room else f"...{text[3 - room :]}") + seconds)
            else:
                note(f"{self._text}{seconds}")


def _bar(versions: int) -> Bar:
    """A bar on the standard error. It has no thread of its own: a build copies its process."""
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    bar = Bar(
        BarColumn(bar_width=24),
        TextColumn("{task.fields[made]}", markup=False),
        TimeRemainingColumn(),
        TextColumn("left", markup=False),
        TextColumn("{task.description}", markup=False),
        console=Console(file=sys.stderr, force_terminal=True),
        auto_refresh=False,
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    )
    bar.add_task("", total=versions, made="")
    return bar
