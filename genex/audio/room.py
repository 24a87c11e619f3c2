"""One room for all parts: a short, warm reverberation on a send bus.

The impulse response is made, not recorded: a few early reflections and two bands of noise that
die away exponentially, the high band faster, as in a furnished room (reverberation time after
Sabine: the time in which the level falls by 60 dB). It is fixed by a seed and by constants, so
every build has the same room.

A reverberation of this kind has nothing above 5 kHz. It is computed at a quarter of the sample
rate by overlap-add convolution; the change of rate both ways is a few matrix products, far cheaper
than a transform at the full rate.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from genex.audio.sound import Samples

STRIDE = 4
_PREDELAY_SECONDS = 0.012  # longer than both low-passes ring before a sound
_DECAY_SECONDS = {"low": 0.85, "high": 0.45}  # fall by 60 dB
_CROSSOVER_HZ = 1_800
_LOW_CUT_HZ = 180
_LENGTH_SECONDS = 0.75
_EARLY = (  # delay after the predelay in seconds, level, pan -1..1
    (0.0000, 0.80, -0.3),
    (0.0037, 0.72, 0.5),
    (0.0081, 0.63, -0.7),
    (0.0127, 0.55, 0.8),
    (0.0193, 0.46, 0.1),
    (0.0271, 0.38, -0.5),
)
_EARLY_ENERGY = 0.25  # of the whole
_SEED = 1905
_TAPS_A_PHASE = 32
_LEAD = _TAPS_A_PHASE
_TRANSFORM = 1 << 16
_SAMPLES_A_ROW = 16  # of the quarter rate, in a matrix product; no fewer than the low-pass reaches
_ROW = STRIDE * _SAMPLES_A_ROW
_ROWS_A_PIECE = 256


class Room:
    """The room for a sound of so many frames: fill ``send``, shape (frames), then ``add_to``.

    A full-band noise at the send comes back with about the energy that it has below 5 kHz.
    """

    def __init__(self, rate_hz: int, frames: int) -> None:
        self._rate_hz, self._frames = rate_hz, frames
        # The low-pass looks both ways. What it yields before the start and after the end is kept:
        # in a loop it belongs to what sounds across the seam.
        lead = _LEAD * STRIDE
        rows = -(-(frames + 2 * lead) // _ROW)
        self._led = np.zeros(rows * _ROW, np.float32)
        self.send: Samples = self._led[lead : lead + frames]

    def add_to(self, planes: Samples, *, wrap: bool) -> None:
        """Add the room's answer to left and right, shape (2, frames or more).

        What does not fit comes round at the other end with ``wrap``, else it is cut off.
        """
        wet = _convolved(
            _decimated(self._led.reshape(-1, _ROW)), _impulse_response(self._rate_hz // STRIDE)
        )
        length = self._frames + tail_samples(self._rate_hz)
        frames = planes.shape[1]
        for side in (0, 1):
            at = 0
            for heard in _interpolated(wet[side], length if wrap else min(length, frames)):
                taken = 0
                while taken < len(heard):
                    start = at % frames
                    part = heard[taken : taken + frames - start]
                    planes[side, start : start + len(part)] += part
                    taken += len(part)
                    at += len(part)


def tail_samples(rate_hz: int) -> int:
    """How long the room sounds on after the last sample of the send."""
    return STRIDE * (len(_impulse_response(rate_hz // STRIDE)[0]) + 2 * _TAPS_A_PHASE)


@lru_cache(maxsize=4)
def _impulse_response(rate_hz: int) -> Samples:
    """Left and right impulse response, shape (2, frames)."""
    frames = int(_LENGTH_SECONDS * rate_hz)
    # The legacy generator: its stream is promised never to change.
    noise = np.random.RandomState(_SEED).standard_normal((2, frames))
    seconds = np.arange(frames) / rate_hz
    hertz = np.fft.rfftfreq(2 * frames, 1 / rate_hz)
    spectrum = np.fft.rfft(noise, 2 * frames)
    high = 1 / (1 + (_CROSSOVER_HZ / np.maximum(hertz, 1e-9)) ** 4)
    diffuse = sum(
        np.fft.irfft(spectrum * weight)[:, :frames] * np.exp(-6.9078 * seconds / _DECAY_SECONDS[band])
        for band, weight in (("low", 1 - high), ("high", high))
    )
    start = int(_PREDELAY_SECONDS * rate_hz)
    build_up = 1 - np.exp(-seconds / 0.008)
    late = np.zeros((2, frames))
    late[:, start:] = (diffuse * build_up)[:, : frames - start]
    late *= np.hanning(2 * frames)[frames:] ** 0.25  # reaches zero at the end without a step
    early = np.zeros((2, frames))
    for delay, level, pan in _EARLY:
        at = start + int(delay * rate_hz)
        early[:, at] += level * np.sqrt([(1 - pan) / 2, (1 + pan) / 2])
    weight = (hertz / _LOW_CUT_HZ) ** 2 / (1 + (hertz / _LOW_CUT_HZ) ** 2)
    early, late = (np.fft.irfft(np.fft.rfft(x, 2 * frames) * weight)[:, :frames] for x in (early, late))
    early *= np.sqrt(_EARLY_ENERGY / (early**2).sum() * 2)
    late *= np.sqrt((1 - _EARLY_ENERGY) / (late**2).sum() * 2)
    return (early + late).astype(np.float32)


def _convolved(signal: Samples, response: Samples) -> Samples:
    """Linear convolution with both responses by overlap-add, from ``_LEAD`` on.

    Shape (2, at least signal + response - lead), a whole number of rows.
    """
    length = response.shape[1]
    spectra = np.fft.rfft(response.astype(np.float64), _TRANSFORM).astype(np.complex64)
    hop = _TRANSFORM - length + 1
    rows = -(-(len(signal) + length) // _SAMPLES_A_ROW)
    out = np.zeros((2, _LEAD + rows * _SAMPLES_A_ROW), np.float32)
    for start in range(0, len(signal), hop):
        piece = np.fft.rfft(signal[start : start + hop].astype(np.float64), _TRANSFORM)
        narrow = piece.astype(np.complex64)
        for side in (0, 1):
            heard = np.fft.irfft(narrow * spectra[side], _TRANSFORM)
            place = out[side, start : start + _TRANSFORM]
            place += heard[: len(place)]
    return out[:, _LEAD:]


@lru_cache(maxsize=1)
def _low_pass() -> Samples:
    """Linear-phase low-pass at the full rate, odd length, centred; gain 1 at 0 Hz.

    Kaiser window (beta 8, about -80 dB); the cutoff lies below half the quarter rate.
    """
    half = _TAPS_A_PHASE * STRIDE // 2
    n = np.arange(-half, half + 1)
    cutoff = 0.84 / STRIDE
    taps = cutoff * np.sinc(cutoff * n) * np.kaiser(len(n), 8.0)
    low_pass: Samples = (taps / taps.sum()).astype(np.float32)
    return low_pass


def _decimated(rows: Samples) -> Samples:
    """Every fourth sample of the low-passed signal, given in rows.

    A window of the low-pass reaches into the rows before and after; so there are three products.
    """
    matrix = _decimating_matrix()
    half = (len(matrix) - _ROW) // 2
    product = rows @ matrix[half : half + _ROW]
    product[1:] += rows[:-1, _ROW - half :] @ matrix[:half]
    product[:-1] += rows[1:, : len(matrix) - half - _ROW] @ matrix[half + _ROW :]
    decimated: Samples = product.reshape(-1)
    return decimated


@lru_cache(maxsize=1)
def _decimating_matrix() -> Samples:
    """From a window of the full rate to one row of the quarter rate."""
    taps = _low_pass()
    matrix = np.zeros((_ROW + len(taps) - 1, _SAMPLES_A_ROW), np.float32)
    for column in range(_SAMPLES_A_ROW):
        matrix[column * STRIDE : column * STRIDE + len(taps), column] = taps
    return matrix


def _interpolated(signal: Samples, frames: int) -> Iterator[Samples]:
    """The signal at four times its rate, ``frames`` samples, in pieces."""
    matrix = _interpolating_matrix()
    context = (len(matrix) - _SAMPLES_A_ROW) // 2
    rows = signal.reshape(-1, _SAMPLES_A_ROW)
    for first in range(0, -(-frames // _ROW), _ROWS_A_PIECE):
        own = rows[first : first + _ROWS_A_PIECE]
        product = own @ matrix[context:-context]
        before = rows[max(0, first - 1) : first + len(own) - 1, _SAMPLES_A_ROW - context :]
        product[len(own) - len(before) :] += before @ matrix[:context]
        after = rows[first + 1 : first + 1 + len(own), :context]
        product[: len(after)] += after @ matrix[-context:]
        yield product.reshape(-1)[: frames - first * _ROW]


@lru_cache(maxsize=1)
def _interpolating_matrix() -> Samples:
    """From a window of the quarter rate to one row of the full rate."""
    taps = _low_pass() * STRIDE
    half = len(taps) // 2
    context = half // STRIDE
    # Each low-rate sample spreads the taps around its place; the row's part of that is kept.
    spread = np.zeros((_SAMPLES_A_ROW + 2 * context, _ROW + 4 * half + 1), np.float32)
    for row in range(len(spread)):
        spread[row, row * STRIDE : row * STRIDE + len(taps)] = taps
    return np.ascontiguousarray(spread[:, 2 * half : 2 * half + _ROW])
