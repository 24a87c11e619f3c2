"""What composing, MIDI and tab of a lesson of 32 bars cost, beside a line composed anew; in one run.

python -m tests.bench.bench_compose

Processor time, the least of several runs, in milliseconds and as a share of the first. *new key* is a
version by a composer that has made none, *next tempo* one whose key it has had (drums and line of
another tempo), *next mix* the first one again with other levels, in a process that stays. *MIDI by
mido* is the same file written by mido from its own events.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from itertools import cycle

import mido

from genex.api import parse_recipe
from genex.compose import Composer, Memory
from genex.export.midi import midi_bytes
from genex.export.tab import tab_text
from genex.recipe import Recipe

CHART = "Gm7 | C7 | Fmaj7 | Bbmaj7 | Em7b5 | A7b9 | Dm7 | % |"
RUNS = 7


def recipe(exercise: str, bass_db: int = 0) -> Recipe:
    """The lesson at three tempos."""
    return parse_recipe(
        f"title: Bench\nkey: F\nfeel: swing\nchords: '{' '.join([CHART] * 4)}'\nexercise: {exercise}\n"
        "parts: drums bass comping guide exercise\ntempos: [100, 120, 140]\n"
        f"mix: {{bass: {{level: {bass_db}}}}}\n"
    )


def least_ms(action: Callable[[], object]) -> float:
    """Processor time of the quickest run."""
    action()
    times = []
    for _ in range(RUNS):
        start = time.process_time()
        action()
        times.append(time.process_time() - start)
    return 1000 * min(times)


def measure(exercise: str) -> dict[str, float]:
    """Milliseconds of each step."""
    lesson = recipe(exercise)
    composer, versions = Composer(lesson), cycle(lesson.versions)
    score = composer.piece(lesson.versions[0]).score
    memory, levels = Memory(), cycle(recipe(exercise, level) for level in range(RUNS + 1))

    def next_mix() -> object:
        with memory.active():
            return Composer(next(levels)).piece()

    file = mido.MidiFile(file=io.BytesIO(midi_bytes(score)), charset="utf-8")
    return {
        "new key": least_ms(lambda: Composer(lesson).piece()),
        "next tempo": least_ms(lambda: composer.piece(next(versions))),
        "next mix": least_ms(next_mix),
        "MIDI": least_ms(lambda: midi_bytes(score)),
        "MIDI by mido": least_ms(lambda: file.save(file=io.BytesIO())),
        "tab": least_ms(lambda: tab_text(score)),
    }


def main() -> None:
    """Print the table."""
    for exercise in ("arpeggio", "etude"):
        found = measure(exercise)
        for name, ms in found.items():
            print(f"{exercise:<10}{name:<14}{ms:>7.1f} ms{ms / found['new key']:>7.2f} x", flush=True)


if __name__ == "__main__":
    main()
