"""What a build on a cluster answers to everything that is wrong: each tried for real on this machine.

    python -m tests.bench.bench_cluster_faults [CASE...]

Of each case are printed: the exit code, seconds, what stands on the standard error, and what lies in the
output folder. Needs the package ``distributed`` and root of a Linux system, as some workers see other
files than the build does (a mount of their own).
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import genex
from genex.resources import default_soundfont
from tests.bench.bench_cluster import Machines, course, digests, free_port

LESSONS = 4
NOBODY = 65534


def run(folder: Path, *words: str, before: tuple[str, ...] = (), **more: str) -> None:
    """Build, and print what came of it."""
    begun = time.perf_counter()
    done = subprocess.run(
        [*before, sys.executable, "-m", "genex", "build", *words],
        cwd=folder, capture_output=True, text=True, timeout=200, env={**os.environ, **more},
    )  # fmt: skip
    told(done.returncode, done.stderr, time.perf_counter() - begun)


def told(code: int, said: str, seconds: float) -> None:
    lines = [line for line in said.splitlines() if " made: " not in line]
    print(f"  exit code {code} after {seconds:.0f} s")
    print("".join(f"  | {line}\n" for line in lines), end="", flush=True)


def left(folder: Path, out: str = "out") -> None:
    """Print what lies in the output folder."""
    names = sorted(path.name for path in (folder / out).glob("*")) if (folder / out).is_dir() else []
    made = len(list((folder / out).glob(".made/*"))) if (folder / out).is_dir() else 0
    print(f"  in the folder: {', '.join(names) or 'nothing'}; kept for later: {made} lessons")


@contextmanager
def machines(folder: Path, count: int) -> Iterator[Machines]:
    found = Machines(folder)
    try:
        for _ in range(count):
            found.worker()
        time.sleep(5)
        yield found
    finally:
        found.close()


def addresses(folder: Path) -> None:
    """Addresses that are none, at which nobody answers, or somebody else does."""
    for address in (
        "",
        "there",
        "10.0.0.5",
        "http://10.0.0.5:80",
        "tcp://10.0.0.5:99999",
        "tcp://:8786",
    ):
        print(f"  '{address}':")
        run(folder, "course.yaml", "--cluster", address)
    for address in (f"tcp://127.0.0.1:{free_port()}", "tcp://no-such-machine.invalid:8786"):
        print("  nobody there:")
        run(folder, "course.yaml", "--cluster", address)
    with socket.create_server(("127.0.0.1", 0)) as server:
        stop = threading.Event()

        def answer() -> None:
            server.settimeout(0.2)
            while not stop.is_set():
                try:
                    one, _ = server.accept()
                except TimeoutError:
                    continue
                one.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n" + b" " * 400)
                one.close()

        thread = threading.Thread(target=answer)
        thread.start()
        print("  a server of another kind:")
        run(folder, "course.yaml", "--cluster", f"tcp://127.0.0.1:{server.getsockname()[1]}")
        stop.set()
        thread.join()
    left(folder)


def no_workers(folder: Path) -> None:
    """A scheduler that nobody works for."""
    with machines(folder, 0) as found:
        run(folder, "course.yaml", "--cluster", found.address)
    left(folder)


def no_permission(folder: Path) -> None:
    """Built by somebody who may not write to the output folder."""
    with machines(folder, 2) as found:
        (folder / "out").mkdir(mode=0o755)
        as_nobody = ("setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups")
        cache = tempfile.mkdtemp()
        os.chown(cache, NOBODY, NOBODY)
        run(
            folder, "course.yaml", "--out", "out", "--cluster", found.address,
            before=as_nobody, XDG_CACHE_HOME=cache,
        )  # fmt: skip
    left(folder)


def other_genex(folder: Path) -> None:
    """All workers have a genex that is not quite the same."""
    copy = folder / "other"
    shutil.copytree(Path(genex.__file__).parent, copy / "genex")
    with (copy / "genex" / "units.py").open("a") as file:
        file.write("# changed\n")
    with machines(folder, 0) as found:
        found.worker(environment={"PYTHONPATH": str(copy)})
        time.sleep(5)
        run(folder, "course.yaml", "--out", "out", "--cluster", found.address)
        print("  and one that has the same:")
        found.worker()
        time.sleep(5)
        run(folder, "course.yaml", "--out", "out", "--cluster", found.address)
    left(folder)


def no_genex(folder: Path) -> None:
    """A worker in an environment without genex, one with another Python and one with other libraries."""
    for what, code in (
        ("no genex", "import sys\nsys.modules['genex'] = None\n"),
        ("another Python", "import platform\nplatform.python_version_tuple = lambda: ('3', '9', '1')\n"),
        ("another distributed", "import distributed\ndistributed.__version__ = '2020.1.0'\n"),
        (
            "another numpy",
            "import importlib.metadata as m\nold = m.version\n"
            "m.version = lambda name: '1.0' if name == 'numpy' else old(name)\n",
        ),
    ):
        print(f"  {what}:")
        place = Path(tempfile.mkdtemp(dir=folder))
        (place / "sitecustomize.py").write_text(code)
        with machines(folder, 0) as found:
            found.worker(environment={"PYTHONPATH": str(place)})
            time.sleep(6)
            run(folder, "course.yaml", "--out", "out", "--cluster", found.address)
    left(folder)


def soundfont(folder: Path) -> None:
    """A soundfont of one's own that the workers do not have, or another of the same name."""
    fonts = folder / "fonts"
    fonts.mkdir()
    shutil.copyfile(default_soundfont(), fonts / "mine.sf2")
    for path in folder.glob("lesson-*.yaml"):
        path.write_text(path.read_text() + "audio: {soundfont: fonts/mine.sf2}\n")
    for what, more in (("not there", ""), ("another", f" && echo RIFF > {fonts}/mine.sf2")):
        print(f"  {what}:")
        with machines(folder, 0) as found:
            found.worker(before=f"mount -t tmpfs none {fonts}{more}")
            time.sleep(6)
            run(folder, "course.yaml", "--out", "out", "--cluster", found.address)
    left(folder)


def outside(folder: Path) -> None:
    """Recipes, a groove and a phrase that lie in other folders than the series, and no such recipe."""
    (folder / "elsewhere").mkdir()
    (folder / "here").mkdir()
    shutil.copyfile(
        Path(genex.__file__).parent / "band/grooves/bossa.yaml", folder / "elsewhere/mine.yaml"
    )
    (folder / "elsewhere/rain.yaml").write_text(
        "title: Rain\nchords: C | F |\nfeel: ./mine.yaml\noutputs: [midi, loop]\n"
    )
    (folder / "here/series.yaml").write_text("title: Here\nlessons: [../elsewhere/rain.yaml]\n")
    with machines(folder, 1) as found:
        run(folder / "here", "series.yaml", "--out", "out", "--cluster", found.address)
        run(folder / "here", "series.yaml", "--out", "alone")
        same = digests(folder / "here/out") == digests(folder / "here/alone")
        print(f"  as on one machine: {same}")
        (folder / "here/series.yaml").write_text("title: Here\nlessons: [../nowhere/rain.yaml]\n")
        run(folder / "here", "series.yaml", "--out", "out", "--cluster", found.address)


def in_the_middle(folder: Path, act: Callable[[Machines, subprocess.Popen[str]], None]) -> None:
    """Do something once the first lesson is made."""
    with machines(folder, 2) as found:
        words = [sys.executable, "-m", "genex", "build", "course.yaml", "--out", "out"]
        begun = time.perf_counter()
        with subprocess.Popen(
            [*words, "--cluster", found.address], cwd=folder, text=True,
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
        ) as process:  # fmt: skip
            said = ""
            for line in process.stderr or ():
                said += line
                if line.startswith("1 of"):
                    begun = time.perf_counter()
                    act(found, process)
        told(process.returncode, said, time.perf_counter() - begun)
        left(folder)
    with machines(folder, 2) as found:
        print("  again:")
        run(folder, "course.yaml", "--out", "out", "--cluster", found.address)
        left(folder)


def scheduler_gone(folder: Path) -> None:
    """The scheduler is killed after the first lesson."""
    in_the_middle(folder, lambda found, process: found.scheduler.kill())


def ctrl_c(folder: Path) -> None:
    """Ctrl-C after the first lesson."""
    in_the_middle(folder, lambda found, process: process.send_signal(signal.SIGINT))


def nanny(folder: Path) -> None:
    """The only worker has a nanny, and is killed after the first lesson."""
    found = Machines(folder)
    try:
        its = found.worker(nanny=True)
        time.sleep(8)

        def kill() -> None:
            children = Path(f"/proc/{its.pid}/task/{its.pid}/children").read_text().split()
            for child in children:
                if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes():
                    os.kill(int(child), signal.SIGKILL)
                    print(f"  killed the worker {child}")

        def in_time() -> None:
            wait_for_one(folder)
            kill()

        timer = threading.Thread(target=in_time)
        timer.start()
        run(folder, "course.yaml", "--out", "out", "--cluster", found.address)
        timer.join()
    finally:
        found.close()
    left(folder)


def wait_for_one(folder: Path) -> None:
    until = time.monotonic() + 100
    while time.monotonic() < until and not list((folder / "out").glob(".made/*/files.json")):
        time.sleep(0.05)


def full_disks(folder: Path) -> None:
    """No worker has room on its disk."""
    with machines(folder, 0) as found:
        found.without_room()
        time.sleep(6)
        run(folder, "course.yaml", "--out", "out", "--cluster", found.address)
    left(folder)


CASES = (
    addresses, no_workers, no_permission, other_genex, no_genex, soundfont, outside, full_disks,
    scheduler_gone, ctrl_c, nanny,
)  # fmt: skip


def main() -> None:
    """Print what came of each."""
    for case in CASES:
        if sys.argv[1:] and case.__name__ not in sys.argv[1:]:
            continue
        folder = Path(tempfile.mkdtemp())
        folder.chmod(0o755)
        course(folder, LESSONS)
        print(f"{case.__name__}: {case.__doc__}", flush=True)
        case(folder)
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
