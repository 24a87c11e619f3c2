"""Loudness and true peak after Recommendation ITU-R BS.1770, in matrix form.

Literature: ITU-R BS.1770-4 (2015), annex 1 (K-weighting, gating) and annex 2 (true peak);
EBU Tech 3341 (meter windows and test signals).

The K-weighting filters are the recommendation's two second-order sections. They run over blocks:
one matrix product gives each block's output from its own input, another adds what the filter
still remembers of the blocks before. The result is that of the sample-by-sample recursion, at
the speed of a matrix product; a filtering library would cost more in its import alone.

Units: loudness in LUFS, true peak in dBTP (dB over full scale), times in samples.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from genex.audio.sound import Samples, Sound

    Floats = NDArray[np.float32]

ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
_OFFSET_LUFS = -0.691
_HOPS_A_SECOND = 10
_HOPS_A_WINDOW = 4  # gating blocks of 400 ms that overlap by three quarters
_HOPS_A_CHUNK = 40
_WARM_SECONDS = 1  # after which the filters have forgotten what came before
_SHELF = (1681.974450955533, 3.999843853973347, 0.7071752369554196)  # Hz, dB, Q
_HIGH_PASS = (38.13547087602444, 0.5003270373238773)  # Hz, Q

OVERSAMPLING = 4
_PEAK_BLOCK = 64
_PEAK_REACH = 16  # input samples on either side of an interpolated one


def integrated_lufs(sound: Sound, *, loop: bool = False) -> float | None:
    """Integrated (gated) loudness in LUFS; None if nothing lies above the absolute gate.

    With ``loop`` the sound is measured as it repeats: filters and windows run on over the seam.
    """
    import numpy as np

    energies = _hop_energies(sound, loop=loop)
    windows = np.lib.stride_tricks.sliding_window_view(energies, _HOPS_A_WINDOW).mean(axis=-1)
    gate = 10 ** ((ABSOLUTE_GATE_LUFS - _OFFSET_LUFS) / 10)
    kept = windows[windows > gate]
    if not len(kept):
        return None
    kept = kept[kept > kept.mean() * 10 ** (RELATIVE_GATE_LU / 10)]
    return float(_OFFSET_LUFS + 10 * np.log10(kept.mean()))


def _hop_energies(sound: Sound, *, loop: bool) -> Any:
    """Mean square of both K-weighted channels, summed, for each 100 ms that begin in the sound."""
    import numpy as np

    samples, rate_hz = sound.samples, sound.rate_hz
    hop = rate_hz // _HOPS_A_SECOND
    warm = _WARM_SECONDS * rate_hz
    whole = len(samples) // hop * hop
    if loop:
        begun = -(-len(samples) // hop)
        before = _cyclic(samples, -warm, warm)
        rest = (begun + _HOPS_A_WINDOW - 1) * hop - whole
        after = _cyclic(samples, whole, rest)
    else:
        before = np.zeros((warm, 2), np.float32)
        after = np.zeros((max(0, _HOPS_A_WINDOW * hop - whole), 2), np.float32)
        after[: len(samples) - whole] = samples[whole : whole + len(after)]
    parts = [_filtered_energies(samples[:whole], before, rate_hz)] if whole else []
    if len(after):
        context = (
            np.concatenate((before, samples[:whole]))[-warm:]
            if whole < warm
            else samples[whole - warm : whole]
        )
        parts.append(_filtered_energies(after, context, rate_hz))
    return np.concatenate(parts)


def _cyclic(samples: Samples, start: int, frames: int) -> Samples:
    """``frames`` of the endlessly repeated samples."""
    import numpy as np

    return np.take(samples, np.arange(start, start + frames), axis=0, mode="wrap")


def _filtered_energies(samples: Samples, before: Samples, rate_hz: int) -> Any:
    """K-weighted energy of each whole hop of ``samples``; ``before`` sets the filters' memory."""
    import numpy as np

    hop = rate_hz // _HOPS_A_SECOND
    block = _block_length(hop)
    own, remembered, absorbed, step = _block_matrices(rate_hz, block)
    energies = np.zeros(len(samples) // hop)
    warm_blocks = len(before) // block
    for channel in (0, 1):
        lead_in = before[len(before) - warm_blocks * block :, channel].reshape(-1, block)
        body = samples[:, channel].reshape(-1, block)
        taken = np.concatenate((lead_in @ absorbed, body @ absorbed)).astype(np.float64)
        states = _states_before(taken, step)[warm_blocks:].astype(np.float32)
        rows = _HOPS_A_CHUNK * hop // block
        for first in range(0, len(body), rows):
            out = np.ascontiguousarray(body[first : first + rows]) @ own
            out += states[first : first + rows] @ remembered
            hops = out.reshape(-1, hop)
            at = first * block // hop
            energies[at : at + len(hops)] += np.einsum("ij,ij->i", hops, hops)
    return energies / hop


def _states_before(absorbed: Any, step: Any) -> Any:
    """Filter state before each block: the sum of what was absorbed, stepped on to there.

    By doubling: after k rounds each state holds the last 2^k blocks; the filters forget within
    a second, so a few rounds hold all that can be told in double precision.
    """
    import numpy as np

    states = np.zeros_like(absorbed)
    states[1:] = absorbed[:-1]
    reach, power = 1, step
    while reach < len(states) and np.abs(power).max() > 1e-14:
        moved = states[:-reach] @ power
        states[reach:] += moved
        reach, power = 2 * reach, power @ power
    return states


def _block_length(hop: int) -> int:
    """Samples a block: the divisor of a hop that is nearest to 128."""
    return min((d for d in range(16, 513) if hop % d == 0), key=lambda d: abs(d - 128))


@lru_cache(maxsize=4)
def _block_matrices(rate_hz: int, block: int) -> tuple[Any, Any, Any, Any]:
    """The K-weighting filters over blocks of row vectors.

    own         (block, block)  output from the block's own input
    remembered  (4, block)      output from the state before the block
    absorbed    (block, 4)      state after the block from its own input
    step        (4, 4)          state after the block from the state before it
    """
    import numpy as np

    b, a = k_weighting(rate_hz)
    order = len(a) - 1
    # Transposed direct form II: state' = state A + x B, y = state C + x D, with row vectors.
    advance = np.zeros((order, order))
    advance[0, :] = -a[1:]
    advance[1:, :-1] = np.eye(order - 1)
    entry = b[1:] - a[1:] * b[0]
    exits = np.eye(order)[:, 0]
    powers = [np.eye(order)]
    for _ in range(block):
        powers.append(powers[-1] @ advance)
    response = np.array([b[0], *(entry @ powers[i] @ exits for i in range(block - 1))])
    own = np.zeros((block, block))
    for row in range(block):
        own[row, row:] = response[: block - row]
    remembered = np.stack([powers[i] @ exits for i in range(block)], axis=1)
    absorbed = np.stack([entry @ powers[block - 1 - i] for i in range(block)])
    return (
        own.astype(np.float32),
        remembered.astype(np.float32),
        absorbed.astype(np.float32),
        powers[block],
    )


def k_weighting(rate_hz: int) -> tuple[Any, Any]:
    """Numerator and denominator of both K-weighting sections in one, for any sample rate.

    The recommendation prints the coefficients for 48 kHz; those for other rates follow from the
    analogue prototypes by the bilinear transform, which gives the printed ones at 48 kHz.
    """
    import numpy as np

    hertz, gain_db, q = _SHELF
    k = math.tan(math.pi * hertz / rate_hz)
    high, band = 10 ** (gain_db / 20), 10 ** (gain_db / 20 * 0.4996667741545416)
    norm = 1 + k / q + k * k
    shelf_b = (
        np.array([high + band * k / q + k * k, 2 * (k * k - high), high - band * k / q + k * k]) / norm
    )
    shelf_a = np.array([norm, 2 * (k * k - 1), 1 - k / q + k * k]) / norm
    hertz, q = _HIGH_PASS
    k = math.tan(math.pi * hertz / rate_hz)
    norm = 1 + k / q + k * k
    pass_a = np.array([norm, 2 * (k * k - 1), 1 - k / q + k * k]) / norm
    return np.convolve(shelf_b, [1.0, -2.0, 1.0]), np.convolve(shelf_a, pass_a)


def true_peak_dbtp(sound: Sound, *, loop: bool = False) -> float | None:
    """Highest absolute value of the sound at four times its rate, in dBTP; None for silence."""
    peak = PeakMeter(sound, loop=loop).highest()
    return 20 * math.log10(peak) if peak > 0 else None


@dataclass
class PeakMeter:
    """True peaks of a sound, block by block, looking closely only where a peak can be.

    An interpolated value cannot exceed the largest sample near it times ``_gain_bound()``, so
    most of a sound need not be interpolated at all; the result is the same as if it were.
    """

    sound: Sound
    loop: bool

    def __post_init__(self) -> None:
        import numpy as np

        samples = self.sound.samples
        count = -(-len(samples) // _PEAK_BLOCK)
        whole = len(samples) // _PEAK_BLOCK
        rows = samples[: whole * _PEAK_BLOCK].reshape(whole, -1)
        self._own = np.zeros(count, np.float32)
        np.maximum(rows.max(axis=1), -rows.min(axis=1), out=self._own[:whole]) if whole else None
        if whole < count:
            self._own[-1] = np.abs(samples[whole * _PEAK_BLOCK :]).max()
        near = np.maximum(self._own, np.maximum(np.roll(self._own, 1), np.roll(self._own, -1)))
        # The last block may be short, so the one before it and the first lie within its reach.
        self._near = np.maximum(near, np.maximum(np.roll(near, 1), np.roll(near, -1)))

    def highest(self) -> float:
        """The true peak as a factor of full scale."""
        import numpy as np

        if not len(self._own):
            return 0.0
        loudest = np.argsort(self._own)[-32:]
        peak = float(self.envelope(loudest).max())
        others = np.flatnonzero(self._near * _gain_bound() > peak)
        for first in range(0, len(others), 4096):
            peak = max(peak, float(self.envelope(others[first : first + 4096]).max()))
        return peak

    def above(self, ceiling: float) -> Any:
        """Numbers of the blocks in which the true peak may exceed ``ceiling``."""
        import numpy as np

        return np.flatnonzero(self._near * _gain_bound() > ceiling)

    def envelope(self, blocks: Any) -> Any:
        """Largest oversampled value around each sample of some blocks, shape (blocks, 64)."""
        import numpy as np

        samples = self.sound.samples
        first = np.asarray(blocks)[:, None] * _PEAK_BLOCK
        index = first + np.arange(-_PEAK_REACH, _PEAK_BLOCK + _PEAK_REACH)
        inside = (index >= 0) & (index < len(samples))
        windows = np.take(samples, index % len(samples) if self.loop else index, axis=0, mode="clip")
        if not self.loop:
            windows[~inside] = 0
        centre = windows[:, _PEAK_REACH : _PEAK_REACH + _PEAK_BLOCK]
        found = np.abs(centre).max(axis=2)
        for channel in (0, 1):
            between = np.abs(np.ascontiguousarray(windows[:, :, channel]) @ _interpolator())
            between = between.reshape(len(windows), OVERSAMPLING - 1, _PEAK_BLOCK).max(axis=1)
            np.maximum(found, between, out=found)
        if not self.loop:
            found[~inside[:, _PEAK_REACH : _PEAK_REACH + _PEAK_BLOCK]] = 0
        return found


@lru_cache(maxsize=1)
def _interpolator() -> Any:
    """The three values between each sample of a block and the next, from the samples around.

    Windowed sinc (Kaiser, beta 7) of 32 taps a phase; shape (16 + 64 + 16, 3 * 64).
    """
    import numpy as np

    matrix = np.zeros((_PEAK_BLOCK + 2 * _PEAK_REACH, OVERSAMPLING - 1, _PEAK_BLOCK))
    for phase in range(1, OVERSAMPLING):
        taps = _phase_taps(phase / OVERSAMPLING)
        for column in range(_PEAK_BLOCK):
            start = column + 1
            matrix[start : start + len(taps), phase - 1, column] = taps
    return matrix.reshape(len(matrix), -1).astype(np.float32)


def _phase_taps(fraction: float) -> Any:
    """Weights of the samples -15 … +16 around a point ``fraction`` after sample 0."""
    import numpy as np

    distance = np.arange(1 - _PEAK_REACH, _PEAK_REACH + 1) - fraction
    window = np.i0(7 * np.sqrt(np.maximum(0, 1 - (distance / _PEAK_REACH) ** 2))) / np.i0(7)
    taps = np.sinc(distance) * window
    return taps / taps.sum()


@lru_cache(maxsize=1)
def _gain_bound() -> float:
    """Largest factor by which interpolation can exceed the samples around (sum of the weights)."""
    import numpy as np

    return max(float(np.abs(_phase_taps(p / OVERSAMPLING)).sum()) for p in range(1, OVERSAMPLING))
