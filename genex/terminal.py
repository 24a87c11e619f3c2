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
from contextlib import suppress
from types import FrameType, TracebackType
from typing import Any, NoReturn

from genex.errors import GenexError, SeveralRecipesError
from genex.plain_text import clean

PATIENCE_SECONDS = 1.0
_TERMINAL_SECONDS, _PIPE_SECONDS = 0.25, 5.0
"""How often is told what takes long."""


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


def say_json(value: Any) -> None:
    """Print an answer as JSON. Raises as ``say``."""
    text = json.dumps(value, ensure_ascii=False, indent=2)
    say(text.encode("utf-8", "replace").decode("utf-8"))


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
    """One line that is written over on a terminal; a plain line for each finished thing in a pipe."""

    def __init__(self, *, quiet: bool = False) -> None:
        self.quiet = quiet
        self.live = sys.stderr.isatty() and not quiet
        self.width = 0

    def step(self, text: str) -> None:
        """What is being done."""
        if self.live:
            text = clean(text)
            print(f"\r{text:<{self.width}}", end="", file=sys.stderr, flush=True)
            self.width = len(text)

    def done(self, text: str) -> None:
        """What is finished: a part of the answer."""
        self.clear()
        if not self.quiet:
            say(text, flush=True)

    def note(self, text: str) -> None:
        """What should be known besides."""
        self.clear()
        if not self.quiet:
            note(text)

    def clear(self) -> None:
        """Take the line away."""
        if self.live:
            print(f"\r{'':<{self.width}}\r", end="", file=sys.stderr, flush=True)
            self.width = 0


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
