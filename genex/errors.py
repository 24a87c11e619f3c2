"""Every error that genex raises on purpose. Imports nothing of genex but plain text.

GenexError                      exit 1   something outside the user's text failed
├── SynthesizerError            exit 1   no usable libfluidsynth, or it misbehaved
├── ClusterError                exit 1   a scheduler, its workers, or a lesson that none could make
├── SoundDeviceError            exit 1   nothing can be played on this machine
├── OutputError                 exit 1   a file could not be written (full disk, folder gone)
├── ExercisePackageError        exit 1   an installed package with a kind of exercise is broken
└── InputError                  exit 2   what the user wrote or asked for is wrong
    ├── RecipeError             exit 2   a recipe: always with a place
    ├── ChordSymbolError        exit 2   a chord symbol: with the position inside it
    ├── NotationError           exit 2   a pitch, key, scale, numeral or degree that is not one
    ├── FretboardError          exit 2   a tuning, form or position that cannot hold the notes
    ├── LineError               exit 2   a line, level or range that the music cannot support
    ├── GrooveError             exit 2   a groove file, or a feel that is unknown or not for the meter
    ├── SoundfontError          exit 2   a soundfont that is missing or does not load
    ├── MidiFileError           exit 2   a MIDI file that cannot be read as a phrase
    ├── ChartFileError          exit 2   a chart in another format that cannot be read, with a place
    ├── SeveralRecipesError     exit 2   more than one recipe is wrong
    └── UnwritableFolderError   exit 2   the chosen output folder cannot be written

A message says what is wrong; a hint says what to write instead; a place says where.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from genex import plain_text


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a user's file something stands. ``line`` and ``column`` count from 1."""

    file: str
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        parts = [self.file]
        if self.line is not None:
            parts.append(str(self.line))
            if self.column is not None:
                parts.append(str(self.column))
        return ":".join(parts)


class GenexError(Exception):
    """Base of all errors of genex. ``exit_code`` is what the command line returns."""

    exit_code: ClassVar[int] = 1

    def __init__(self, message: str, *, hint: str | None = None, place: Place | None = None) -> None:
        super().__init__(message)
        self.message = plain_text.message(message)
        self.hint = None if hint is None else plain_text.message(hint)
        self.place = place

    def __reduce__(self) -> tuple[object, ...]:
        """Errors are sent from one process to another, whatever their kind asks for when made."""
        return _made_again, (type(self), self.args, self.__dict__)

    def __str__(self) -> str:
        """``file:line:column: message`` and, on a second line, the hint."""
        text = f"{plain_text.message(str(self.place))}: {self.message}" if self.place else self.message
        return f"{text}\n  hint: {self.hint}" if self.hint else text


def _made_again(
    kind: type[GenexError], args: tuple[object, ...], state: dict[str, object]
) -> GenexError:
    error = kind.__new__(kind, *args)
    error.args = args
    error.__dict__.update(state)
    return error


class SynthesizerError(GenexError):
    """No usable libfluidsynth was found, or it refused to work."""


class ClusterError(GenexError):
    """No scheduler or no worker answers, or a lesson could not be made by any."""


class SoundDeviceError(GenexError):
    """No sound can be played: a library or a device is missing."""


class OutputError(GenexError):
    """A file could not be written although the request was right."""


class ExercisePackageError(GenexError):
    """An installed package offers a kind of exercise that cannot be loaded."""


class InputError(GenexError):
    """The user's input is wrong."""

    exit_code = 2


class RecipeError(InputError):
    """A recipe is wrong."""


class ChordSymbolError(InputError):
    """A chord symbol cannot be read. ``position`` counts characters from 0 inside the symbol."""

    def __init__(
        self,
        message: str,
        *,
        symbol: str,
        position: int,
        hint: str | None = None,
        place: Place | None = None,
    ) -> None:
        super().__init__(message, hint=hint, place=place)
        self.symbol = symbol
        self.position = position


class NotationError(InputError):
    """A pitch, key, scale, numeral or degree that is not one."""


class FretboardError(InputError):
    """A tuning, form or position that cannot hold what is asked of it."""


class LineError(InputError):
    """A line, level or range that the music cannot support."""


class GrooveError(InputError):
    """A groove file that is wrong, or a feel that is unknown or has no pattern for the meter."""


class SoundfontError(InputError):
    """A soundfont that is missing or does not load."""


class MidiFileError(InputError):
    """A MIDI file that cannot be read as a phrase."""


class ChartFileError(InputError):
    """A chart in another format that cannot be read."""


class UnwritableFolderError(InputError):
    """The chosen output folder cannot be written."""


class SeveralRecipesError(InputError):
    """More than one recipe is wrong; the message holds all of their messages."""

    def __init__(
        self,
        message: str = "",
        *,
        errors: Sequence[GenexError] = (),
        hint: str | None = None,
        place: Place | None = None,
    ) -> None:
        super().__init__(message or "\n".join(map(str, errors)), hint=hint, place=place)
        self.errors = tuple(errors)


def library_error(problem: ImportError) -> GenexError:
    """For a library of others that could not be loaded when it was needed."""
    return GenexError(
        f"a library could not be loaded: {problem}",
        hint="close other programs: memory or file handles may be short; if that does not help, "
        "install genex anew",
    )
