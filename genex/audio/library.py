"""Finds libfluidsynth and loads pyfluidsynth on top of it.

The wheels of pygame-ce for Linux and macOS carry a current libfluidsynth among their shared
libraries; using that copy makes ``pip install`` enough. pygame itself is never imported. Where
there is no such copy, the system's library is used.

pyfluidsynth asks ``ctypes.util.find_library`` for the library while it is being imported. It is
therefore executed here as a private module whose own ``import`` statement hands it a
``find_library`` that answers with the library found here. Nothing global is changed: not
``ctypes.util``, not ``sys.modules``, not the environment.
"""

from __future__ import annotations

import builtins
import ctypes
import ctypes.util
import importlib.util
import os
import sys
from collections.abc import Iterator
from functools import partial
from importlib.machinery import ModuleSpec
from pathlib import Path
from threading import Lock
from types import ModuleType, SimpleNamespace
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
_loaded: list[ModuleType] = []


def fluidsynth() -> ModuleType:
    """The pyfluidsynth module, bound to the libfluidsynth of this installation.

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


def _load_first_usable() -> ModuleType:
    spec = importlib.util.find_spec("fluidsynth")
    if spec is None:
        raise SynthesizerError(
            "the Python package pyfluidsynth is missing", hint="run: pip install pyfluidsynth"
        )
    failures = []
    for library in library_candidates():
        try:
            module = _bind(spec, library)
            if not hasattr(module._fl, "fluid_synth_process"):
                raise OSError("older than FluidSynth 2")
        except (OSError, ImportError, AttributeError) as problem:
            failures.append(f"{library} ({problem})")
            continue
        _silence(module)
        return module
    tried = f"; tried {'; '.join(failures)}" if failures else ""
    raise SynthesizerError(
        f"the synthesizer library libfluidsynth was not found{tried}",
        hint=_REMEDIES.get(sys.platform, _REMEDIES["linux"]),
    )


def _bind(spec: ModuleSpec, library: str) -> ModuleType:
    """Execute pyfluidsynth as a private module that finds ``library`` and no other."""
    if spec.loader is None or not hasattr(spec.loader, "get_code"):
        raise ImportError("pyfluidsynth cannot be read")
    module = importlib.util.module_from_spec(spec)
    answer = SimpleNamespace(find_library=lambda name: library)
    private = dict(vars(builtins))
    private["__import__"] = partial(_import_with, {"ctypes.util": answer})
    private["print"] = lambda *words, **options: None  # with CI in the environment it reports its find
    vars(module)["__builtins__"] = private
    exec(spec.loader.get_code(spec.name), vars(module))
    return module


def _import_with(
    overrides: dict[str, Any],
    name: str,
    globals: dict[str, Any] | None = None,
    locals: dict[str, Any] | None = None,
    fromlist: tuple[str, ...] = (),
    level: int = 0,
) -> Any:
    """``__import__`` with some ``from … import`` statements answered from ``overrides``."""
    if fromlist and name in overrides:
        return overrides[name]
    return builtins.__import__(name, globals, locals, fromlist, level)


def _silence(module: ModuleType) -> None:
    """Without a log function libfluidsynth prints nothing; failures show in return values."""
    set_function = module._fl.fluid_set_log_function
    set_function.restype = ctypes.c_void_p
    set_function.argtypes = (ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p)
    for level in _LOG_LEVELS:
        set_function(level, None, None)
