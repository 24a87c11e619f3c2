"""Bringing a mix to its loudness: one gain for the whole, and a ceiling for true peaks.

The gain is constant, so dynamics stay as they were played. Where a peak would pass the ceiling a
limiter with look-ahead turns the sound down around it and back up again; everything else stays
untouched. It never takes more than ``MOST_LIMITING_DB``: a sound that would need more (a lone
click, say) stays quieter than the target instead of being flattened.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from genex.audio.loudness import PEAK_BLOCK, LoudnessMeter, PeakMeter
from genex.audio.low_cut import cut_lows
from genex.audio.one_thread import one_thread
from genex.audio.sound import Doubles, Indices, Samples, Sound

TARGET_LUFS = -14.0
CEILING_DBTP = -1.0
MOST_LIMITING_DB = 9.0
_MARGIN_DB = 0.1  # meters interpolate differently by up to this much
_TOLERANCE_LU = 0.05
_ROUNDS = 5
_WORTH_MEASURING = 0.02  # of the ceiling: what moves less is not heard, let alone below 20 Hz
_REACH_SECONDS = 0.006
_SAFETY = 0.9995  # so that the gain, itself interpolated, does not touch the ceiling


@dataclass(frozen=True, slots=True)
class Measurement:
    """What a mastered sound measures, for the manifest.

    integrated_lufs  BS.1770 loudness; None for silence
    true_peak_dbtp   at four times the rate; None for silence
    gain_db          constant gain that was applied
    limited_db       deepest reduction by the limiter, 0 if it was not needed
    """

    integrated_lufs: float | None
    true_peak_dbtp: float | None
    gain_db: float
    limited_db: float


@one_thread()
def master(
    sound: Sound,
    target_lufs: float = TARGET_LUFS,
    ceiling_dbtp: float = CEILING_DBTP,
    *,
    loop: bool = True,
    gain_db: float | None = None,
) -> tuple[Sound, Measurement]:
    """The sound at a loudness, with true peaks under a ceiling. Silence stays silence.

    ``loop`` measures and limits across the seam, as the sound will repeat. The samples are changed
    where they lie, so that long takes need their memory only once: the sound given is used up.
    ``gain_db`` is applied in place of what would bring the sound to its loudness.
    """
    sound = Sound.of_planes(sound.planes, sound.rate_hz)
    peaks, loudness = PeakMeter(sound, loop=loop), LoudnessMeter(sound, loop=loop)
    plain, peak = loudness.integrated_lufs(), peaks.highest()
    if plain is None or peak == 0:
        return sound, Measurement(plain, _db(peak) if peak else None, 0.0, 0.0)
    ceiling_db = ceiling_dbtp - _MARGIN_DB
    most_gain_db = ceiling_db + MOST_LIMITING_DB - _db(peak)
    is_given = gain_db is not None
    gain_db = target_lufs - plain if gain_db is None else gain_db
    gain_db, limited_db = min(gain_db, most_gain_db), 0.0
    limiter = Limiter(sound, peaks, loudness, loop=loop)
    for rounds_left in reversed(range(_ROUNDS)):
        if _db(peak) + gain_db > ceiling_db:
            limiter.undo()
            limited_db = limiter.limit(ceiling_db - gain_db)
        # Measured as it will sound: the gate lies at a fixed level.
        reached = loudness.integrated_lufs(gain_db)
        missing = 0.0 if reached is None else target_lufs - reached
        if is_given or abs(missing) <= _TOLERANCE_LU or gain_db >= most_gain_db or not rounds_left:
            break
        gain_db = min(gain_db + missing, most_gain_db)
    if limited_db:
        limited_db += limiter.settle(ceiling_db - gain_db)
        reached = loudness.integrated_lufs(gain_db)
    peak = peaks.highest()
    sound.planes[:] *= _factor(gain_db)
    return sound, Measurement(reached, _db(peak) + gain_db if peak else None, gain_db, limited_db)


def held_under(ceiling_dbtp: float, sound: Sound, *, loop: bool) -> None:
    """Turn a sound down around its peaks, where it lies, so that they stay under a ceiling."""
    peaks, loudness = PeakMeter(sound, loop=loop), LoudnessMeter(sound, loop=loop)
    Limiter(sound, peaks, loudness, loop=loop).limit(ceiling_dbtp)


class Limiter:
    """Turns a sound down around its peaks, in place, and can take that back. Meters follow.

    Around each peak that is too high the gain follows a smooth curve of 6 ms on either side: the
    running minimum of what is needed, averaged over the same length, never lies above what is
    needed.
    """

    def __init__(self, sound: Sound, peaks: PeakMeter, loudness: LoudnessMeter, *, loop: bool) -> None:
        self._planes, self._peaks, self._loudness, self._loop = sound.planes, peaks, loudness, loop
        self._rate_hz = sound.rate_hz
        self._reach = int(_REACH_SECONDS * sound.rate_hz)
        self._before: list[tuple[Indices, Samples]] = []

    def limit(self, ceiling_db: float) -> float:
        """Bring true peaks to a ceiling or below; the deepest reduction in dB."""
        ceiling = _factor(ceiling_db)
        deepest = 1.0
        for _ in range(3):
            blocks, envelope = self._peaks.above(ceiling)
            if not len(blocks):
                break
            deepest *= self._turn_down(blocks, envelope, ceiling)
        return -_db(deepest) + 0.0

    def settle(self, ceiling_db: float) -> float:
        """Take out what limiting has left below 20 Hz; what that reduced further at the most, in dB.

        Turning a sound down in the middle of a wave moves the wave off its centre.
        """
        moved = cut_lows(self._planes, self._rate_hz, wrap=self._loop)
        if moved > _WORTH_MEASURING * _factor(ceiling_db):
            self._loudness.measure_again()
        # Samples have moved by no more than this: only peaks near the ceiling can pass it now.
        self._peaks.refresh(self._peaks.near(float(_factor(ceiling_db)) - 2 * moved))
        return self.limit(ceiling_db)

    def undo(self) -> None:
        """Give all changes back."""
        for where, samples in reversed(self._before):
            self._planes[:, where] = samples
        self._look_again([where for where, _ in self._before])
        self._before.clear()

    def _turn_down(self, blocks: Indices, envelope: Samples, ceiling: np.float32) -> float:
        frames = self._planes.shape[1]
        reach = self._reach
        needed = np.minimum(1.0, ceiling * _SAFETY / np.maximum(envelope, 1e-9))
        lowest = 1.0
        changed = []
        for group in _neighbours(blocks, 2 + 4 * reach // PEAK_BLOCK):
            first = int(blocks[group[0]]) * PEAK_BLOCK - 2 * reach
            last = (int(blocks[group[-1]]) + 1) * PEAK_BLOCK + 2 * reach
            curve = np.ones(last - first)
            for index in group:
                at = int(blocks[index]) * PEAK_BLOCK - first
                curve[at : at + PEAK_BLOCK] = needed[index]
            gain = _smoothed(curve, reach).astype(np.float32)
            where = np.arange(first, last)
            if self._loop:
                # A loop may be shorter than a curve, which then passes over it more than once.
                where, times = np.unique(where % frames, return_inverse=True)
                once = np.ones(len(where), np.float32)
                np.multiply.at(once, times, gain)
                gain = once
            else:
                inside = (where >= 0) & (where < frames)
                where, gain = where[inside], gain[inside]
            samples = self._planes[:, where]
            self._before.append((where, samples))
            self._planes[:, where] = samples * gain
            changed.append(where)
            lowest = min(lowest, float(gain.min()))
        self._look_again(changed)
        return lowest

    def _look_again(self, changed: list[Indices]) -> None:
        if changed:
            frames = np.concatenate(changed)
            self._peaks.refresh(frames)
            self._loudness.refresh(frames)


def _smoothed(curve: Doubles, reach: int) -> Doubles:
    """The running minimum over ``2 * reach + 1`` values, averaged twice over ``reach + 1``."""
    padded = np.pad(curve, 2 * reach, constant_values=1.0)
    width, floor = 1, padded
    while width < 2 * reach + 1:
        step = min(width, 2 * reach + 1 - width)
        floor = np.minimum(floor[:-step], floor[step:])
        width += step
    for _ in range(2):
        sums = np.cumsum(np.concatenate(([0.0], floor)))
        floor = (sums[reach + 1 :] - sums[: -reach - 1]) / (reach + 1)
    return floor


def _neighbours(blocks: Indices, distance: int) -> list[list[int]]:
    """Indices of ascending block numbers in groups no further apart than ``distance``."""
    groups = [[0]]
    for (_, before), (index, after) in pairwise(enumerate(blocks)):
        if after - before > distance:
            groups.append([])
        groups[-1].append(index)
    return groups


def _factor(gain_db: float) -> np.float32:
    return np.float32(10 ** (gain_db / 20))


def _db(factor: float) -> float:
    return 20 * math.log10(factor)
