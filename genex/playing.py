"""``genex play``: a lesson through the machine's own output, at once, and again when it is saved."""

from __future__ import annotations

import importlib
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Annotated, Any

import typer

from genex import terminal
from genex.beginnings import Quiet
from genex.errors import SoundDeviceError
from genex.lazy import lazy

if TYPE_CHECKING:
    from genex.publishing import listening, watching
else:
    listening = lazy("genex.publishing.listening")


class Output:
    """The machine's output, on which one lesson goes round. A context manager."""

    def __init__(self) -> None:
        """Raises SoundDeviceError where there is none."""
        self._library = _library()
        self._stream: Any = None
        self._turning: listening.Turning | None = None
        self._rate_hz = 0

    def __enter__(self) -> Output:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()

    def play(self, heard: listening.Heard) -> None:
        """Let it sound: from its beginning, or where the one before it is. Raises SoundDeviceError."""
        if self._turning is not None and self._rate_hz == heard.rate_hz:
            self._turning.exchange(heard.samples)
            return
        self._close()
        turning = listening.Turning(heard.samples, heard.rate_hz)

        def fill(out: Any, frames: int, time: Any, status: Any) -> None:
            turning.fill(out)

        try:
            self._stream = self._library.OutputStream(
                samplerate=heard.rate_hz, channels=2, dtype="float32", callback=fill
            )
            self._stream.start()
        except (self._library.PortAudioError, ValueError) as problem:
            raise SoundDeviceError(
                f"no sound can be played on this machine: {problem}",
                hint="connect or choose an output in the system's settings; 'genex build' writes files",
            ) from None
        self._turning, self._rate_hz = turning, heard.rate_hz

    def _close(self) -> None:
        if self._stream is not None:
            self._stream.close()
            self._stream = self._turning = None


def _library() -> Any:
    """The library that knows the machine's outputs. Raises SoundDeviceError."""
    try:
        return importlib.import_module("sounddevice")
    except ImportError:
        raise SoundDeviceError(
            "playing takes the package 'sounddevice', which is not installed",
            hint="pip install 'genex[play]'; 'genex build' needs no sound device",
        ) from None
    except OSError:
        raise SoundDeviceError(
            "playing takes the library PortAudio, which is not installed",
            hint="Debian and Ubuntu: apt install libportaudio2; Fedora: dnf install portaudio",
        ) from None


def play(
    recipe: Annotated[Path, typer.Argument(metavar="RECIPE", help="A recipe file (.yaml).")],
    soundfont: Annotated[
        Path | None, typer.Option(metavar="PATH", help="Play with your own soundfont (.sf2, .sf3).")
    ] = None,
    key: Annotated[
        str | None, typer.Option(metavar="KEY", help="In this key, such as Eb or G minor.")
    ] = None,
    tempo: Annotated[
        float | None, typer.Option(metavar="BPM", help="At this tempo, in beats a minute.")
    ] = None,
    exercise: Annotated[
        int | None, typer.Option(metavar="N", min=1, help="This one of several exercises.")
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Play a lesson aloud, round and round, and follow the recipe as it is saved, until Ctrl-C."""
    progress = terminal.Progress(quiet=quiet)
    with Output() as output:
        progress.step(f"{recipe.name}: composing and rendering")
        rounds = listening.Listening([recipe], soundfont, listening.Choice(key, tempo, exercise))
        for one in rounds.run():
            progress.clear()
            if one.built is not None:
                output.play(one.built)
                progress.done(_said(one.built, one))
            elif one.error is not None and not one.saved:
                raise one.error
            elif one.error is not None:
                terminal.note(str(one.error))
                progress.note("what was right before goes on sounding")


def _said(heard: listening.Heard, one: watching.Round[listening.Heard]) -> str:
    if one.saved:
        saved = ", ".join(path.name for path in one.saved)
        return f"{heard.title}: changed in {one.seconds:.2f} s ({saved} was saved)"
    minutes, seconds = divmod(heard.seconds, 60)
    return (
        f"{heard.title}: {heard.key} at {heard.tempo:g}, {heard.bars} bars, "
        f"{minutes:.0f}:{seconds:04.1f} a pass\n"
        "save the recipe and it changes; Ctrl-C ends it; set the volume low before you raise it"
    )
