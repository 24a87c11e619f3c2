from __future__ import annotations

import ctypes.util
import subprocess
import sys
from pathlib import Path

import pytest

from genex.audio import library
from genex.errors import SynthesizerError


def run(code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)


def test_the_copy_inside_the_pygame_wheel_is_preferred() -> None:
    path = Path(library.fluidsynth().lib)
    assert "pygame" in path.parent.name or "pygame" in path.parent.parent.name


def test_loading_changes_nothing_global_and_never_imports_pygame() -> None:
    before = ctypes.util.find_library
    out = run(
        "import sys, os, ctypes.util, builtins\n"
        "before = ctypes.util.find_library, builtins.__import__, dict(os.environ)\n"
        "from genex.audio.library import fluidsynth\n"
        "fluidsynth()\n"
        "assert before == (ctypes.util.find_library, builtins.__import__, dict(os.environ))\n"
        "print([name for name in sys.modules if name in ('pygame', 'fluidsynth')])\n"
    )
    assert out.stdout.strip() == "[]"
    assert out.stderr == ""
    assert ctypes.util.find_library is before


def test_nothing_is_printed_where_pyfluidsynth_would_report(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CI", "true")  # makes pyfluidsynth 1.4 print what it found
    out = run("from genex.audio.library import fluidsynth\nfluidsynth()\n")
    assert (out.stdout, out.stderr) == ("", "")


def test_many_threads_load_one_library() -> None:
    out = run(
        "from concurrent.futures import ThreadPoolExecutor\n"
        "from genex.audio.library import fluidsynth\n"
        "with ThreadPoolExecutor(8) as pool:\n"
        "    found = list(pool.map(lambda _: id(fluidsynth()), range(32)))\n"
        "print(len(set(found)))\n"
    )
    assert out.stdout.strip() == "1"


@pytest.mark.parametrize(
    ("platform", "remedy"),
    [("linux", "libfluidsynth3"), ("darwin", "brew install fluid-synth"), ("win32", "PATH")],
)
def test_a_missing_library_is_named_with_the_remedy_for_the_system(
    monkeypatch: pytest.MonkeyPatch, platform: str, remedy: str
) -> None:
    monkeypatch.setattr(library, "library_candidates", lambda: iter(()))
    monkeypatch.setattr(library, "_loaded", [])
    monkeypatch.setattr(sys, "platform", platform)
    with pytest.raises(SynthesizerError, match="libfluidsynth was not found") as caught:
        library.fluidsynth()
    assert remedy in str(caught.value)


def test_a_library_that_does_not_load_is_passed_over(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    broken = tmp_path / "libfluidsynth.so"
    broken.write_bytes(b"not a library")
    good = library.fluidsynth().lib
    monkeypatch.setattr(library, "_loaded", [])
    monkeypatch.setattr(library, "library_candidates", lambda: iter([str(broken), good]))
    assert library.fluidsynth().lib == good


def test_the_system_library_is_used_where_the_wheel_has_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(library, "_copies_in_wheel", lambda: iter(()))
    monkeypatch.setattr(ctypes.util, "find_library", lambda name: f"/somewhere/{name}")
    assert next(library.library_candidates()) == "/somewhere/fluidsynth"
