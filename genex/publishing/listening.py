"""A lesson that is heard at once and goes round: its loop, made again when something of it is saved.

Nothing is written. What sounds is what ``genex build`` would write as the loop, bar for bar, and a
changed one goes on where the last one was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from genex.compose import Composer
from genex.errors import InputError
from genex.inputs import Inputs
from genex.publishing.maker import soundfont_path
from genex.publishing.sound_files import mastered
from genex.publishing.units import prepare_unit
from genex.publishing.up_to_date import Request
from genex.publishing.watching import Following, Seen
from genex.publishing.workshop import seldom_collecting
from genex.recipe import Recipe, Series, Version, other_version

if TYPE_CHECKING:
    from numpy.typing import NDArray

LONGEST_SECONDS = 900
"""So long a loop is held in memory: 350 MB at 48 kHz."""
_FADE_SECONDS = 0.02


@dataclass(frozen=True)
class Choice:
    """What of a recipe is to be heard: a key and a tempo that it need not name itself, and which of
    several exercises, counted from 1. What is not said is the first."""

    key: str | None = None
    tempo: float | None = None
    exercise: int | None = None

    def of(self, recipe: Recipe) -> tuple[Recipe, Version]:
        """The recipe itself or one of its exercises, and its version. Raises InputError."""
        count = len(recipe.exercises)
        if self.exercise is not None and self.exercise > max(1, count):
            raise InputError(
                f"there is no exercise {self.exercise} in {recipe.source.file}",
                hint=f"it has {count or 'only one'}",
            )
        if count:
            recipe = recipe.exercises[(self.exercise or 1) - 1]
        if self.tempo is not None and recipe.fields.tempo_steps is not None:
            raise InputError(
                "the recipe sets its tempo step by step, so no other one can be chosen",
                hint="leave --tempo away, or 'tempo_steps' in the recipe",
            )
        return recipe, other_version(recipe.key, recipe.versions[0], self.key, self.tempo)


@dataclass(frozen=True)
class Heard:
    """One pass of a lesson: ``samples`` of the shape (n_samples, 2), full scale at ±1."""

    title: str
    key: str
    tempo: float
    bars: int
    samples: NDArray[np.float32]
    rate_hz: int

    @property
    def seconds(self) -> float:
        """Length of a pass."""
        return len(self.samples) / self.rate_hz


class Listening(Following[Heard]):
    """Recipes whose loops are made again whenever they are saved."""

    def __init__(
        self, paths: Sequence[Path], soundfont: Path | None = None, choice: Choice | None = None
    ) -> None:
        super().__init__(paths, soundfont)
        self._choice = choice or Choice()

    def _make(self, path: Path, inputs: Inputs, seen: Seen, *, first: bool) -> Heard:
        fonts: set[Path] = set()
        try:
            with seldom_collecting():
                unit = prepare_unit(Request(path, Path(), self._soundfont), keeps=False, inputs=inputs)
            if isinstance(unit.source, Series):
                raise InputError(
                    f"{path} is a series of lessons", hint="play one of the recipes that it lists"
                )
            recipe, version = self._choice.of(unit.source)
            with inputs.active():
                piece = Composer(recipe).piece(version)  # its first version is at hand
            font = soundfont_path(recipe, self._soundfont)
            fonts.add(font)
        finally:
            self._remember(seen, path, inputs, fonts)
        score, wanted = piece.score, recipe.fields.audio
        seconds = score.tempo.sample_at(score.length_beats, wanted.rate) / wanted.rate
        if seconds > LONGEST_SECONDS:
            raise InputError(
                f"{path} is {seconds / 60:.0f} minutes long, too long to be played at once",
                hint=f"up to {LONGEST_SECONDS // 60} minutes are: give it fewer choruses, or build it",
            )
        sound = self._keeper.renderer(font, wanted.rate, None).loop(score, 1)
        sound, _ = mastered(recipe, sound, score, loop=True)
        samples = np.ascontiguousarray(sound.samples)
        bars, tempo = len(score.timeline.bars), float(version.tempo)
        return Heard(recipe.title, str(version.key), tempo, bars, samples, sound.rate_hz)


class Turning:
    """A sound that goes round, handed out in blocks; another one takes over where it is.

    ``fill`` may be called by another thread than ``exchange``: each reads or writes one field once.
    """

    def __init__(self, samples: NDArray[np.float32], rate_hz: int) -> None:
        self._now, self._next = samples, samples
        self._frame = 0
        self._fade_frames = int(_FADE_SECONDS * rate_hz)

    def exchange(self, samples: NDArray[np.float32]) -> None:
        """From the next block on, another sound: at the same share of its length."""
        self._next = samples

    def fill(self, out: NDArray[np.float32]) -> None:
        """Write the next frames, shape (frames, 2)."""
        following = self._next
        count = len(out)
        _read(self._now, self._frame, out)
        if following is not self._now:
            share = self._frame / len(self._now)
            frame = round(share * len(following)) % len(following)
            new = np.empty_like(out)
            _read(following, frame, new)
            fade = min(count, self._fade_frames)  # within one block, so that nothing is left of it
            ramp = np.linspace(0, 1, fade, dtype=np.float32)[:, np.newaxis]
            out[:fade] += (new[:fade] - out[:fade]) * ramp
            out[fade:] = new[fade:]
            self._now, self._frame = following, frame
        self._frame = (self._frame + count) % len(self._now)


def _read(samples: NDArray[np.float32], frame: int, out: NDArray[np.float32]) -> None:
    """Frames of a loop from one on."""
    done = 0
    while done < len(out):
        some = min(len(out) - done, len(samples) - frame)
        out[done : done + some] = samples[frame : frame + some]
        done, frame = done + some, 0
