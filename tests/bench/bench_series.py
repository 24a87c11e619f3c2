"""Many lessons: how time, memory and disk grow, and what a catalogue would take on several machines.

    python -m tests.bench.bench_series [LESSONS...]

First, series of 100, 200 and 400 lessons (or of as many as are named) of MIDI and tab are checked,
built, built again as they are, and with one lesson changed, by one process: seconds, and the most memory
that it held. What grows in proportion has the same cost a lesson in every line; what is flat, the same
memory. A second table has the same with sounds, so that the zip is large.

Then one version of a usual lesson is measured by its pieces, and from these the plan is computed: 500
lessons in 12 keys. The terms are those of DEVELOPERS.md; everything but the speed of the network is
measured in this run.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from genex.publishing.series_files import write_zip
from genex.publishing.stamps import sha256_of

LESSONS, KEYS = 500, 12
CORES = 4
NETWORK_BYTES_A_SECOND = 110e6
"""What a network of a gigabit a second brings in files [common practice]."""
FORMATS = ("wav24", "flac", "mp3")
USUAL = "Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | Cmaj7 |"


def run(folder: Path, *words: str) -> tuple[float, float, float]:
    """Seconds by the clock and on the processors, and megabytes at the most, of one command."""
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "genex", *words], cwd=folder, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL, env={**os.environ, "XDG_CACHE_HOME": str(folder / "cache")},
    )  # fmt: skip
    _, status, used = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(f"genex {' '.join(words)} ended with {status}")
    return time.perf_counter() - begun, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def series(folder: Path, count: int, outputs: str, more: str = "") -> Path:
    """Recipes of 32 bars with a band, each of its own, and the series that lists them. The first one's
    path."""
    names = []
    for number in range(count):
        name = f"lesson-{number + 1:03}.yaml"
        (folder / name).write_text(
            f"title: Lesson {number + 1}\nchords: '{' '.join([USUAL] * 4)}'\n"
            f"tempo: {100 + number % 40}\n"
            f"feel: swing\nexercise: arpeggio\noutputs: {outputs}\nseed: {number}\n{more}"
        )
        names.append(name)
    listed = "".join(f"  - {name}\n" for name in names)
    (folder / "catalogue.yaml").write_text(f"title: Catalogue\nlessons:\n{listed}")
    return folder / names[0]


def growth(counts: list[int], outputs: str, more: str = "") -> None:
    """Print the table of one kind of series."""
    print(f"{'lessons':>8}{'':<12}{'seconds':>8}{'processor':>10}{'ms a lesson':>12}{'MB':>6}")
    for count in counts:
        folder = Path(tempfile.mkdtemp())
        first = series(folder, count, outputs, more)
        build = ("build", "catalogue.yaml", "--jobs", "1", "--quiet")
        steps = [
            ("check", ("check", "catalogue.yaml", "--quiet")),
            ("first build", build),
            ("again", build),
        ]
        for name, words in [*steps, ("one changed", build)]:
            if name == "one changed":
                first.write_text(first.read_text().replace("seed: 0", "seed: 999"))
            clock, used, most = run(folder, *words)
            each = 1000 * used / count
            line = f"{count:>8} {name:<11}{clock:>8.1f}{used:>10.1f}{each:>12.1f}{most:>6.0f}"
            print(line, flush=True)
        files = [path for path in (folder / "lessons").rglob("*") if path.is_file()]
        size = sum(path.stat().st_size for path in files)
        archive = (folder / "lessons" / "catalogue.zip").stat().st_size
        print(f"{'':<9}{len(files)} files, {size / 1e6:.1f} MB, of which the zip {archive / 1e6:.1f}")
        shutil.rmtree(folder)


def pieces() -> dict[str, float]:
    """What one more version of a usual lesson costs: seconds of a processor, bytes by format."""
    found: dict[str, float] = {}
    folder = Path(tempfile.mkdtemp())
    recipe = folder / "usual.yaml"
    text = (
        f"title: Usual\nchords: '{' '.join([USUAL] * 4)}'\ntempo: 132\nfeel: swing\nexercise: arpeggio\n"
    )
    keys = "keys: [C, F, Bb, Eb, Ab, Db, Gb, B, E, A, D, G]\n"
    for name, outputs in (("text", "[midi, tab]"), ("sound", "[midi, tab, loop]")):
        for fmt in FORMATS if name == "sound" else ("",):
            audio = f"audio: {{format: {fmt}}}\n" if fmt else ""
            used = []
            for versions in ("", keys):
                recipe.write_text(text + versions + f"outputs: {outputs}\n" + audio)
                for out in ("warm", "out"):
                    shutil.rmtree(folder / out, ignore_errors=True)
                    seconds = run(folder, "build", recipe.name, "--out", out, "--jobs", "1", "--quiet")[
                        1
                    ]
                used.append(seconds)
            found[f"{name} {fmt}".strip()] = (used[1] - used[0]) / (KEYS - 1)
            size = sum(path.stat().st_size for path in (folder / "out").rglob("*") if path.is_file())
            found[f"bytes {fmt}".strip()] = size / KEYS
    checked = []
    for versions in ("", keys):
        recipe.write_text(text + versions + "outputs: [midi, tab]\n")
        run(folder, "check", recipe.name)
        checked.append(run(folder, "check", recipe.name)[1])
    found["check"] = (checked[1] - checked[0]) / (KEYS - 1)
    large = folder / "large.wav"
    large.write_bytes(os.urandom(1 << 20) * 200)
    begun = time.perf_counter()
    write_zip(folder / "all.zip", "all", ["large.wav"], lambda name: folder / name)
    sha256_of(folder / "all.zip")
    found["zip bytes a second"] = large.stat().st_size / (time.perf_counter() - begun)
    shutil.rmtree(folder)
    return found


def planned(cost: dict[str, float]) -> None:
    """Print the plan for 1, 4 and 16 machines."""
    versions = LESSONS * KEYS
    print(f"a version: MIDI and tab {1000 * cost['text']:.0f} ms of a processor")
    for fmt in FORMATS:
        ms, size = 1000 * cost[f"sound {fmt}"], cost[f"bytes {fmt}"] / 1e6
        print(f"  with a loop of a minute as {fmt}: {ms:.0f} ms and {size:.1f} MB")
    checking = versions * cost["check"] / CORES
    print(f"checking one: {1000 * cost['check']:.0f} ms; the zip: "
          f"{cost['zip bytes a second'] / 1e6:.0f} MB a second")  # fmt: skip
    print(
        f"{LESSONS} lessons in {KEYS} keys, {versions} versions, {CORES} processors a machine, minutes:"
    )
    machines = (1, 4, 16)
    heads = "".join(f"{f'{count} m.':>8}" for count in machines)
    print(f"{'format':>8}{'GB':>7}{heads}   of which checking, zip; bringing it home")
    for fmt in FORMATS:
        size = versions * cost[f"bytes {fmt}"]
        work = versions * cost[f"sound {fmt}"]
        home, zipped = size / NETWORK_BYTES_A_SECOND, size / cost["zip bytes a second"]
        times = [checking + zipped + work / CORES]
        times += [checking + zipped + max(work / (count * CORES), home) for count in machines[1:]]
        said = "".join(f"{seconds / 60:>8.1f}" for seconds in times)
        print(
            f"{fmt:>8}{size / 1e9:>7.1f}{said}   {checking / 60:.1f}, {zipped / 60:.1f}; {home / 60:.1f}"
        )


def main() -> None:
    """Print the tables."""
    counts = [int(word) for word in sys.argv[1:]] or [100, 200, 400]
    print(f"load {os.getloadavg()[0]:.1f}, {resource.getpagesize()} bytes a page")
    print("MIDI and tab:")
    growth(counts, "[midi, tab]")
    print("with a loop:")
    growth([count // 5 for count in counts[:2]], "[midi, loop]")
    planned(pieces())


if __name__ == "__main__":
    main()
