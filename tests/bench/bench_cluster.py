"""A course of sixty lessons on a cluster of this machine, with everything going wrong that can.

    python -m tests.bench.bench_cluster [LESSONS]

A scheduler and three workers are started. While the course is made, one worker is killed and does not
come back, one is stopped as if its cable had been pulled, and a fourth comes, on whose disk no sound has
room. Then: every lesson is there; all files are byte for byte those of a build on one machine; a second
build makes nothing; after one more recipe changed, one lesson is made; without the scheduler a build
says so and touches nothing. Takes a minute or two. Needs the package ``distributed`` and root of a Linux
system, as a full disk is mounted.
"""

from __future__ import annotations

import hashlib
import json
import os
import shlex
import signal
import socket
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

CHARTS = ("Dm7 | G7 | Cmaj7 | A7 |", "Gm7 | C7 | Fmaj7 | D7b9 |", "Am7b5 | D7b9 | Gm7 | Gm7 |")
GENEX = [sys.executable, "-m", "genex", "build", "course.yaml"]
NO_ROOM_BYTES = 1_000_000


def course(folder: Path, count: int) -> None:
    """Recipes and the series that lists them."""
    names = []
    for number in range(count):
        name = f"lesson-{number + 1:02}.yaml"
        (folder / name).write_text(
            f"title: Lesson {number + 1}\nchords: '{CHARTS[number % 3]}'\ntempo: {90 + number}\n"
            f"exercise: arpeggio\noutputs: [midi, tab, loop]\nseed: {number}\n"
        )
        names.append(name)
    listed = "\n".join(f"  - {name}" for name in names)
    (folder / "course.yaml").write_text(f"title: Evening course\nlessons:\n{listed}\n")


def digests(folder: Path) -> dict[str, str]:
    """Of all files below a folder."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
        return port


class Machines:
    """A scheduler and workers, each a process of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.address = f"tcp://127.0.0.1:{free_port()}"
        self.environment = {
            **os.environ,
            "DASK_DISTRIBUTED__SCHEDULER__WORKER_TTL": "20s",  # of one that is cut off
        }
        words = ["--host", "127.0.0.1", "--port", self.address.rpartition(":")[2], "--no-dashboard"]
        self.scheduler = self._start([sys.executable, "-m", "distributed.cli.dask_scheduler", *words])
        self.workers: list[subprocess.Popen[bytes]] = []

    def _start(self, words: list[str], **how: Any) -> subprocess.Popen[bytes]:
        environment = self.environment | how.pop("environment", {})
        return subprocess.Popen(
            words, cwd=self.folder, env=environment, start_new_session=True,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, **how,
        )  # fmt: skip

    def worker(
        self,
        *more: str,
        before: str = "",
        nanny: bool = False,
        environment: dict[str, str] | None = None,
    ) -> subprocess.Popen[bytes]:
        """Start one. ``before`` is what a shell does first, in a view of the files of its own."""
        words = [sys.executable, "-m", "distributed.cli.dask_worker", self.address, "--no-dashboard"]
        words += ["--nthreads", "1", *([] if nanny else ["--no-nanny"]), *more]
        words += ["--local-directory", tempfile.mkdtemp(dir=self.folder)]
        if before:
            words = ["unshare", "--mount", "sh", "-c", f"{before} && exec {shlex.join(words)}"]
        self.workers.append(self._start(words, environment=environment or {}))
        return self.workers[-1]

    def without_room(self) -> None:
        """Start a worker on whose disk there is hardly any."""
        place = tempfile.mkdtemp(dir=self.folder)
        mounted = f"mount -t tmpfs -o size={NO_ROOM_BYTES} none {place}"
        self.worker(before=mounted, environment={"TMPDIR": place})

    def close(self) -> None:
        for process in (*self.workers, self.scheduler):
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)  # a nanny has a child
            process.wait()


def build(folder: Path, out: str, *words: str) -> tuple[float, int, list[dict[str, object]], str]:
    """Seconds, exit code, events, and what stands on the standard error."""
    begun = time.perf_counter()
    done = subprocess.run(
        [*GENEX, "--out", out, "--json", *words], cwd=folder, capture_output=True, text=True
    )
    events = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]
    return time.perf_counter() - begun, done.returncode, events, done.stderr


def with_trouble(folder: Path, machines: Machines, count: int) -> float:
    """Build while workers go and one comes. Seconds."""
    begun = time.perf_counter()
    words = [*GENEX, "--out", "many", "--json", "--cluster", machines.address]
    with subprocess.Popen(words, cwd=folder, stdout=subprocess.PIPE, text=True) as process:
        for line in process.stdout or ():
            event = json.loads(line)
            made = event.get("done") if event["event"] == "lesson" else None
            if made == count // 6:
                machines.workers[0].kill()
                print(f"  {made} made: a worker was killed", flush=True)
            elif made == count // 3:
                machines.workers[1].send_signal(signal.SIGSTOP)
                machines.without_room()
                print(f"  {made} made: a worker was cut off; one came that has no room", flush=True)
            elif event["event"] in ("failed", "finished"):
                print(f"  {event}", flush=True)
    print(f"  exit code {process.returncode}")
    return time.perf_counter() - begun


def main() -> None:
    """Print what came of it."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    folder = Path(tempfile.mkdtemp())
    course(folder, count)
    seconds, code, _, said = build(folder, "one")
    print(f"{count} lessons on one machine: {seconds:.1f} s, exit code {code} {said}", flush=True)
    machines = Machines(folder)
    try:
        for _ in range(3):
            machines.worker()
        time.sleep(6)
        print(f"on three workers, with trouble: {with_trouble(folder, machines, count):.1f} s")
        one, many = digests(folder / "one"), digests(folder / "many")
        other = sorted(name for name in one.keys() | many.keys() if one.get(name) != many.get(name))
        print(f"{len(one)} files, {len(other)} differ from those of one machine {other[:5]}")
        seconds, code, events, _ = build(folder, "many", "--cluster", machines.address)
        print(f"again: {seconds:.1f} s, {sum(e['event'] == 'lesson' for e in events)} lessons made")
        changed = folder / "lesson-07.yaml"
        changed.write_text(changed.read_text().replace("seed: 6", "seed: 60"))
        seconds, code, events, _ = build(folder, "many", "--cluster", machines.address)
        made = sum(event["event"] == "lesson" for event in events)
        print(f"one changed: {seconds:.1f} s, {made} made, code {code}")
    finally:
        machines.close()
    before = digests(folder / "many")
    changed.write_text(changed.read_text().replace("seed: 60", "seed: 61"))
    seconds, code, events, _ = build(folder, "many", "--cluster", machines.address)
    print(f"no scheduler: {seconds:.1f} s, code {code}, {events[-1].get('message')!r}")
    print(f"what was there is as it was: {digests(folder / 'many') == before}")


if __name__ == "__main__":
    main()
