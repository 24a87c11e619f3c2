"""Finds libfluidsynth and loads pyfluidsynth on top of it.

The wheels of pygame-ce for Linux and macOS carry a current libfluidsynth among their shared
libraries; using that copy makes ``pip install`` enough. pygame itself is never imported. Where
there is no such copy, the system's library is used.

pyfluidsynth asks ``ctypes.util.find_library`` for the library while it is being imported. So it is
imported with that function answering with the library found here, and with the answer taken back,
as the module too, at once: whoever else imports pyfluidsynth gets one of their own.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import importlib
import importlib.util
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import redirect_stdout
from pathlib import Path
from threading import Lock
from types import ModuleType
from typing import Any

from genex.errors import SynthesizerError

_LOG_LEVELS = range(5)  # FLUID_PANIC, FLUID_ERR, FLUID_WARN, FLUID_INFO, FLUID_DBG
_FOLDERS_BESIDE_PYGAME = ("../pygame_ce.libs", ".dylibs", ".")  # auditwheel, delocate, Windows
_SYSTEM_NAMES = ("fluidsynth", "fluidsynth-3", "libfluidsynth-3", "libfluidsynth", "libfluidsynth-2")
_SYSTEM_FILES = (
    "/opt/homebrew/lib/libfluidsynth.dylib",
    "/usr/local/lib/libfluidsynth.dylib",
    "/opt/local/lib/libfluidsynth.dylib",
    r"C:\tools\fluidsynth\bin\libfluidsynth-3.dll",
)
_REMEDIES = {
    "linux": "run: pip install pygame-ce    (or your system's package: apt install libfluidsynth3)",
    "darwin": "run: pip install pygame-ce    (or: brew install fluid-synth)",
    "win32": "download FluidSynth for Windows, unpack it and add its bin folder to PATH",
}

_lock = Lock()
_loaded: list[Library] = []
Pointer = int | None


class Library:
    """libfluidsynth: pyfluidsynth's ``Synth``, and the C functions that it has no method for.

    lib      path of the library, or the loader's name for it
    new      makes a ``fluidsynth.Synth``; its ``synth`` is what the C functions call a synth
    version  of libfluidsynth

    Raises OSError or AttributeError for a library that is no FluidSynth 2.
    """

    def __init__(self, module: ModuleType) -> None:
        self.lib: str = module.lib
        self.new: Callable[..., Any] = module.Synth
        c, pointer, number = ctypes.CDLL(self.lib), ctypes.c_void_p, ctypes.c_int

        def bound(name: str, result: Any, *arguments: Any) -> Any:
            function = getattr(c, name)
            function.restype, function.argtypes = result, arguments
            return function

        # synth, frames, effect buffers: number and rows, output buffers: number and rows
        self.process: Callable[[Pointer, int, int, None, int, ctypes.Array[ctypes.c_void_p]], int] = (
            bound("fluid_synth_process", number, pointer, number, number, pointer, number, pointer)
        )
        # synth, channel (-1: all), method
        self.set_interpolation: Callable[[Pointer, int, int], int] = bound(
            "fluid_synth_set_interp_method", number, pointer, number, number
        )
        # synth, channel, semitones
        self.set_bend_range: Callable[[Pointer, int, int], int] = bound(
            "fluid_synth_pitch_wheel_sens", number, pointer, number, number
        )
        self.active_voices: Callable[[Pointer], int] = bound(
            "fluid_synth_get_active_voice_count", number, pointer
        )
        # synth, room for voices, its size, identifier (-1: all voices)
        self.list_voices: Callable[[Pointer, ctypes.Array[ctypes.c_void_p], int, int], None] = bound(
            "fluid_synth_get_voicelist", None, pointer, pointer, number, number
        )
        # voice, number of the generator
        self.generator: Callable[[Pointer, int], float] = bound(
            "fluid_voice_gen_get", ctypes.c_float, pointer, number
        )
        self.channel: Callable[[Pointer], int] = bound("fluid_voice_get_channel", number, pointer)
        version: Callable[[], bytes] = bound("fluid_version_str", ctypes.c_char_p)
        self.version = version().decode()
        # Without a log function it prints nothing; failures show in return values.
        silence = bound("fluid_set_log_function", pointer, number, pointer, pointer)
        for level in _LOG_LEVELS:
            silence(level, None, None)


def fluidsynth() -> Library:
    """The libfluidsynth of this installation.

    Loaded once a process. Raises SynthesizerError if no library can be found or loaded, or if
    pyfluidsynth is not installed.
    """
    with _lock:
        if not _loaded:
            _loaded.append(_load_first_usable())
        return _loaded[0]


def library_candidates() -> Iterator[str]:
    """Paths (or loader names) of libfluidsynth, best first: the wheel's copy, then the system's."""
    yield from _copies_in_wheel()
    for name in _SYSTEM_NAMES:
        if found := ctypes.util.find_library(name):
            yield found
    homebrew = os.environ.get("HOMEBREW_PREFIX")
    for path in (*([f"{homebrew}/lib/libfluidsynth.dylib"] if homebrew else ()), *_SYSTEM_FILES):
        if Path(path).is_file():
            yield path


def _copies_in_wheel() -> Iterator[str]:
    try:
        spec = importlib.util.find_spec("pygame")  # finds, does not import
    except (ImportError, ValueError):
        return
    for location in (spec.submodule_search_locations or ()) if spec else ():
        for folder in _FOLDERS_BESIDE_PYGAME:
            for path in sorted((Path(location) / folder).glob("libfluidsynth*")):
                if ".so" in path.name or path.suffix in (".dylib", ".dll"):
                    yield str(path.resolve())


def _load_first_usable() -> Library:
    failures = []
    for library in library_candidates():
        try:
            return Library(_pyfluidsynth(library))
        except ModuleNotFoundError as problem:
            raise SynthesizerError(
                "the Python package pyfluidsynth is missing", hint="run: pip install pyfluidsynth"
            ) from problem
        except (OSError, ImportError, AttributeError) as problem:
            failures.append(f"{library} ({problem})")
    tried = f"; tried {'; '.join(failures)}" if failures else ""
    raise SynthesizerError(
        f"the synthesizer library libfluidsynth was not found{tried}",
        hint=_REMEDIES.get(sys.platform, _REMEDIES["linux"]),
    )


def _pyfluidsynth(library: str) -> ModuleType:
    """pyfluidsynth on top of that library."""
    find_library, other = ctypes.util.find_library, sys.modules.pop("fluidsynth", None)
    ctypes.util.find_library = lambda name: library
    try:
        with redirect_stdout(None):  # with CI in the environment it reports its find
            return importlib.import_module("fluidsynth")
    finally:
        ctypes.util.find_library = find_library
        sys.modules.pop("fluidsynth", None)
        if other:
            sys.modules["fluidsynth"] = other
