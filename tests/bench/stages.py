"""What a version of a lesson costs, stage by stage, and what no program could do without.

Processor time in a process that is warm: synthesizer and notes are there, other keys have been made.
The *floor* is what the same bytes cost that do nothing but what every way has to do: write the file,
sum it, add one sound to another.
"""

from __future__ import annotations

import hashlib
import statistics
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

from genex import audio
from genex.api import parse_recipe
from genex.audio import mastering, mix, render
from genex.audio.one_thread import one_thread
from genex.compose import Composer
from genex.publishing import version_files
from genex.publishing.files import Stage
from genex.publishing.maker import Maker, Order, prepare
from genex.publishing.workshop import in_turn, seldom_collecting

_WHERE: tuple[tuple[Any, tuple[str, ...], str], ...] = (
    (Composer, ("piece",), "compose"),
    (version_files, ("midi_bytes",), "MIDI"),
    (version_files, ("tab_text",), "tab"),
    (render.Renderer, ("_tracks",), "notes"),
    (render, ("mix_down",), "add up"),
    (mix.Room, ("__init__", "hear", "ring_out"), "room"),
    (mix, ("cut_lows",), "below 20 Hz"),
    (mastering, ("cut_lows",), "below 20 Hz"),
    (version_files, ("mastered",), "master"),
    (mastering.LoudnessMeter, ("__init__", "refresh", "measure_again"), "loudness"),
    (audio, ("write_audio",), "write, sum"),
    (Maker, ("fulfil",), "all else"),
)


class Stages:
    """Time on the processor of each stage, without that of the stages within it."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = defaultdict(float)
        self._inner: list[float] = []

    def timed(self, function: Callable[..., Any], stage: str) -> Callable[..., Any]:
        """The function, its time noted."""

        def measured(*args: Any, **named: Any) -> Any:
            self._inner.append(0.0)
            start = time.process_time()
            try:
                return function(*args, **named)
            finally:
                taken = time.process_time() - start
                self.seconds[stage] += taken - self._inner.pop()
                if self._inner:
                    self._inner[-1] += taken

        return measured

    @contextmanager
    def measuring(self) -> Iterator[None]:
        """Within it every stage is timed."""
        patches = [
            mock.patch.object(owner, name, self.timed(getattr(owner, name), stage))
            for owner, names, stage in _WHERE
            for name in names
        ]
        for patch in patches:
            patch.start()
        try:
            yield
        finally:
            for patch in patches:
                patch.stop()


def stages_of(recipe_text: str) -> tuple[dict[str, float], dict[str, float]]:
    """Seconds of each stage of a version, the mean of a share of them, and of each part of the floor."""
    recipe = parse_recipe(recipe_text)
    numbers = in_turn(recipe, 2)[: len(recipe.versions) // 2]
    stages = Stages()
    with tempfile.TemporaryDirectory() as folder, seldom_collecting(), stages.measuring():
        maker = Maker([prepare(recipe)], None, lambda text: None)
        stages.seconds.clear()
        size = 0
        for number in numbers:
            for file in maker.fulfil(Order(0, number, Stage(Path(folder), Path(folder)))):
                size = max(size, file.size_bytes)
        maker.close()
        floor = _floor(Path(folder) / "floor", size)
    return {name: sum_ / len(numbers) for name, sum_ in stages.seconds.items()}, floor


@one_thread()
def _floor(path: Path, size: int) -> dict[str, float]:
    """For a file of so many bytes of 24-bit stereo."""
    data = np.random.default_rng(1).bytes(size)
    sound = np.ones((2, size // 6), np.float32)
    other = sound.copy()

    def write() -> None:
        with path.open("wb", buffering=0) as file:
            file.write(data)

    def add() -> None:
        np.add(sound, other, out=sound)

    return {
        "write": _median(write),
        "sum": _median(lambda: hashlib.sha256(data).digest()),
        "one pass": _median(add),
    }


def _median(action: Callable[[], object]) -> float:
    times = []
    for _ in range(7):
        start = time.process_time()
        action()
        times.append(time.process_time() - start)
    return statistics.median(times)
