"""How long ``genex --help`` takes beside importing typer alone, whole processes, medians in one run.

python -m tests.bench.bench_startup
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

RUNS = 15
COMMANDS = {
    "genex --help": ["-m", "genex.cli", "--help"],
    "import typer": ["-c", "import typer"],
}


def seconds(words: list[str]) -> float:
    """Wall time of one run of the interpreter."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *words], check=True, capture_output=True)
    return time.perf_counter() - start


def main() -> None:
    """Print the table."""
    found: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for _ in range(RUNS + 1):
        for name, words in COMMANDS.items():
            found[name].append(seconds(words))
    medians = {name: statistics.median(times[1:]) for name, times in found.items()}
    for name, median in medians.items():
        print(f"{name:<14} {median:.3f} s")
    print(f"{'ratio':<14} {medians['genex --help'] / medians['import typer']:.2f}")


if __name__ == "__main__":
    main()
