"""How long a 1,000-note line takes to finger, cold and warm, in milliseconds.

Run: python tests/bench/bench_fingering.py
"""

from __future__ import annotations

import random
import time

import numpy  # noqa: F401  (its import is not part of the measurement)

from genex.fretboard import Hand, Wishes, finger_line, tuning
from genex.fretboard.hand import _states_of


def random_line(length: int, lowest: int, highest: int, seed: str) -> list[int]:
    """A line that wanders by up to a fifth."""
    generator = random.Random(seed)
    line = [(lowest + highest) // 2]
    while len(line) < length:
        line.append(min(highest, max(lowest, line[-1] + generator.randint(-7, 7))))
    return line


def main() -> None:
    for name in ("standard", "seven-string", "four-string bass"):
        neck = tuning(name)
        line = random_line(1000, neck.lowest_midi + 1, neck.highest_midi, "bench")
        times = []
        _states_of.cache_clear()
        for _ in range(6):
            start = time.perf_counter()
            finger_line(line, neck, Wishes(hand=Hand.MEDIUM))
            times.append(1000 * (time.perf_counter() - start))
        print(f"{name:18} cold {times[0]:6.1f} ms   warm {min(times[1:]):6.1f} ms")


if __name__ == "__main__":
    main()
