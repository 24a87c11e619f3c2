"""A rendered sound and the block clock of the synthesizer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from genex.audio.tape import blank, let_go, stretches

Samples = NDArray[np.float32]
"""Sound, full scale at ±1. *Planes* have the shape (2, n_samples): left and right, or (1, n_samples)."""

Doubles = NDArray[np.float64]
Indices = NDArray[np.intp]

BLOCK_SAMPLES = 64
"""libfluidsynth starts, releases and bends notes on blocks of this many samples (FLUID_BUFSIZE)."""

DEFAULT_RATE_HZ = 48_000

SILENCE = 5e-6
"""-106 dBFS: a note ends where it stays below."""

_SCAN_FRAMES = 4096


def audible_frames(planes: Samples, silence: float) -> int:
    """Frames up to the last one at which a plane is louder than ``silence``."""
    end: int = planes.shape[1]
    while end:
        start = max(0, end - _SCAN_FRAMES)
        piece = planes[:, start:end]
        if piece.max() > silence or piece.min() < -silence:
            loud = np.flatnonzero(np.maximum(piece.max(axis=0), -piece.min(axis=0)) > silence)
            return start + int(loud[-1]) + 1
        end = start
    return 0


def _without_gaps(planes: Samples) -> Samples:
    """The channels as they are if the samples of each lie side by side, else a copy."""
    return planes if planes.strides[-1] == planes.itemsize else np.ascontiguousarray(planes)


@dataclass(frozen=True)
class Sound:
    """Stereo audio: ``samples`` has the shape (n_samples, 2)."""

    samples: Samples
    rate_hz: int

    @classmethod
    def of_planes(cls, planes: Samples, rate_hz: int) -> Sound:
        """A sound from its two channels, shape (2, n_samples), copied only if they must be."""
        return cls(_without_gaps(planes).T, rate_hz)

    @property
    def planes(self) -> Samples:
        """The channels, shape (2, n_samples), each without gaps in memory.

        Sounds made in this package are kept that way, so this copies nothing.
        """
        return _without_gaps(self.samples.T)

    def repeated(self, passes: int) -> Sound:
        """The sound so many times, one after the other."""
        if passes == 1:
            return self
        planes, length = blank(passes * len(self.samples)), len(self.samples)
        for start in range(0, passes * length, length or 1):
            for first, end in stretches(self.planes):
                planes[:, start + first : start + end] = self.planes[:, first:end]
                let_go(planes)
        return Sound.of_planes(planes, self.rate_hz)

    def widen(self, width: float) -> None:
        """Take so many times the difference of left and right, where they lie; 0 is mono."""
        if width == 1:
            return
        planes = self.planes
        for first, end in stretches(planes):
            left, right = planes[:, first:end]
            middle, side = (left + right) / 2, (left - right) * np.float32(width / 2)
            planes[:, first:end] = middle + side, middle - side

    def scale(self, factor: np.float32) -> None:
        """Multiply all samples, where they lie."""
        planes = self.planes
        for first, end in stretches(planes):
            planes[:, first:end] *= factor

    @property
    def length_samples(self) -> int:
        return len(self.samples)

    @property
    def length_seconds(self) -> float:
        return len(self.samples) / self.rate_hz


def in_turn(sounds: Sequence[Sound], pause_samples: int) -> tuple[Sound, tuple[int, ...]]:
    """Sounds of one rate one after the other, a pause before each, and the samples they start at.

    Raises TapeError.
    """
    planes = blank(sum(pause_samples + sound.length_samples for sound in sounds))
    starts, at = [], 0
    for sound in sounds:
        at += pause_samples
        starts.append(at)
        for first, end in stretches(sound.planes):
            planes[:, at + first : at + end] = sound.planes[:, first:end]
            let_go(planes)
        at += sound.length_samples
    return Sound.of_planes(planes, sounds[0].rate_hz), tuple(starts)
