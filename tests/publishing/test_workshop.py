"""Versions made by several processes are the ones that one process makes."""

from __future__ import annotations

import faulthandler
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from genex.audio import tape
from genex.errors import GenexError, InputError, LineError
from genex.publishing import workshop
from genex.publishing.jobs import check_all
from genex.publishing.maker import Maker, Order, other_keys, prepare
from genex.publishing.workshop import Workshop
from genex.recipe import read_recipe
from tests.publishing.builds import build_all

pytestmark = pytest.mark.processes

MANY = (
    "title: Rain\nchords: Gm7 | C7\nparts: drums bass guide\nkeys: [F, Bb, D]\n"
    "tempos: [180, 240]\noutputs: midi loop tab\n"
)


def written(tmp_path: Path, text: str, name: str = "rain") -> Path:
    path = tmp_path / f"{name}.yaml"
    path.write_text(text)
    return path


def build(paths: list[Path], out: Path) -> list[str]:
    return list(build_all(paths, out, report=lambda text: None))


def processes(monkeypatch: pytest.MonkeyPatch, count: int) -> None:
    monkeypatch.setattr(workshop, "_processors", lambda: count)
    # Copies of this process, whatever other tests have set: they see what is changed here.
    monkeypatch.setattr(workshop, "may_be_copied", lambda: True)


def test_the_number_of_processes_makes_no_difference(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recipe = written(tmp_path, MANY)
    found = []
    for count in (1, 2, 3):
        processes(monkeypatch, count)
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / f"cache{count}"))
        out = tmp_path / str(count)
        build([recipe], out)
        found.append({path.name: path.read_bytes() for path in (out / "rain").iterdir()})
    assert len(found[0]) == 6 * 3 + 1
    assert found[0] == found[1] == found[2]


def test_a_new_process_makes_what_a_copy_of_this_one_makes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on systems where a process cannot safely be copied."""
    recipe = written(tmp_path, "chords: Gm7 | C7\nparts: guide\ntempos: [180, 240]\noutputs: midi\n")
    processes(monkeypatch, 2)
    build([recipe], tmp_path / "copied")
    monkeypatch.setattr(workshop, "may_be_copied", lambda: False)
    build([recipe], tmp_path / "new")
    new, copied = (sorted((tmp_path / name / "rain").iterdir()) for name in ("new", "copied"))
    assert [path.read_bytes() for path in new] == [path.read_bytes() for path in copied]


def test_the_files_of_a_lesson_are_listed_in_the_order_of_its_versions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    processes(monkeypatch, 2)
    (text,) = build([written(tmp_path, MANY)], tmp_path / "out")
    midi = [line.split()[0] for line in text.splitlines() if ".mid" in line]
    assert midi == [f"rain.{key}.{tempo}.mid" for key in ("F", "Bb", "D") for tempo in (180, 240)]


def test_several_recipes_are_built_in_their_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    processes(monkeypatch, 2)
    recipes = [
        written(tmp_path, f"title: Rain {n}\nchords: C | F\nparts: guide\noutputs: midi\n", f"rain{n}")
        for n in range(5)
    ]
    texts = build(recipes, tmp_path / "out")
    assert [text.split(":")[0] for text in texts] == [f"Rain {n}" for n in range(5)]


@pytest.mark.parametrize("count", [1, 2])
def test_a_key_that_cannot_be_played_stops_all_before_anything_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, count: int
) -> None:
    processes(monkeypatch, count)
    good = written(tmp_path, "title: Good\nchords: C\noutputs: midi\n", "good")
    bad = written(tmp_path, MANY, "bad")

    def fulfil(self: Maker, order: Order, made: object = Maker.fulfil) -> object:
        if order.stage is None and order.version == 2:
            raise LineError("no finger gets there")
        return made(self, order)  # type: ignore[operator]

    monkeypatch.setattr(Maker, "fulfil", fulfil)
    with pytest.raises(InputError, match="no finger gets there"):
        build([good, bad], tmp_path / "out")
    assert not (tmp_path / "out").exists()
    answers, errors = check_all([good, bad])
    assert [answer["title"] for answer in answers] == ["Good"]
    assert [str(error) for error in errors] == ["no finger gets there"]


@pytest.mark.parametrize("count", [1, 2])
def test_a_lesson_that_fails_half_way_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, count: int
) -> None:
    processes(monkeypatch, count)

    def fulfil(self: Maker, order: Order, made: object = Maker.fulfil) -> object:
        if order.stage is not None and order.version == 4:
            raise GenexError("the disk is full")
        return made(self, order)  # type: ignore[operator]

    monkeypatch.setattr(Maker, "fulfil", fulfil)
    with pytest.raises(GenexError, match="disk is full"):
        build([written(tmp_path, MANY)], tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


@pytest.mark.parametrize("count", [1, 3])
def test_the_error_is_that_of_the_first_version_that_cannot_be_played(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, count: int
) -> None:
    processes(monkeypatch, count)

    def fulfil(self: Maker, order: Order) -> object:
        if order.version == 2:
            time.sleep(0.2)
        raise LineError(f"version {order.version} cannot be played")

    monkeypatch.setattr(Maker, "fulfil", fulfil)
    with pytest.raises(InputError, match="version 2 cannot"):
        build([written(tmp_path, MANY)], tmp_path / "out")


@pytest.mark.parametrize("count", [1, 2])
def test_lessons_before_the_one_that_fails_are_in_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, count: int
) -> None:
    processes(monkeypatch, count)
    good = written(tmp_path, "title: Good\nchords: C\nparts: bass\noutputs: loop\n", "good")
    bad = written(tmp_path, "title: Bad\nchords: C\naudio: {soundfont: bad.sf2}\n", "bad")
    (tmp_path / "bad.sf2").write_text("no soundfont")
    with pytest.raises(InputError, match="is not a soundfont"):
        build([good, bad], tmp_path / "out")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["good"]
    assert (tmp_path / "out" / "good" / "good.wav").exists()


def test_no_more_is_open_than_is_being_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    processes(monkeypatch, 2)
    recipes = [
        written(tmp_path, f"title: R{n}\nchords: C\nparts: guide\noutputs: midi\n", f"r{n}")
        for n in range(12)
    ]
    staged = []
    for _ in build_all(recipes, tmp_path / "out", report=lambda text: None):
        staged.append(len(list((tmp_path / "out").glob(".*.part"))))
    assert max(staged) <= 3


def test_checks_start_no_process_without_need(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    processes(monkeypatch, 2)
    job = prepare(read_recipe(written(tmp_path, "chords: C\ntempos: [100, 120]\n")))
    with Workshop([job], None, lambda text: None, only_checks=True) as shop:
        assert shop.lookahead == 0


def test_a_fault_in_a_worker_is_told_as_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    processes(monkeypatch, 2)

    def fulfil(self: Maker, order: Order) -> object:
        raise KeyError("bar")

    monkeypatch.setattr(Maker, "fulfil", fulfil)
    with pytest.raises(RuntimeError, match="KeyError: 'bar'"):
        build([written(tmp_path, MANY)], tmp_path / "out")


def test_a_worker_that_is_killed_ends_the_build_with_a_message(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    processes(monkeypatch, 2)
    mine = os.getpid()

    def fulfil(self: Maker, order: Order, made: object = Maker.fulfil) -> object:
        if order.stage is not None and os.getpid() != mine:
            os.kill(os.getpid(), signal.SIGKILL)
        return made(self, order)  # type: ignore[operator]

    monkeypatch.setattr(Maker, "fulfil", fulfil)
    with pytest.raises(GenexError, match="ended from outside") as caught:
        build([written(tmp_path, MANY)], tmp_path / "out")
    assert caught.value.hint
    assert list((tmp_path / "out").iterdir()) == []


LONG = "title: Rain\nchords: C | F\nrepeats: 12\ntempo: 60\nparts: bass\noutputs: loop\n"


def test_a_disk_that_fails_under_a_long_sound_is_told_and_nothing_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A true SIGBUS: of the file that is mapped nothing is left, as after a read error."""
    processes(monkeypatch, 1)
    mapped_file = tape._Mapped.__new__

    def lost(kind: type, handle: int, size: int) -> object:
        faulthandler.disable()  # in the process that ends
        mapped = mapped_file(kind, handle, size)
        os.ftruncate(handle, 0)
        return mapped

    monkeypatch.setattr(tape._Mapped, "__new__", lost)
    with pytest.raises(GenexError, match="could not be read back from the disk") as caught:
        build([written(tmp_path, LONG)], tmp_path / "out")
    assert caught.value.hint and list((tmp_path / "out").iterdir()) == []


def test_a_short_sound_alone_starts_no_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    processes(monkeypatch, 1)

    def none(*words: object) -> None:
        raise AssertionError("a process was started")

    monkeypatch.setattr(workshop, "_Worker", none)
    build([written(tmp_path, LONG.replace("repeats: 12\n", ""))], tmp_path / "out")
    assert (tmp_path / "out" / "rain" / "rain.wav").exists()


def test_all_workers_are_gone_afterwards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    processes(monkeypatch, 3)
    job = prepare(read_recipe(written(tmp_path, MANY)))
    with Workshop([job], None, lambda text: None) as shop:
        workers = [worker._process for worker in shop._workers]
        assert len(workers) == 3 and all(worker.is_alive() for worker in workers)
    assert not any(worker.is_alive() for worker in workers)


BEGIN = """
import sys
from genex.publishing import workshop
from genex.cli import main
workshop._processors = lambda: 3
begin = workshop._Worker.__init__
def told(self, *words):
    begin(self, *words)
    print(self._process.pid, flush=True)
workshop._Worker.__init__ = told
main()
"""


@pytest.fixture
def at_work(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], list[int]]]:
    """A build of many versions that has begun, and its workers."""
    recipe = written(tmp_path, MANY.replace("[180, 240]", "{start: 100, end: 200, step: 5}"))
    words = [sys.executable, "-c", BEGIN, "build", str(recipe), "--out", str(tmp_path / "out")]
    with subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    ) as process:
        assert process.stdout is not None
        workers = [int(process.stdout.readline()) for _ in range(3)]
        yield process, workers
        process.kill()


def require_gone(workers: list[int]) -> None:
    for _ in range(300):
        left = [worker for worker in workers if Path(f"/proc/{worker}/exe").exists()]
        if not left:
            break
        time.sleep(0.1)
    assert not left


def test_workers_end_when_the_first_process_is_killed(
    at_work: tuple[subprocess.Popen[str], list[int]],
) -> None:
    process, workers = at_work
    process.kill()
    require_gone(workers)


@pytest.mark.parametrize("seconds", [0, 0.3, 1])
def test_ctrl_c_ends_all_of_them_with_one_message(
    at_work: tuple[subprocess.Popen[str], list[int]], tmp_path: Path, seconds: float
) -> None:
    process, workers = at_work
    time.sleep(seconds)
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does it
    _, error = process.communicate(timeout=60)
    assert process.returncode == 130
    assert error.count("\n") == 1 and error.startswith("genex: stopped")
    require_gone(workers)
    out = tmp_path / "out"
    assert not out.exists() or list(out.iterdir()) == []


def test_the_first_version_of_each_other_key_is_checked(tmp_path: Path) -> None:
    assert other_keys(read_recipe(written(tmp_path, MANY))) == [2, 4]


def test_a_manifest_lists_size_and_checksum_of_what_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from hashlib import sha256

    processes(monkeypatch, 2)
    build([written(tmp_path, MANY)], tmp_path / "out")
    folder = tmp_path / "out" / "rain"
    entries = json.loads((folder / "manifest.json").read_text())["files"]
    assert len(entries) == 18
    for entry in entries:
        data = (folder / entry["name"]).read_bytes()
        assert (entry["bytes"], entry["sha256"]) == (len(data), sha256(data).hexdigest())
