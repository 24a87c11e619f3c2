"""What deriving notes, keeping them in memory and keeping them on disk each save, as a table.

Run: python -m tests.bench.bench_notes [--runs N]

For one lesson, twelve keys, nine tempos and a series: the processor time of a whole build (Python's
start and all workers included) under each way of coming by its notes, over that of the way which
genex goes. The ways are taken in turn, so that a busy machine slows all of them; each figure is the
median of the ratios of runs that followed each other. "next" finds on disk what the build before
it left, "first" finds nothing.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

CHART = "Gm7 | C7 | Fmaj7 | Bbmaj7 | Em7b5 | A7b9 | Dm7 | % |"
KEYS = "C Db D Eb E F Gb G Ab A Bb B".split()
FEELS = "swing bossa ballad samba".split()

WITHOUT_DISK = "from genex.publishing import maker; maker.user_cache_dir = lambda: None\n"
WITHOUT_MEMORY = "from genex.audio import notes; notes._KEPT_BYTES = 0\n"
WITHOUT_DERIVING = (
    "from genex.audio import notes\n"
    "from genex.audio.notes import NoteBank, Trait\n"
    "NoteBank.traits = lambda self, keys: dict.fromkeys(keys, Trait())\n"
    "notes._may_derive = lambda strike, trait: False\n"
    "NoteBank.forget = lambda self: None\n"  # what was played is kept for the scores that follow
)
WAYS = {  # what is changed in genex before it runs, and whether it finds an earlier build's notes
    "next": ("", True),
    "first": ("", False),
    "memory only": (WITHOUT_DISK, True),
    "nothing kept": (WITHOUT_DISK + WITHOUT_MEMORY, True),
    "nothing derived": (WITHOUT_DISK + WITHOUT_DERIVING, True),
}


def lesson(title: str, *, feel: str = "swing", more: str = "tempo: 120") -> str:
    lines = [f"title: {title}", "key: F major", f"feel: {feel}", "chords: |", *[f"  {CHART}"] * 4]
    lines += ["parts: drums bass comping guide exercise", "outputs: midi loop tab", more]
    return "\n".join(lines) + "\n"


def workloads(folder: Path) -> dict[str, Path]:
    """Recipes by name."""
    texts = {f"{feel}.yaml": lesson(f"Bench {feel}", feel=feel, more="") for feel in FEELS}
    texts["one lesson"] = lesson("Bench One")
    texts["12 keys"] = lesson("Bench Keys", more=f"keys: [{', '.join(f'{k} major' for k in KEYS)}]")
    texts["9 tempos"] = lesson("Bench Tempos", more="tempos: {start: 100, end: 180, step: 10}")
    texts["a series of 4"] = "title: Bench Series\nlessons: [" + ", ".join(list(texts)[:4]) + "]\n"
    paths = {}
    for name, text in texts.items():
        paths[name] = folder / (name if name.endswith(".yaml") else f"{name.replace(' ', '-')}.yaml")
        paths[name].write_text(text)
    return {name: path for name, path in paths.items() if name != path.name}


def processor_seconds(change: str, recipe: Path, folder: Path, cache: Path) -> float:
    """Of a build, user and system, its workers included."""
    out = folder / "out"
    code = f"{change}from genex.cli import main\nmain()\n"
    words = [sys.executable, "-c", code, "build", str(recipe), "--out", str(out), "--rebuild"]
    environment = {**os.environ, "XDG_CACHE_HOME": str(cache)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(words, env=environment, check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    shutil.rmtree(out)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=5)
    runs = parser.parse_args().runs
    print(f"{'processor time':<16}{'next':>10}" + "".join(f"{way:>17}" for way in list(WAYS)[1:]))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        kept, empty = folder / "kept", folder / "empty"
        for what, recipe in workloads(folder).items():
            processor_seconds("", recipe, folder, kept)
            found: dict[str, list[float]] = {way: [] for way in WAYS}
            for _ in range(runs):
                for way, (change, is_next) in WAYS.items():
                    shutil.rmtree(empty, ignore_errors=True)
                    cache = kept if is_next else empty
                    found[way].append(processor_seconds(change, recipe, folder, cache))
            row = f"{what:<16}{statistics.median(found['next']):8.2f} s"
            for way in list(WAYS)[1:]:
                ratios = [a / b for a, b in zip(found[way], found["next"], strict=True)]
                row += f"{statistics.median(ratios):15.2f} x"
            print(row, flush=True)


if __name__ == "__main__":
    main()
