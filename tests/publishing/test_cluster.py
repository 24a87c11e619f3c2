"""Lessons made elsewhere: a stub in place of the scheduler, whose workers are this process."""

from __future__ import annotations

import errno
import hashlib
import pickle
import platform
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from genex.errors import ClusterError, GenexError
from genex.publishing import cluster
from genex.publishing.cluster import MADE
from genex.publishing.cluster_worker import Outcome, Task, Unfit, facts, greeting, make, unlike
from genex.publishing.files import writing
from genex.publishing.scheduler import Dask

RECIPE = "title: {title}\nchords: Gm7 | C7 |\nexercise: arpeggio\noutputs: [midi, tab]\ntempo: {tempo}\n"
NAMES = ("Rain", "Snow", "Hail")


class Scheduler:
    """Hands tasks over as they would travel, and gives results back last first."""

    def __init__(self, workers: tuple[str, ...] = ("one", "two"), gone_after: int = 99) -> None:
        self.names, self.gone_after = workers, gone_after
        self.made: list[str] = []
        self.trouble: dict[str, list[Outcome]] = {}
        self.asked: list[list[str] | None] = []
        self.unfit: dict[str, Unfit] = {}
        self.withdrawn: list[bytes] = []

    def greet(self, workers: list[str]) -> dict[str, Unfit | None]:
        return {name: self.unfit.get(name) for name in workers}

    def withdraw(self, future: bytes) -> None:
        self.withdrawn.append(future)

    def workers(self) -> list[str]:
        return list(self.names)

    def submit(self, task: Task, workers: list[str] | None) -> bytes:
        self.asked.append(workers)
        return pickle.dumps((len(self.asked), task))

    def done(self, futures: list[bytes]) -> list[bytes]:
        if len(self.made) >= self.gone_after:
            raise ClusterError("the scheduler is gone")
        return futures[-1:]

    def outcome(self, future: bytes) -> Outcome:
        _, task = pickle.loads(future)
        title = task.job.recipe.title
        if self.trouble.get(title):
            return self.trouble[title].pop(0)
        self.made.append(title)
        return pickle.loads(pickle.dumps(make(task)))

    def close(self) -> None:
        pass


@pytest.fixture
def course(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name in NAMES:
        text = RECIPE.format(title=name, tempo=100 + len(name))
        Path(f"{name.lower()}.yaml").write_text(text)
    Path("course.yaml").write_text("title: Weather\nlessons: [rain.yaml, snow.yaml, hail.yaml]\n")
    return Path("course.yaml")


@pytest.fixture
def scheduler(monkeypatch: pytest.MonkeyPatch) -> Scheduler:
    found = Scheduler()
    monkeypatch.setattr(cluster, "Dask", lambda address: found)
    return found


def files(folder: str) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(Path(folder).rglob("*"))
        if path.is_file()
    }


def test_it_is_what_one_machine_makes_and_only_what_is_missing_is_made(genex, course, scheduler):
    assert genex("build", course, "--out", "alone").code == 0
    answer = genex("build", course, "--out", "many", "--cluster", "tcp://there:8786")
    assert (answer.code, sorted(scheduler.made)) == (0, sorted(NAMES))
    assert files("many") == files("alone")
    assert not Path("many", MADE).exists()
    assert genex("build", course, "--out", "many", "--cluster", "tcp://there:8786").code == 0
    snow = Path("snow.yaml")
    snow.write_text(snow.read_text() + "seed: 5\n")
    assert genex("build", course, "--out", "many", "--cluster", "tcp://there:8786").code == 0
    assert scheduler.made[3:] == ["Snow"]


def test_a_worker_that_is_not_fit_is_left_for_another(genex, course, scheduler):
    scheduler.trouble["Snow"] = [Unfit("the disk is full"), Unfit("no soundfont at gm.sf2")]
    assert genex("build", course, "--out", "many", "--cluster", "tcp://there:8786").code == 0
    assert scheduler.asked[3:] == [["two"], ["one"]]


def test_workers_with_other_versions_are_told_of_and_left_out(genex, course, scheduler):
    scheduler.unfit["two"] = Unfit("numpy 1.0 in place of 2.0", "attic")
    answer = genex("build", course, "--out", "many", "--cluster", "tcp://there:8786")
    assert answer.code == 0 and set(map(tuple, scheduler.asked)) == {("one",)}
    assert answer.err.count("note: a worker is left out: numpy 1.0 in place of 2.0 (on attic)") == 1
    scheduler.unfit["one"] = Unfit("it does not answer")
    answer = genex("build", course, "--rebuild", "--out", "many", "--cluster", "tcp://there:8786")
    assert answer.code == 1 and "none of the workers at tcp://there:8786 can make" in answer.err


def test_only_as_much_as_the_workers_do_next_is_handed_out(genex, course, scheduler, monkeypatch):
    scheduler.names = ("one",)
    counts = []
    done = scheduler.done
    monkeypatch.setattr(scheduler, "done", lambda futures: counts.append(len(futures)) or done(futures))
    assert genex("build", course, "--out", "many", "--cluster", "tcp://there:8786").code == 0
    assert counts == [2, 2, 1]


def test_a_task_whose_worker_went_away_goes_to_another(genex, course, scheduler, monkeypatch):
    scheduler.unfit["two"] = Unfit("numpy 1.0 in place of 2.0")
    done = scheduler.done

    def it_goes(futures: list[bytes]) -> list[bytes]:
        if scheduler.names != ("one", "two"):
            return done(futures)
        scheduler.names, scheduler.unfit = ("three", "two"), {"two": scheduler.unfit["two"]}
        return []

    monkeypatch.setattr(scheduler, "done", it_goes)
    assert genex("build", course, "--out", "many", "--cluster", "tcp://there:8786").code == 0
    assert len(scheduler.withdrawn) == 2 and sorted(scheduler.made) == sorted(NAMES)
    assert set(map(tuple, scheduler.asked[2:])) == {("three",)}


def test_a_lesson_of_many_versions_is_several_tasks(genex, course, scheduler):
    snow = Path("snow.yaml")
    snow.write_text(snow.read_text() + "keys: [F, C, G]\ntempos: [90, 100]\n".replace("tempo:", ""))
    snow.write_text(snow.read_text().replace("tempo: 104\n", ""))
    assert genex("build", snow, "--out", "alone").code == 0
    scheduler.gone_after = 1
    assert genex("build", snow, "--out", "many", "--cluster", "tcp://there:8786").code == 1
    scheduler.gone_after = 99
    assert genex("build", snow, "--out", "many", "--cluster", "tcp://there:8786").code == 0
    assert scheduler.made == ["Snow", "Snow"] and files("many") == files("alone")


def test_an_output_folder_that_takes_no_file_is_told_before_anybody_works(genex, course, scheduler):
    Path("many").write_text("in the way")
    answer = genex("build", course, "--out", "many", "--cluster", "tcp://there:8786")
    assert answer.code == 2 and answer.err.startswith("many cannot be written") and not scheduler.asked


@pytest.mark.parametrize(
    "address", ["", "there", "10.0.0.5", "http://10.0.0.5:80", "tcp://10.0.0.5:99999", "tcp://:8786"]
)
def test_an_address_that_is_none(genex, course, address):
    answer = genex("build", course, "--cluster", address)
    assert answer.code == 2 and f"'{address}' is not a scheduler's address" in answer.err


def test_a_lesson_that_fails_stops_no_other_and_the_others_are_kept(genex, course, scheduler):
    Path("other.yaml").write_text(RECIPE.format(title="Fog", tempo=90))
    scheduler.trouble["Snow"] = [GenexError("its worker was ended")]
    words = ("build", course, "other.yaml", "--out", "many", "--cluster", "tcp://there:8786")
    answer = genex(*words)
    assert answer.code == 1 and "1 lesson could not be made:\n  Snow: its worker was ended" in answer.err
    assert sorted(scheduler.made) == ["Fog", "Hail", "Rain"]
    assert Path("many/fog/fog.mid").exists() and not Path("many/weather").exists()
    assert genex(*words).code == 0
    assert scheduler.made[3:] == ["Snow"]
    assert Path("many/weather/02-snow/snow.mid").exists() and not Path("many", MADE).exists()


def test_what_was_made_when_the_scheduler_went_is_kept_and_damage_is_seen(genex, course, scheduler):
    scheduler.gone_after = 2
    answer = genex("build", course, "--out", "many", "--cluster", "tcp://there:8786")
    assert answer.code == 1 and "the scheduler is gone" in answer.err
    assert not Path("many/weather").exists() and len(scheduler.made) == 2
    next(Path("many", MADE).rglob("snow.mid")).write_bytes(b"cut off")
    scheduler.gone_after = 99
    assert genex("build", course, "--out", "many", "--cluster", "tcp://there:8786").code == 0
    assert sorted(scheduler.made[2:]) == ["Rain", "Snow"]


def test_it_does_not_wait_for_ever_where_no_worker_is_left(genex, course, scheduler, monkeypatch):
    def nobody_left(futures: list[bytes]) -> list[bytes]:
        scheduler.names = ()
        return []

    monkeypatch.setattr(scheduler, "done", nobody_left)
    monkeypatch.setattr("genex.publishing.scheduler._ALONE_SECONDS", 0.05)
    answer = genex("build", course, "--out", "many", "--cluster", "tcp://there:8786")
    assert answer.code == 1 and "no worker is left" in answer.err


def test_what_is_missing_is_told(genex, course, scheduler, monkeypatch):
    scheduler.names = ()
    answer = genex("build", course, "--out", "many", "--cluster", "tcp://there:8786")
    assert answer.code == 1 and "has no workers" in answer.err
    monkeypatch.undo()
    monkeypatch.chdir(course.parent)
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError, match="'distributed', which is not installed"):
        Dask("tcp://there:8786")
    answer = genex("build", course, "--watch", "--cluster", "tcp://there:8786")
    assert answer.code == 2 and "--watch builds on this machine" in answer.err


class Recorded(Scheduler):
    """Keeps a task."""

    task: Task

    def submit(self, task: Task, workers: list[str] | None) -> Any:
        self.task = task
        return super().submit(task, workers)


def test_a_worker_says_why_it_is_not_fit(genex, course, monkeypatch, tmp_path):
    found = Recorded()
    monkeypatch.setattr(cluster, "Dask", lambda address: found)
    text = Path("rain.yaml").read_text().replace("[midi, tab]", "loop")
    Path("rain.yaml").write_text(text)
    found.trouble["Rain"] = [GenexError("not now")]
    assert genex("build", "rain.yaml", "--cluster", "tcp://there:8786").code == 1
    task = found.task
    older = make(replace(task, facts={**facts(), "genex": "0.0.1", "code of genex": "1"}))
    assert older == Unfit(f"genex {facts()['genex']} in place of 0.0.1")
    edited = make(replace(task, facts={**facts(), "code of genex": "1"}))
    assert edited == Unfit("genex of the same version with other code")
    assert greeting() == (platform.node(), facts()) and str(edited).endswith(f" (on {platform.node()})")
    assert unlike({}, {"numpy": "2"}) == "numpy (none) in place of 2"
    assert task.font is not None and task.font[0] is None
    assert make(replace(task, font=(tmp_path / "gone.sf2", "0"))) == Unfit(
        f"no soundfont at {tmp_path / 'gone.sf2'}"
    )
    Path("other.sf2").write_bytes(b"RIFF")
    assert make(replace(task, font=(tmp_path / "other.sf2", "0"))) == Unfit(
        f"another soundfont at {tmp_path / 'other.sf2'}"
    )


def test_a_disk_without_room_is_told_without_the_path(genex, course, monkeypatch):
    found = Recorded()
    monkeypatch.setattr(cluster, "Dask", lambda address: found)
    found.trouble["Rain"] = [GenexError("not now")]
    assert genex("build", "rain.yaml", "--cluster", "tcp://there:8786").code == 1

    def failing(error: OSError) -> Any:
        def write(self: Any, name: str, data: bytes) -> None:
            with writing(self.folder / name):
                raise error

        return write

    for number, said in ((errno.ENOSPC, "the disk is full"), (errno.EROFS, "that disk is read-only")):
        monkeypatch.setattr("genex.publishing.files.Stage.write", failing(OSError(number, "x")))
        assert make(found.task) == Unfit(said)


def test_jobs_are_so_many_processes(genex, course, monkeypatch):
    counts = []

    class Counted(cluster.Workshop):
        def __enter__(self) -> Any:
            entered = super().__enter__()
            counts.append(len(self._workers))
            return entered

    monkeypatch.setattr("genex.publishing.jobs.Workshop", Counted)
    for number in (1, 3):
        assert genex("build", course, "--rebuild", "--jobs", number).code == 0
    assert counts == [0, 3]
    assert genex("build", course, "--jobs", 0).code == 2


def test_a_lesson_of_several_exercises_is_as_on_one_machine(genex, course, scheduler):
    """One folder that several tasks fill: one an exercise, and one of all."""
    hail = Path("hail.yaml")
    exercises = "exercises:\n" + "".join(
        f"  - {{title: {name}, exercise: {{kind: arpeggio, position: {fret}}}}}\n"
        for name, fret in (("Low", 3), ("High", 8))
    )
    text = hail.read_text().replace("exercise: arpeggio\n", exercises).replace("[midi, tab]", "[tab]")
    hail.write_text(text)
    assert genex("build", hail, "--out", "alone").code == 0
    assert genex("build", hail, "--out", "many", "--cluster", "tcp://there:8786").code == 0
    assert len(scheduler.made) > 1 and files("many") == files("alone")
