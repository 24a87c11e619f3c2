"""What several rooms' tests share."""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import settings

from genex import terminal

settings.register_profile("genex", deadline=None, derandomize=True)
settings.load_profile("genex")

gc.set_threshold(50_000, 20, 100)  # thousands of tests in one process: garbage is looked for less often


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """A process for each processor where folders are tested; a few files are done sooner by one."""
    named = [Path(word.partition("::")[0]) for word in config.args]
    if all(path.is_file() for path in named):
        return 0
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@pytest.fixture(autouse=True, scope="session")
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The tests have a cache folder of their own, so that they neither use nor fill the user's.

    The processes of one run share it: a note is rendered once.
    """
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "cache"
    folder.mkdir(exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder))
        yield


@pytest.fixture(autouse=True)
def own_ctrl_c() -> Iterator[None]:
    """The command line keeps Ctrl-C for itself to its end; after a test it is pytest's again.

    Each test begins with what Python does at Ctrl-C, also in a process that was started deaf to it.
    """
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture(autouse=True)
def much_patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """A busy machine makes no check say that it takes long, but where that is tested."""
    monkeypatch.setattr(terminal, "PATIENCE_SECONDS", 600.0)


@pytest.fixture(autouse=True)
def one_process(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """A build makes its files in the test's own process, where the tests are not of several.

    The other processors are busy with other tests, and starting a process costs about a second.
    """
    if not request.node.get_closest_marker("processes"):
        monkeypatch.setattr("genex.publishing.workshop._processors", lambda: 1)


@pytest.fixture(autouse=True)
def sound_memory() -> Iterator[None]:
    """No text was read as a fraction by quicktions, which would have damaged this very byte."""
    yield
    assert bytes([0])[0] == 0, "see genex/exact.py"


class Answer(NamedTuple):
    """What a command printed and returned."""

    code: int
    out: str
    err: str


@pytest.fixture
def genex(monkeypatch, capsys) -> Callable[..., Answer]:
    """Run the command line in this process: ``genex("check", path)``."""

    def run(*words: object) -> Answer:
        from genex.cli import main

        monkeypatch.setattr(sys, "argv", ["genex", *map(str, words)])
        capsys.readouterr()
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else int(end.code is not None)
        else:
            code = 0
        return Answer(code, *capsys.readouterr())

    return run
