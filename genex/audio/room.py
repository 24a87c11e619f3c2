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
_ROWS_AT_ONCE = 4096


class Room:
    """The room for a sound, shape (2, frames), to which its answer is added where it lies.

    Have it ``hear`` all of the send, in order and each stretch once the sound is there, then let it
    ``ring_out``. It keeps no more than it needs: the answer follows some seconds behind. What does
    not fit comes round at the other end with ``wrap``, else it is cut off. A full-band noise at the
    send comes back with about the energy that it has below 5 kHz.
    """

    def __init__(self, rate_hz: int, planes: Samples, *, wrap: bool) -> None:
        frames = planes.shape[1]
        self._planes = planes
        self._response = _impulse_response(rate_hz // STRIDE)
        self._spectra = np.fft.rfft(self._response.astype(np.float64), _TRANSFORM).astype(np.complex64)
        # The low-pass looks both ways. What it yields before the start and after the end is kept:
        # in a loop it belongs to what sounds across the seam.
        lead = _LEAD * STRIDE
        rows = -(-(frames + 2 * lead) // _ROW)
        # Rows of the send: the one before, those to be decimated next, the one after them.
        self._led = np.zeros((_ROWS_AT_ONCE + 2, _ROW), np.float32)
        self._filled = _ROW + lead
        self._rows_left = rows
        self._signal: list[Samples] = []  # decimated and not yet answered
        self._signal_left = rows * _SAMPLES_A_ROW
        # The answer at the quarter rate, from one row before the next that is to be added.
        self._rows = -(-(self._signal_left + self._response.shape[1]) // _SAMPLES_A_ROW)
        self._wet = np.zeros((2, 3 * _TRANSFORM), np.float32)
        self._wet_end = 0  # in the buffer, after which all is silence
        self._final = -_LEAD  # samples of the answer that nothing will be added to any more
        self._row = 0
        self._at, self._left = 0, frames + tail_samples(rate_hz) if wrap else frames

    def hear(self, send: Samples) -> None:
        """The next stretch of the send, shape (n_samples,)."""
        led = self._led.reshape(-1)
        while len(send):
            place = led[self._filled : self._filled + len(send)]
            place[:] = send[: len(place)]
            send = send[len(place) :]
            self._filled += len(place)
            if self._filled == len(led):
                self._decimate(_ROWS_AT_ONCE)

    def ring_out(self) -> None:
        """Add all that has not been added yet."""
        while self._rows_left:
            self._led.reshape(-1)[self._filled :] = 0
            self._decimate(min(_ROWS_AT_ONCE, self._rows_left))
        self._final = self._rows * _SAMPLES_A_ROW
        self._add()

    def _decimate(self, count: int) -> None:
        self._signal.append(_decimated(self._led[: count + 2]))
        self._led[:2] = self._led[-2:].copy()
        self._filled = 2 * _ROW
        self._rows_left -= count
        hop = _TRANSFORM - self._response.shape[1] + 1
        waiting = sum(map(len, self._signal))
        while waiting and (waiting >= hop or waiting == self._signal_left):
            whole = np.concatenate(self._signal)
            self._signal = [whole[hop:]]
            self._answer(whole[:hop])
            self._signal_left -= len(whole[:hop])
            waiting -= len(whole[:hop])

    def _answer(self, signal: Samples) -> None:
        """Add the answer to the next stretch of the signal, by overlap-add."""
        piece = np.fft.rfft(signal.astype(np.float64), _TRANSFORM)
        narrow = piece.astype(np.complex64)
        first_row = self._row - 1  # at the beginning of the buffer
        start = self._final - first_row * _SAMPLES_A_ROW
        # What the low-pass yields before the start has no place; what follows the end neither.
        skipped = max(0, -self._final)
        end = self._rows * _SAMPLES_A_ROW - self._final
        for side in (0, 1):
            heard = np.fft.irfft(narrow * self._spectra[side], _TRANSFORM)[skipped:end]
            place = self._wet[side, start + skipped : start + skipped + len(heard)]
            place += heard
            self._wet_end = max(self._wet_end, start + skipped + len(heard))
        self._final += len(signal)
        self._add()

    def _add(self) -> None:
        """Add as much of the answer as is final and fills pieces, or ends it."""
        rows = self._wet.reshape(2, -1, _SAMPLES_A_ROW)
        done = 0
        is_last = self._final == self._rows * _SAMPLES_A_ROW
        while self._left and (
            is_last or (self._row + _ROWS_A_PIECE + 1) * _SAMPLES_A_ROW <= self._final
        ):
            count = min(_ROWS_A_PIECE, self._rows - self._row)
            for side in (0, 1):
                self._put(side, _interpolated(rows[side, done : done + count + 2])[: self._left])
            self._at += min(count * _ROW, self._left)
            self._left -= min(count * _ROW, self._left)
            self._row += count
            done += count
        keep = self._wet[:, done * _SAMPLES_A_ROW : self._wet_end].copy()
        self._wet[:, : keep.shape[1]] = keep
        self._wet[:, keep.shape[1] : self._wet_end] = 0
        self._wet_end = keep.shape[1]

    def _put(self, side: int, heard: Samples) -> None:
        frames, at = self._planes.shape[1], self._at
        while len(heard):
            start = at % frames
            part = heard[: frames - start]
            self._planes[side, start : start + len(part)] += part
            heard = heard[len(part) :]
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
    """Every fourth sample of the low-passed signal, given in rows, without the first and last row.

    A window of the low-pass reaches into the rows before and after; so there are three products.
    """
    matrix = _decimating_matrix()
    half = (len(matrix) - _ROW) // 2
    product = rows[1:-1] @ matrix[half : half + _ROW]
    product += rows[:-2, _ROW - half :] @ matrix[:half]
    product += rows[2:, : len(matrix) - half - _ROW] @ matrix[half + _ROW :]
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


def _interpolated(rows: Samples) -> Samples:
    """A signal at four times its rate, given in rows, without the first and last row."""
    matrix = _interpolating_matrix()
    context = (len(matrix) - _SAMPLES_A_ROW) // 2
    # Each row with what lies around it, so that it is one product.
    wide = np.empty((len(rows) - 2, len(matrix)), np.float32)
    wide[:, :context] = rows[:-2, _SAMPLES_A_ROW - context :]
    wide[:, context:-context] = rows[1:-1]
    wide[:, -context:] = rows[2:, :context]
    interpolated: Samples = (wide @ matrix).reshape(-1)
    return interpolated


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
