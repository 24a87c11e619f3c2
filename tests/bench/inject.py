"""Publishing under strace: ``python -m tests.bench.inject [CALL...]``. Each system call fails once.

A folder with earlier files, one of them edited, and its zip are published anew; in each run another
call of the system answers EIO. What is there afterwards must be old or new, before and after the next
build clears up. The same is done in ``tests/publishing/test_staging.py`` to the calls of Python.
"""

from __future__ import annotations

import collections
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from genex.publishing.staging import clear_leftovers
from tests.publishing.test_staging import prepared, state

CALLS = (
    "openat mkdir rename renameat2 link unlink unlinkat rmdir fsync chmod flock write read getdents64 "
    "newfstatat close lseek ioctl fcntl"
).split()
BEGIN = "publishing-begins"
PUBLISH = f"""
import os, sys
from pathlib import Path
from genex.errors import GenexError
from tests.publishing.test_staging import FRESH, publish
try:
    os.readlink("{BEGIN}")
except OSError:
    pass
try:
    publish(Path(sys.argv[1]), FRESH, archive=b"zip new")
except GenexError as error:
    print(error)
    os._exit(3)
os._exit(0)
"""


def publish(folder: Path, *options: str) -> subprocess.CompletedProcess[str]:
    """Publish in a process under strace."""
    command = ["strace", "-f", *options, sys.executable, "-c", PUBLISH, str(folder)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def counts(folder: Path, log: Path) -> dict[str, tuple[int, int]]:
    """How often each call is made before publishing, and to its end."""
    calls = sys.argv[1:] or CALLS
    publish(folder, "-o", str(log), "-e", f"trace={','.join(calls)},readlink")
    before, after = log.read_text().split(BEGIN)
    both = [collections.Counter(re.findall(r"^\d+ +(\w+)\(", text, re.M)) for text in (before, after)]
    return {call: (both[0][call], both[0][call] + both[1][call]) for call in calls}


def main() -> None:
    """Print how many calls failed and what came of it. Raises AssertionError for what lies between."""
    results: collections.Counter[str] = collections.Counter()
    with tempfile.TemporaryDirectory() as base:
        folder = Path(base) / "out" / "rain"
        prepared(folder)
        for call, (first, last) in counts(folder, Path(base) / "log").items():
            for number in range(first + 1, last + 1):
                shutil.rmtree(folder.parent)
                prepared(folder)
                inject = f"inject={call}:error=EIO:when={number}"
                done = publish(folder, "-o", "/dev/null", "-e", f"trace={call}", "-e", inject)
                assert done.returncode in (0, 3), (call, number, done.stderr)
                found = state(folder)
                assert (found == "old") <= (done.returncode == 3), (call, number, done.stdout)
                clear_leftovers(folder.parent)
                assert state(folder) == found, (call, number)
                left = {path.name for path in folder.parent.iterdir()}
                assert left == {"rain", "rain.zip"}, (call, number, left)
                results[f"{found}, {'told' if done.returncode else 'not noticed'}"] += 1
            print(f"{call:<12} {last - first:3} points", flush=True)
    print(f"{sum(results.values())} points: {dict(results)}")


if __name__ == "__main__":
    main()
