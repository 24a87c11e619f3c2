"""Whole builds against the synthesizer's own command line, and where the limit lies, in one run.

Run: python -m tests.bench.bench_render [--quick] [--long]

Needs the fluidsynth program (Debian package fluidsynth), for the comparison only: it renders the
same MIDI files with the same soundfont at the same rate, two at a time where there are many. It writes
16 bits without a room, a limiter or a checksum.

Each figure is the median of several runs of a fresh process, Python's start included; ratios are the
medians of those of runs that followed each other, by the clock and by time on the processors (all
processes of a run). "first" runs with an empty note cache, "next" with the one that the first left.
Then what a version costs by stages, each also as a share of what fluidsynth takes for it; the *floor*
(``stages``); what starting costs; and from that what the ratio could be at the most. ``--long`` adds
longer pieces and memory, which is the resident memory of the largest process.
"""

from __future__ import annotations

import argparse
import os
import re
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

from genex.resources import default_soundfont
from tests.bench.stages import stages_of

CHART = "Gm7 | C7 | Fmaj7 | Bbmaj7 | Em7b5 | A7b9 | Dm7 | % |"
KEYS = "C Db D Eb E F F# G Ab A Bb B".split()
TEMPOS = (100, 120, 140)
STARTS = {  # words after python; in quotes no spaces
    "python": ["-c", "pass"],
    "import typer": ["-c", "import typer"],
    "import numpy": ["-c", "import numpy"],
    "import pydantic": ["-c", "import pydantic; pydantic.BaseModel"],
    "genex --help": ["-m", "genex", "--help"],
    "all that a build imports": ["-c", "from genex.publishing import jobs; import genex.cli"],
}


def recipe_text(title: str, bars: int, *, versions: bool = False) -> str:
    lines = [
        f"title: {title}",
        "key: F major",
        "feel: swing",
        "chords: |",
        *([f"  {CHART}"] * (bars // 8)),
        "parts: drums bass comping guide exercise",
        "outputs: midi loop tab",
    ]
    if not versions:
        lines.append(f"tempo: {TEMPOS[1]}")
    else:
        lines += [f"keys: [{', '.join(f'{key} major' for key in KEYS)}]", f"tempos: {list(TEMPOS)}"]
    return "\n".join(lines) + "\n"


class Taken(NamedTuple):
    """Seconds by the clock, and on the processors by all processes that ended meanwhile."""

    clock: float
    processors: float


class Compared(NamedTuple):
    """Medians of both sides, and how many times as fast one is as the other."""

    mine: Taken
    other: Taken
    ratio: Taken


def taken(action: Callable[[], object]) -> Taken:
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    action()
    clock, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return Taken(clock, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def medians(some: Sequence[Taken]) -> Taken:
    return Taken(*(statistics.median(values) for values in zip(*some, strict=True)))


class Bench:
    """A folder of recipes and outputs, and a cache of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.cache = folder / "cache"
        self.out = folder / "out"
        self.environment = {**os.environ, "XDG_CACHE_HOME": str(self.cache)}
        # As for a user: compiled once, not at every start.
        self.environment.pop("PYTHONDONTWRITEBYTECODE", None)

    def command(self, recipe: Path, *options: str) -> list[str]:
        return [sys.executable, "-m", "genex", "build", str(recipe), "--out", str(self.out), *options]

    def python(self, *words: str) -> None:
        command = [sys.executable, *words]
        subprocess.run(command, env=self.environment, check=True, stdout=subprocess.DEVNULL)

    def build(self, recipe: Path, *options: str) -> None:
        self.python(*self.command(recipe, *options)[1:])

    def build_anew(self, recipe: Path) -> None:
        shutil.rmtree(self.out, ignore_errors=True)
        self.build(recipe, "--rebuild")

    def peak_memory_mb(self, recipe: Path) -> float:
        """Resident memory of the largest process."""
        code = (
            "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, "
            "stdout=subprocess.DEVNULL); "
            "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)"
        )
        out = subprocess.run(
            [sys.executable, "-c", code, *self.command(recipe, "--rebuild")],
            env=self.environment, check=True, capture_output=True, text=True,
        )  # fmt: skip
        return float(out.stdout)

    def midi_files(self) -> list[Path]:
        return [path.rename(self.folder / path.name) for path in sorted(self.out.rglob("*.mid"))]

    def forget_notes(self) -> None:
        shutil.rmtree(self.cache, ignore_errors=True)

    def fluidsynth(self, midi: list[Path], at_once: int) -> None:
        def render(path: Path) -> None:
            wav = self.folder / f"{path.stem}.fluidsynth.wav"
            words = [
                "fluidsynth",
                "-ni",
                "-F",
                str(wav),
                "-r",
                "48000",
                str(default_soundfont()),
                str(path),
            ]
            subprocess.run(words, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            wav.unlink()

        with ThreadPoolExecutor(at_once) as pool:
            list(pool.map(render, midi))


def compare(
    name: str,
    ours: Callable[[], object],
    theirs: Callable[[], object],
    runs: int,
    before: Callable[[], object] = lambda: None,
) -> Compared:
    """Run both in turn, so that a busy machine slows both, and print medians."""
    pairs = []
    for _ in range(runs):
        before()
        pairs.append((taken(ours), taken(theirs)))
    ratios = [Taken(b.clock / a.clock, b.processors / a.processors) for a, b in pairs]
    found = Compared(medians([a for a, _ in pairs]), medians([b for _, b in pairs]), medians(ratios))
    figures = "".join(
        f"{mine:8.2f} s{other:8.2f} s{ratio:7.2f} x"
        for mine, other, ratio in zip(found.mine, found.other, found.ratio, strict=True)
    )
    print(f"{name:<32}{figures}", flush=True)
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="one run each")
    parser.add_argument("--long", action="store_true", help="longer pieces, and memory")
    options = parser.parse_args()
    runs = 1 if options.quick else 7
    with tempfile.TemporaryDirectory() as name:
        bench = Bench(Path(name))
        print(f"{'':<32}{'by the clock':>27}{'on the processors':>27}   load {os.getloadavg()[0]:.1f}")
        print(f"{'whole process':<32}" + f"{'genex':>10}{'fluidsynth':>10}{'faster':>9}" * 2)
        one = bench.folder / "one.yaml"
        one.write_text(recipe_text("Bench One", 32))
        bench.build_anew(one)
        midi = bench.midi_files()

        def once() -> None:
            bench.fluidsynth(midi, 1)

        what = "32 bars, five parts"
        compare(f"{what} (first)", lambda: bench.build_anew(one), once, runs, bench.forget_notes)
        single = compare(f"{what} (next)", lambda: bench.build_anew(one), once, runs)
        many = many_versions(bench, 1 if options.quick else 2)
        limits(bench, single, many, runs)
        if options.long:
            long_ones(bench)


def many_versions(bench: Bench, runs: int) -> Compared:
    """12 keys at 3 tempos in one build, two at a time on either side; then the same once more."""
    many = bench.folder / "many.yaml"
    many.write_text(recipe_text("Bench Many", 32, versions=True))
    bench.build_anew(many)
    midi = bench.midi_files()
    what = f"{len(midi)} versions"

    def all_of_them() -> None:
        bench.fluidsynth(midi, 2)

    compare(f"{what} (first)", lambda: bench.build_anew(many), all_of_them, 1, bench.forget_notes)
    found = compare(f"{what} (next)", lambda: bench.build_anew(many), all_of_them, runs)
    bench.build(many)
    unchanged = taken(lambda: bench.build(many))
    print(
        f"{what + ', nothing changed':<32}{unchanged.clock:8.2f} s{'':<19}{unchanged.processors:8.2f} s"
    )
    return found


def limits(bench: Bench, single: Compared, many: Compared, runs: int) -> None:
    """Print what a version costs by stages, the floor, starts, and what follows from them."""
    count = len(KEYS) * len(TEMPOS)
    theirs = many.other.processors / count
    os.environ["XDG_CACHE_HOME"] = str(bench.cache)
    stages, floor = stages_of(recipe_text("Bench Many", 32, versions=True))
    version, least = sum(stages.values()), sum(floor.values())

    def row(name: str, seconds: float) -> None:
        print(f"{name:<32}{1000 * seconds:8.1f} ms{seconds / theirs:8.3f}{seconds / least:8.2f}")

    print(f"\n{'one version, on one processor':<32}{'':>11}{'of fluidsynth, of the floor':>28}")
    for name, seconds in sorted(stages.items(), key=lambda stage: -stage[1]):
        row(name, seconds)
    row("together", version)
    for name, seconds in floor.items():
        row(f"floor: {name}", seconds)
    row("floor", least)
    row("fluidsynth", theirs)

    print(f"\n{'starts, on one processor':<32}{'':>11}{'of a next build':>16}")
    for name, words in STARTS.items():
        seconds = medians(
            [taken(lambda words=words: bench.python(*words)) for _ in range(runs)]
        ).processors
        print(f"{name:<32}{1000 * seconds:8.1f} ms{seconds / single.mine.processors:12.3f}")
    imports = seconds
    print("\nAt the most, on the processors, if only this were left:")
    for name, mine, other in (
        (f"{count} versions: the floor", count * least, many.other.processors),
        (f"{count} versions: imports, the floor", imports + count * least, many.other.processors),
        ("next build: imports, the floor", imports + least, single.other.processors),
    ):
        print(f"{name:<44}{other / mine:8.2f} x")


def long_ones(bench: Bench) -> None:
    """Longer pieces, and memory."""
    for bars in (64, 128, 256):
        path = bench.folder / f"bars{bars}.yaml"
        path.write_text(recipe_text(f"Bench {bars}", bars))
        bench.build_anew(path)
        long = bench.midi_files()
        compare(
            f"{bars} bars (next)",
            lambda path=path: bench.build_anew(path),
            lambda long=long: bench.fluidsynth(long, 1),
            3,
        )
    print(f"{'memory, one version':<32}{bench.peak_memory_mb(bench.folder / 'one.yaml'):8.0f} MB")
    for keys, tempos in ((5, 2), (10, 20)):
        path = bench.folder / f"memory{keys}.yaml"
        text = recipe_text(f"Memory {keys}", 16, versions=True).replace("midi loop tab", "loop")
        text = text.replace(str(list(TEMPOS)), str([100 + 2 * n for n in range(tempos)]))
        wanted = ", ".join(f"{key} major" for key in KEYS[:keys])
        path.write_text(re.sub("keys: .*", f"keys: [{wanted}]", text))
        print(f"{f'memory, {keys * tempos} versions':<32}{bench.peak_memory_mb(path):8.0f} MB")
        shutil.rmtree(bench.out)


if __name__ == "__main__":
    main()
