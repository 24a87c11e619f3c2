"""Whole builds against the synthesizer's own command line, as a table.

Run: python tests/bench/bench_render.py [--quick]

Needs the fluidsynth program (Debian package fluidsynth), for the comparison only: it renders the
same MIDI files with the same soundfont at the same rate, two at a time where there are many.
Each figure is the median of several runs of a fresh process, Python's start included; the last
column is the median of the ratios of runs that followed each other. "first" runs with an empty
note cache, "next" with the one that the first left. Memory is the resident memory of the largest
process, which counts the notes that processes share in the cache's files.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from genex.resources import default_soundfont

CHART = "Gm7 | C7 | Fmaj7 | Bbmaj7 | Em7b5 | A7b9 | Dm7 | % |"
KEYS = "C Db D Eb E F F# G Ab A Bb B".split()
TEMPOS = (100, 120, 140)


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


def seconds(action: Callable[[], object]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


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
        words = [sys.executable, "-m", "genex.cli", "build", str(recipe), "--out", str(self.out)]
        return [*words, *options]

    def build(self, recipe: Path, *options: str) -> None:
        command = self.command(recipe, *options)
        subprocess.run(command, env=self.environment, check=True, stdout=subprocess.DEVNULL)

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
        return sorted(self.out.rglob("*.mid"))

    def forget_notes(self) -> None:
        shutil.rmtree(self.cache, ignore_errors=True)

    def fluidsynth(self, midi: list[Path], at_once: int) -> None:
        def render(path: Path) -> None:
            wav = self.folder / f"{path.stem}.fluidsynth.wav"
            command = [
                "fluidsynth",
                "-ni",
                "-F",
                str(wav),
                "-r",
                "48000",
                str(default_soundfont()),
                str(path),
            ]
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            wav.unlink()

        with ThreadPoolExecutor(at_once) as pool:
            list(pool.map(render, midi))


def compare(
    name: str,
    ours: Callable[[], object],
    theirs: Callable[[], object],
    runs: int,
    before: Callable[[], object] = lambda: None,
) -> None:
    """Run both in turn, so that a busy machine slows both, and print medians."""
    pairs = []
    for _ in range(runs):
        before()
        pairs.append((seconds(ours), seconds(theirs)))
    mine, other, ratio = (
        statistics.median(values)
        for values in ([a for a, _ in pairs], [b for _, b in pairs], [b / a for a, b in pairs])
    )
    print(f"{name:<44}{mine:8.2f} s{other:10.2f} s{ratio:8.2f} x", flush=True)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="one run each, without the many versions")
    quick = parser.parse_args().quick
    runs = 1 if quick else 7
    with tempfile.TemporaryDirectory() as name:
        bench = Bench(Path(name))
        print(f"{'whole process':<44}{'genex':>10}{'fluidsynth':>12}{'faster':>10}")
        one = bench.folder / "one.yaml"
        one.write_text(recipe_text("Bench One", 32))
        bench.build_anew(one)
        midi = bench.midi_files()[0].rename(bench.folder / "one.mid")

        def once() -> None:
            bench.fluidsynth([midi], 1)

        what = "32 bars, five parts: MIDI, WAV, tab"
        compare(f"{what} (first)", lambda: bench.build_anew(one), once, runs, bench.forget_notes)
        compare(f"{what} (next)", lambda: bench.build_anew(one), once, runs)
        for bars in (64, 128, 256):
            path = bench.folder / f"bars{bars}.yaml"
            path.write_text(recipe_text(f"Bench {bars}", bars))
            bench.build_anew(path)
            long = bench.midi_files()[0].rename(bench.folder / f"{bars}.mid")
            compare(
                f"{bars} bars (next)",
                lambda path=path: bench.build_anew(path),
                lambda long=long: bench.fluidsynth([long], 1),
                min(runs, 3),
            )
        print(f"{'memory, one version':<44}{bench.peak_memory_mb(one):8.0f} MB")
        if not quick:
            many_versions(bench)


def many_versions(bench: Bench) -> None:
    """12 keys at 3 tempos in one build, two at a time on either side; then the same once more."""
    many = bench.folder / "many.yaml"
    many.write_text(recipe_text("Bench Many", 32, versions=True))
    bench.build_anew(many)
    midi = [path.rename(bench.folder / path.name) for path in bench.midi_files()]
    what = f"{len(midi)} versions"

    def all_of_them() -> None:
        bench.fluidsynth(midi, 2)

    compare(f"{what} (first)", lambda: bench.build_anew(many), all_of_them, 1, bench.forget_notes)
    compare(f"{what} (next)", lambda: bench.build_anew(many), all_of_them, 3)
    bench.build(many)
    print(f"{what + ', nothing changed':<44}{seconds(lambda: bench.build(many)):8.2f} s")
    for keys, tempos in ((5, 2), (10, 20)):
        path = bench.folder / f"memory{keys}.yaml"
        text = recipe_text(f"Memory {keys}", 16, versions=True).replace("midi loop tab", "loop")
        text = text.replace(str(list(TEMPOS)), str([100 + 2 * n for n in range(tempos)]))
        wanted = ", ".join(f"{key} major" for key in KEYS[:keys])
        path.write_text(re.sub("keys: .*", f"keys: [{wanted}]", text))
        print(f"{f'memory, {keys * tempos} versions':<44}{bench.peak_memory_mb(path):8.0f} MB")
        shutil.rmtree(bench.out)


if __name__ == "__main__":
    main()
