"""Loudness and true peak after Recommendation ITU-R BS.1770, in matrix form.

Literature: ITU-R BS.1770-4 (2015), annex 1 (K-weighting, gating) and annex 2 (true peak);
EBU Tech 3341 (meter windows and test signals).

Units: loudness in LUFS, true peak in dBTP (dB over full scale), times in samples.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Literal

import numpy as np

from genex.audio.k_weighting import HOPS_A_CHUNK, HOPS_A_SECOND, filtered_energies
from genex.audio.one_thread import one_thread
from genex.audio.sound import Doubles, Indices, Samples, Sound
from genex.audio.tape import LONG_FRAMES, let_go, stretches

ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
_OFFSET_LUFS = -0.691
_HOPS_A_WINDOW = 4  # gating blocks of 400 ms that overlap by three quarters
_LOOP_SECONDS = 20
_WORTH_A_REFRESH = 8  # up to this share of the hops
_HOPS_AT_ONCE = 15 * HOPS_A_CHUNK
_WARM_SECONDS = 1  # after which the filters have forgotten what came before

OVERSAMPLING = 4
PEAK_BLOCK = 256
_BLOCKS_A_PIECE = 128
_BLOCKS_OF_A_FILE = 8
_PEAK_REACH = 16  # input samples on either side of an interpolated one


Span = tuple[int, int]
"""First frame and end."""


def _touched(spans: Sequence[Span], size: int) -> Indices:
    """Numbers of the blocks of a size that some spans of frames reach into, ascending."""
    is_touched = np.zeros(max((-(-end // size) for _, end in spans), default=0), np.bool_)
    for first, end in spans:
        is_touched[first // size : -(-end // size)] = True
    return np.flatnonzero(is_touched)


@one_thread()
def integrated_lufs(sound: Sound, *, loop: bool = False) -> float | None:
    """Integrated (gated) loudness in LUFS; None if nothing lies above the absolute gate.

    With ``loop`` the sound is measured as it repeats: filters and windows run on over the seam,
    and a short one is repeated until the windows fall evenly on it.
    """
    return LoudnessMeter(sound, loop=loop).integrated_lufs()


class LoudnessMeter:
    """The loudness of a sound, also of the same sound at another gain or with some changes."""

    def __init__(self, sound: Sound, *, loop: bool) -> None:
        self._sound, self._loop = sound, loop
        self._hop = sound.rate_hz // HOPS_A_SECOND
        self._is_short = loop and 0 < sound.length_seconds < _LOOP_SECONDS
        self._energies = self._all_energies()

    def integrated_lufs(self, gain_db: float = 0.0) -> float | None:
        """Integrated loudness at a gain; None if nothing lies above the absolute gate."""
        windows = np.lib.stride_tricks.sliding_window_view(self._energies, _HOPS_A_WINDOW).mean(axis=-1)
        gate = 10 ** ((ABSOLUTE_GATE_LUFS - gain_db - _OFFSET_LUFS) / 10)
        kept = windows[windows > gate]
        if not len(kept):
            return None
        kept = kept[kept > kept.mean() * 10 ** (RELATIVE_GATE_LU / 10)]
        return float(_OFFSET_LUFS + gain_db + 10 * np.log10(kept.mean()))

    def measure_again(self) -> None:
        """Measure all of it anew."""
        self._energies = self._all_energies()

    def refresh(self, spans: Sequence[Span]) -> None:
        """Measure anew around some spans of frames: their samples have changed."""
        planes, hop = self._sound.planes, self._hop
        count = planes.shape[1] // hop
        is_changed = np.zeros(count, np.bool_)
        touched = _touched(spans, hop)
        # The filters ring on into the next hop, in a loop from the last into the first ones.
        is_changed[touched[touched < count]] = True
        is_changed[touched[touched + 1 < count] + 1] = True
        if self._loop and len(touched) and touched[-1] + 1 >= count:
            is_changed[:2] = True
        changed = np.flatnonzero(is_changed)
        if self._is_short or len(changed) * _WORTH_A_REFRESH > count:
            self._energies = self._all_energies()
            return
        for run in np.split(changed, np.flatnonzero(np.diff(changed) > 1) + 1):
            if len(run):
                first, end = int(run[0]), int(run[-1]) + 1
                part = planes[:, first * hop : end * hop]
                before = self._before(planes, first * hop)
                self._energies[first:end] = filtered_energies(part, before, self._sound.rate_hz)
                let_go(planes, first * hop - _WARM_SECONDS * self._sound.rate_hz, end * hop)
        self._energies[count:] = self._last_energies(planes)

    def _all_energies(self) -> Doubles:
        """Mean square of both K-weighted channels, summed, for each 100 ms that begin in the sound.

        Shape (n_hops,).
        """
        planes = self._sound.planes
        if self._is_short:
            planes = np.tile(planes, math.ceil(_LOOP_SECONDS / self._sound.length_seconds))
        hop, rate_hz = self._hop, self._sound.rate_hz
        hops = planes.shape[1] // hop
        starts = [*range(0, max(1, hops - _HOPS_AT_ONCE // 2), _HOPS_AT_ONCE)]
        found = []
        for start, end in zip(starts, [*starts[1:], hops], strict=True):
            # Later stretches begin some chunks before, all in one product: so their values are the
            # same, bit for bit, as without stretches.
            warm = min(start, HOPS_A_CHUNK)
            before = self._before(planes, 0) if not start else planes[:, :0]
            part = planes[:, (start - warm) * hop : end * hop]
            found.append(filtered_energies(part, before, rate_hz)[warm:])
            let_go(planes)
        return np.concatenate((*found, self._last_energies(planes)))

    def _last_energies(self, planes: Samples) -> Doubles:
        """Of the hops after the last whole one, as far as windows reach."""
        frames, hop = planes.shape[1], self._hop
        whole = frames // hop * hop
        if self._loop:
            after = _cyclic(planes, whole, (-(-frames // hop) + _HOPS_A_WINDOW - 1) * hop - whole)
        else:
            after = np.zeros((2, max(0, _HOPS_A_WINDOW * hop - whole)), np.float32)
            rest = planes[:, whole : whole + after.shape[1]]
            after[:, : rest.shape[1]] = rest
        if not after.shape[1]:
            return np.zeros(0)
        return filtered_energies(after, self._before(planes, whole), self._sound.rate_hz)

    def _before(self, planes: Samples, start: int) -> Samples:
        """What the filters still remember at a frame."""
        warm = _WARM_SECONDS * self._sound.rate_hz
        if start >= warm:
            return planes[:, start - warm : start]
        if self._loop:
            return _cyclic(planes, start - warm, warm)
        silence = np.zeros((2, warm - start), np.float32)
        return np.concatenate((silence, planes[:, :start]), axis=1)


def _cyclic(planes: Samples, start: int, frames: int) -> Samples:
    """``frames`` of the endlessly repeated planes."""
    return _taken(planes, np.arange(start, start + frames), "wrap")


def _taken(planes: Samples, index: Indices, mode: Literal["wrap", "clip"]) -> Samples:
    """Some samples of both planes. Of planes with a gap between them numpy would copy all at once."""
    return np.stack([np.take(plane, index, mode=mode) for plane in planes])


@one_thread()
def true_peak_dbtp(sound: Sound, *, loop: bool = False) -> float | None:
    """Highest absolute value of the sound at four times its rate, in dBTP; None for silence."""
    peak = PeakMeter(sound, loop=loop).highest()
    return 20 * math.log10(peak) if peak > 0 else None


class PeakMeter:
    """True peaks of a sound in blocks of 256, looking closely only where a peak can be.

    An interpolated value cannot exceed the larger of its neighbours by more than the sound bends
    around them (its second difference) times a constant, nor the largest sample within reach
    times another; so most of a sound need not be interpolated at all. The result is the same as
    if it were. Values are factors of full scale.
    """

    def __init__(self, sound: Sound, *, loop: bool) -> None:
        self._planes, self._loop = sound.planes, loop
        blocks = -(-self._planes.shape[1] // PEAK_BLOCK)
        self._own = np.zeros(blocks, np.float32)  # largest sample of each block
        self._bends = np.zeros(blocks, np.float32)  # largest second difference around its samples
        for plane in self._planes if blocks else ():
            for start, end in stretches(self._planes):
                last = -(-end // PEAK_BLOCK)
                for first in range(start // PEAK_BLOCK, last, _BLOCKS_A_PIECE):
                    self._scan(plane, slice(first, min(first + _BLOCKS_A_PIECE, last)))
            # Across the ends: from last to first sample, or from and to silence.
            silence = np.zeros(2, np.float32)
            before, after = (plane[-2:], plane[:2]) if loop else (silence, silence)
            for block, seam in ((0, (before, plane[:2])), (-1, (plane[-2:], after))):
                bends = np.abs(np.diff(np.concatenate(seam), n=2))
                self._bends[block] = bends.max(initial=self._bends[block])

    def _scan(self, plane: Samples, blocks: slice) -> None:
        """Take account of one side of some blocks, but for what lies across the ends."""
        first, end = blocks.start * PEAK_BLOCK, min(blocks.stop * PEAK_BLOCK, len(plane))
        starts = np.arange(0, end - first, PEAK_BLOCK)
        samples = plane[first:end]
        highest = np.maximum.reduceat(samples, starts)
        highest = np.maximum(highest, -np.minimum.reduceat(samples, starts))
        np.maximum(self._own[blocks], highest, out=self._own[blocks])
        low, high = max(first, 1), min(end, len(plane) - 1)  # bends lie around these
        if low < high:
            bends = np.diff(plane[low - 1 : high + 1], n=2)
            starts = np.maximum(0, starts + first - low)
            starts = starts[starts < len(bends)]
            highest = np.maximum.reduceat(np.abs(bends, out=bends), starts)
            some = self._bends[blocks][: len(highest)]
            np.maximum(some, highest, out=some)

    def _most(self) -> Samples:
        """What the true peak of each block cannot exceed, shape (n_blocks,)."""
        # Two blocks on either side, as the last block of a loop may be shorter than the reach.
        near, sharpest = self._own, self._bends
        for _ in range(2):
            near, sharpest = (
                np.maximum(some, np.maximum(np.roll(some, 1), np.roll(some, -1)))
                for some in (near, sharpest)
            )
        by_level, by_bend = _bounds()
        # The sample after a block is a neighbour of its last one, hence the block after as well.
        neighbours = np.maximum(self._own, np.roll(self._own, -1))
        return np.minimum(near * by_level, neighbours + by_bend * sharpest)

    def refresh(self, spans: Sequence[Span]) -> None:
        """Look again at the blocks of some spans of frames: their samples have changed."""
        self.look_again(_touched(spans, PEAK_BLOCK))

    def look_again(self, blocks: Indices) -> None:
        """Look again at some blocks: samples of them have changed."""
        for first in range(0, len(blocks), 256):
            some = blocks[first : first + 256]
            windows = self._windows(some)
            self._own[some] = np.abs(windows[:, :, _PEAK_REACH:-_PEAK_REACH]).max(axis=(0, 2))
            bends = np.diff(windows[:, :, _PEAK_REACH - 2 : 2 - _PEAK_REACH], n=2)
            self._bends[some] = np.abs(bends).max(axis=(0, 2))

    def near(self, level: float) -> Indices:
        """Numbers of the blocks whose true peak may exceed a level, ascending."""
        return np.flatnonzero(self._most() > level)

    def highest(self) -> float:
        """The true peak."""
        if not len(self._own):
            return 0.0
        loudest = np.argpartition(self._own, -min(32, len(self._own)))[-32:]
        peak = float(self._peaks(loudest).max())
        others = np.flatnonzero(self._most() > peak)
        return max(peak, float(self._peaks(others).max())) if len(others) else peak

    def above(self, ceiling: float | np.float32) -> Indices:
        """Numbers of the blocks whose true peak exceeds a ceiling, ascending."""
        possible = np.flatnonzero(self._most() > ceiling)
        return possible[self._peaks(possible) > ceiling]

    def envelopes(self, blocks: Indices) -> Samples:
        """Of each of some blocks the largest oversampled value at and after each of its samples.

        Shape (n_blocks, 256).
        """
        centre, between = self._oversampled(blocks)
        between = between.reshape(2, len(blocks), OVERSAMPLING - 1, PEAK_BLOCK).max(axis=2)
        highest: Samples = np.maximum(centre, between).max(axis=0)
        return highest

    def _peaks(self, blocks: Indices) -> Samples:
        """True peak of each of some blocks, shape (n_blocks,)."""
        found = self._own[blocks]
        for first in range(0, len(blocks), 256):
            some = slice(first, first + 256)
            _, between = self._oversampled(blocks[some])
            found[some] = np.maximum(found[some], between.max(axis=(0, 2)))
        return found

    def _oversampled(self, blocks: Indices) -> tuple[Samples, Samples]:
        """Absolute values of both channels: at the samples and, three each, between them.

        Shapes (2, n_blocks, 256) and (2, n_blocks, 3 * 256).
        """
        windows = self._windows(blocks)
        between = windows @ _interpolator()
        return np.abs(windows[:, :, _PEAK_REACH:-_PEAK_REACH]), np.abs(between, out=between)

    def _windows(self, blocks: Indices) -> Samples:
        """The samples of blocks and within reach of them, shape (2, n_blocks, 16 + 256 + 16)."""
        frames = self._planes.shape[1]
        reach = np.arange(-_PEAK_REACH, PEAK_BLOCK + _PEAK_REACH)
        windows = np.empty((2, len(blocks), len(reach)), np.float32)
        # Around each place that is looked at in a file the system brings in more.
        step = _BLOCKS_OF_A_FILE if frames > LONG_FRAMES else max(1, len(blocks))
        for first in range(0, len(blocks), step):
            index = blocks[first : first + step, None] * PEAK_BLOCK + reach
            some = windows[:, first : first + step]
            some[:] = _taken(self._planes, index, "wrap" if self._loop else "clip")
            if not self._loop:
                some[:, (index < 0) | (index >= frames)] = 0
            if len(index):
                let_go(self._planes, int(index.min()), int(index.max()))
        return windows


@lru_cache(maxsize=1)
def _interpolator() -> Samples:
    """The three values between each sample of a block and the next, from the samples around.

    Windowed sinc (Kaiser, beta 7) of 32 taps a phase; shape (16 + 256 + 16, 3 * 256).
    """
    matrix = np.zeros((PEAK_BLOCK + 2 * _PEAK_REACH, OVERSAMPLING - 1, PEAK_BLOCK))
    for phase in range(1, OVERSAMPLING):
        taps = _phase_taps(phase / OVERSAMPLING)
        for column in range(PEAK_BLOCK):
            start = column + 1
            matrix[start : start + len(taps), phase - 1, column] = taps
    return matrix.reshape(len(matrix), -1).astype(np.float32)


def _phase_taps(fraction: float) -> Doubles:
    """Weights of the samples -15 … +16 around a point ``fraction`` after sample 0, shape (32,)."""
    distance = np.arange(1 - _PEAK_REACH, _PEAK_REACH + 1) - fraction
    window = np.i0(7 * np.sqrt(np.maximum(0, 1 - (distance / _PEAK_REACH) ** 2))) / np.i0(7)
    taps: Doubles = np.sinc(distance) * window
    taps /= taps.sum()
    # A touch more weight on the two neighbours so that a straight line is met exactly.
    slope = (taps * distance).sum()
    taps[_PEAK_REACH - 1] += slope
    taps[_PEAK_REACH] -= slope
    return taps


@lru_cache(maxsize=1)
def _bounds() -> tuple[float, float]:
    """How far interpolation can go: per largest sample in reach, and per sharpest bend.

    The first is the sum of the weights' magnitudes. For the second the weights less those of the
    straight line between the two neighbours are written as weights of second differences: their
    sum twice over. That holds if they neither weigh a constant nor a slope, which
    ``_phase_taps`` sees to.
    """
    levels, bends = [], []
    for phase in range(1, OVERSAMPLING):
        taps = _phase_taps(phase / OVERSAMPLING)
        levels.append(np.abs(taps).sum())
        line = np.zeros_like(taps)
        line[_PEAK_REACH - 1 : _PEAK_REACH + 1] = 1 - phase / OVERSAMPLING, phase / OVERSAMPLING
        bends.append(np.abs(np.cumsum(np.cumsum(taps - line))).sum())
    return float(max(levels)), float(max(bends))
