"""Whole builds against the synthesizer's own command line, as a table.

Run: python tests/bench/bench_render.py [--quick]

Needs the fluidsynth program (Debian package fluidsynth), for the comparison only: it renders the
same MIDI files with the same soundfont at the same rate, two at a time where there are many.
Each figure is the median of several runs of a fresh process, Python's start included. "first"
runs with an empty note cache, "next" with the one that the first left.
"""

from __future__ import annotations

import argparse
import os
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
        f"tempo: {TEMPOS[1]}",
        "feel: swing",
        "chords: |",
        *([f"  {CHART}"] * (bars // 8)),
        "parts: drums bass comping guide exercise",
        "outputs: midi loop tab",
    ]
    if versions:
        lines += [f"keys: [{', '.join(f'{key} major' for key in KEYS)}]", f"tempos: {list(TEMPOS)}"]
    return "\n".join(lines) + "\n"


def seconds(
    action: Callable[[], object], runs: int, before: Callable[[], object] | None = None
) -> float:
    """Median over some runs."""
    times = []
    for _ in range(runs):
        if before:
            before()
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


class Bench:
    """A folder of recipes and outputs, and a cache of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.cache = folder / "cache"
        self.environment = {**os.environ, "XDG_CACHE_HOME": str(self.cache)}

    def build(self, recipe: Path) -> None:
        out = self.folder / "out"
        shutil.rmtree(out, ignore_errors=True)
        command = [
            sys.executable,
            "-m",
            "genex.cli",
            "build",
            str(recipe),
            "--out",
            str(out),
            "--rebuild",
        ]
        subprocess.run(command, env=self.environment, check=True, stdout=subprocess.DEVNULL)

    def peak_memory_mb(self, recipe: Path) -> float:
        code = (
            "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, "
            "stdout=subprocess.DEVNULL); "
            "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)"
        )
        command = [
            sys.executable,
            "-m",
            "genex.cli",
            "build",
            str(recipe),
            "--out",
            str(self.folder / "out"),
            "--rebuild",
        ]
        out = subprocess.run(
            [sys.executable, "-c", code, *command],
            env=self.environment, check=True, capture_output=True, text=True,
        )  # fmt: skip
        return float(out.stdout)

    def midi_files(self) -> list[Path]:
        return sorted((self.folder / "out").rglob("*.mid"))

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


def row(name: str, ours: float, theirs: float | None = None) -> None:
    ratio = f"{theirs:10.2f} s {theirs / ours:8.2f} x" if theirs else ""
    print(f"{name:<44}{ours:8.2f} s{ratio}")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="one run each, without the 36 versions")
    quick = parser.parse_args().quick
    runs = 1 if quick else 5
    with tempfile.TemporaryDirectory() as name:
        bench = Bench(Path(name))
        print(f"{'whole process':<44}{'genex':>10}{'fluidsynth -F':>12}{'faster':>10}")
        one = bench.folder / "one.yaml"
        one.write_text(recipe_text("Bench One", 32))
        first = seconds(lambda: bench.build(one), runs, bench.forget_notes)
        later = seconds(lambda: bench.build(one), runs)
        midi = bench.midi_files()
        theirs = seconds(lambda: bench.fluidsynth(midi, 1), runs)
        row("32 bars, five parts: MIDI, WAV, tab (first)", first, theirs)
        row("32 bars, five parts: MIDI, WAV, tab (next)", later, theirs)
        print(f"{'peak memory of that build':<44}{bench.peak_memory_mb(one):8.0f} MB")
        for bars in (32, 64, 128, 256):
            path = bench.folder / f"bars{bars}.yaml"
            path.write_text(recipe_text(f"Bench {bars}", bars))
            bench.build(path)
            ours = seconds(lambda path=path: bench.build(path), runs)
            midi = bench.midi_files()
            row(f"{bars} bars (next)", ours, seconds(lambda midi=midi: bench.fluidsynth(midi, 1), 1))
        if not quick:
            many = bench.folder / "many.yaml"
            many.write_text(recipe_text("Bench Many", 32, versions=True))
            first = seconds(lambda: bench.build(many), 1, bench.forget_notes)
            later = seconds(lambda: bench.build(many), 3)
            midi = bench.midi_files()
            theirs = seconds(lambda: bench.fluidsynth(midi, 2), 1)
            row(f"{len(midi)} versions (first)", first, theirs)
            row(f"{len(midi)} versions (next)", later, theirs)


if __name__ == "__main__":
    main()
