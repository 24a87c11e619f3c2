"""A chord-type book: how long its data and its pages take, on this machine and as processor time.

    python -m tests.bench.bench_book [TYPES [PROCESSES]]

Twelve roots of each type; twelve types and one process a processor, if nothing is said.
"""

from __future__ import annotations

import os
import sys
import time

from genex.export.handout.chord_book import book_data
from genex.export.handout.settings import STANDARD_BOOK
from genex.export.handout.typeset import pdf
from genex.publishing.workshop import seldom_collecting
from genex.theory import parse_chord

ROOTS = "C Db D Eb E F F# G Ab A Bb B".split()
TYPES = ("", "m", "7", "maj7", "m7", "m7b5", "dim7", "6", "m6", "9", "sus4", "mMaj7")


def _spent() -> tuple[float, float]:
    """Seconds on the clock, and of all processes."""
    times = os.times()
    of_all = times.user + times.system + times.children_user + times.children_system
    return time.perf_counter(), of_all


@seldom_collecting()
def main(types: int, processes: int) -> None:
    chords = [parse_chord(root + kind) for kind in TYPES[:types] for root in ROOTS]
    begin = _spent()
    data = book_data(chords, STANDARD_BOOK, processes=processes)
    drawn = _spent()
    size = len(pdf("book", data))
    end = _spent()
    for name, first, last in (("data", begin, drawn), ("pages", drawn, end), ("book", begin, end)):
        clock, processor = (b - a for a, b in zip(first, last, strict=True))
        print(f"{name:6} {clock:6.1f} s on the clock, {processor:6.1f} s of processor")
    print(f"{len(chords)} chords, {size / 1e6:.1f} MB, {processes} processes")


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:]]
    main(*given, *(len(TYPES), len(os.sched_getaffinity(0)))[len(given) :])
