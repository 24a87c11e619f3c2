"""Bringing a mix to its loudness: one gain for the whole, and a ceiling for true peaks.

The gain is constant, so dynamics stay as they were played. Where a peak would pass the ceiling a
limiter with look-ahead turns the sound down around it and back up again; everything else stays
untouched. It never takes more than ``MOST_LIMITING_DB``, as what is taken in so short a time is taken
from the attack. What is higher still, a kick, a bass and a chord struck at once in sparse music, is
*levelled* before: the whole moment is played softer, slowly enough that its attack keeps its shape, by
``MOST_LEVELLING_DB`` at the most. A sound that would need more stays quieter than the target instead of
being flattened, and wood blocks alone are not levelled: a click has nothing around it.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from genex.audio.loudness import PEAK_BLOCK, LoudnessMeter, PeakMeter, Span
from genex.audio.low_cut import cut_lows
from genex.audio.one_thread import one_thread
from genex.audio.sound import Doubles, Indices, Samples, Sound
from genex.audio.tape import LONG_FRAMES, let_go, scratch_file
from genex.score import Part

TARGET_LUFS = -14.0
CEILING_DBTP = -1.0
MOST_LIMITING_DB = 4.0
MOST_LEVELLING_DB = 5.0
_SPARE_DB = 0.3  # of limiting, where there is levelling: the cut below 20 Hz after it moves a peak
_MARGIN_DB = 0.1  # meters interpolate differently by up to this much
_TOLERANCE_LU = 0.05
_ROUNDS = 5
_WORTH_MEASURING = 0.02  # of the ceiling: what moves less is not heard, let alone below 20 Hz
_LIMITER_SECONDS, _LEVELLER_SECONDS = 0.006, 0.03
"""On either side of a peak, in which the gain goes down and comes back: a wave's crest, and a beat's
attack. Over the second a gain moves less within a wave of the bass than its own decay does."""
_BLOCKS_AT_ONCE, _BLOCKS_A_PIECE = LONG_FRAMES // PEAK_BLOCK, 256
_FRAMES_AT_ONCE = 1 << 20
_KEPT_BYTES = 8 << 20  # of samples as they were before, in memory
_SAFETY = 0.9995  # so that the gain, itself interpolated, does not touch the ceiling


@dataclass(frozen=True, slots=True)
class Measurement:
    """What a mastered sound measures, for the manifest.

    integrated_lufs  BS.1770 loudness; None for silence
    true_peak_dbtp   at four times the rate; None for silence
    gain_db          constant gain that was applied
    limited_db       deepest reduction by the limiter, 0 if it was not needed
    levelled_db      deepest reduction of a moment before it, 0 if limiting was enough
    """

    integrated_lufs: float | None
    true_peak_dbtp: float | None
    gain_db: float
    limited_db: float
    levelled_db: float = 0.0


@one_thread()
def master(
    sound: Sound,
    target_lufs: float = TARGET_LUFS,
    ceiling_dbtp: float = CEILING_DBTP,
    *,
    loop: bool = True,
    gain_db: float | None = None,
    most_levelling_db: float = MOST_LEVELLING_DB,
) -> tuple[Sound, Measurement]:
    """The sound at a loudness, with true peaks under a ceiling. Silence stays silence.

    ``loop`` measures and limits across the seam, as the sound will repeat. The samples are changed
    where they lie, so that long takes need their memory only once: the sound given is used up.
    ``gain_db`` is applied in place of what would bring the sound to its loudness; no peak is turned
    down by more than ``MOST_LIMITING_DB`` for it, and no moment by more than ``most_levelling_db``.
    """
    sound = Sound.of_planes(sound.planes, sound.rate_hz)
    peaks, loudness = PeakMeter(sound, loop=loop), LoudnessMeter(sound, loop=loop)
    plain, peak = loudness.integrated_lufs(), peaks.highest()
    if plain is None or peak == 0:
        return sound, Measurement(plain, _db(peak) if peak else None, 0.0, 0.0)
    ceiling_db = ceiling_dbtp - _MARGIN_DB
    left_db = MOST_LIMITING_DB - (_SPARE_DB if most_levelling_db else 0.0)
    most_gain_db = ceiling_db + left_db + most_levelling_db - _db(peak)
    is_given = gain_db is not None
    gain_db = target_lufs - plain if gain_db is None else gain_db
    gain_db, limited_db, levelled_db = min(gain_db, most_gain_db), 0.0, 0.0
    with (
        Limiter(sound, peaks, loudness, loop=loop, seconds=_LEVELLER_SECONDS) as leveller,
        Limiter(sound, peaks, loudness, loop=loop) as limiter,
    ):
        for rounds_left in reversed(range(_ROUNDS)):
            if _db(peak) + gain_db > ceiling_db:
                limiter.undo()
                leveller.undo()
                if most_levelling_db:
                    levelled_db = leveller.limit(ceiling_db - gain_db + left_db)
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
    sound.scale(_factor(gain_db))
    true_peak_dbtp = _db(peak) + gain_db if peak else None
    return sound, Measurement(reached, true_peak_dbtp, gain_db, limited_db, levelled_db)


def levelling_for(parts: Iterable[Part]) -> float:
    """By how many dB moments of some parts may be levelled for the sake of loudness."""
    return 0.0 if all(part.is_click for part in parts) else MOST_LEVELLING_DB


def held_under(ceiling_dbtp: float, sound: Sound, *, loop: bool) -> None:
    """Turn a sound down around its peaks, where it lies, so that they stay under a ceiling."""
    peaks, loudness = PeakMeter(sound, loop=loop), LoudnessMeter(sound, loop=loop)
    with Limiter(sound, peaks, loudness, loop=loop) as limiter:
        limiter.limit(ceiling_dbtp)


class Limiter:
    """Turns a sound down around its peaks, in place, and can take that back. Meters follow.

    Around each peak that is too high the gain follows a smooth curve of some ``seconds`` on either
    side: the running minimum of what is needed, averaged over the same length, never lies above what
    is needed. A context manager: it keeps what it changed in a file.
    """

    def __init__(
        self,
        sound: Sound,
        peaks: PeakMeter,
        loudness: LoudnessMeter,
        *,
        loop: bool,
        seconds: float = _LIMITER_SECONDS,
    ) -> None:
        self._planes, self._peaks, self._loudness, self._loop = sound.planes, peaks, loudness, loop
        self._rate_hz = sound.rate_hz
        self._reach = int(seconds * sound.rate_hz)
        # What was changed, in order, and in a file the samples as they were before.
        self._changed: list[Span] = []
        self._before = scratch_file(_KEPT_BYTES)

    def __enter__(self) -> Limiter:
        return self

    def __exit__(self, *_: object) -> None:
        self._before.close()

    def limit(self, ceiling_db: float) -> float:
        """Bring true peaks to a ceiling or below; the deepest reduction in dB."""
        ceiling = _factor(ceiling_db)
        deepest = 1.0
        for _ in range(3):
            blocks = self._peaks.above(ceiling)
            if not len(blocks):
                break
            deepest *= self._turn_down(blocks, ceiling)
        return -_db(deepest) + 0.0

    def settle(self, ceiling_db: float) -> float:
        """Take out what limiting has left below 20 Hz; what that reduced further at the most, in dB.

        Turning a sound down in the middle of a wave moves the wave off its centre.
        """
        moved = cut_lows(self._planes, self._rate_hz, wrap=self._loop)
        if moved > _WORTH_MEASURING * _factor(ceiling_db):
            self._loudness.measure_again()
        # Samples have moved by no more than this: only peaks near the ceiling can pass it now.
        self._peaks.look_again(self._peaks.near(float(_factor(ceiling_db)) - 2 * moved))
        return self.limit(ceiling_db)

    def undo(self) -> None:
        """Give all changes back."""
        for first, end in reversed(self._changed):
            size = self._planes[:, first:end].nbytes
            self._before.seek(-size, os.SEEK_CUR)
            before = np.frombuffer(self._before.read(size), np.float32)
            self._before.seek(-size, os.SEEK_CUR)
            self._planes[:, first:end] = before.reshape(2, -1)
            let_go(self._planes, first, end)
        self._look_again(self._changed)
        self._changed = []

    def _turn_down(self, blocks: Indices, ceiling: np.float32) -> float:
        lowest, changed = 1.0, len(self._changed)
        for groups in _batches(_neighbours(blocks, 2 + 4 * self._reach // PEAK_BLOCK)):
            needed = self._needed(np.concatenate(groups), ceiling)
            at = 0
            for group in groups:
                lowest = min(lowest, self._apply(group, needed[at : at + len(group)]))
                at += len(group)
        self._look_again(self._changed[changed:])
        return lowest

    def _needed(self, blocks: Indices, ceiling: np.float32) -> Samples:
        """The gain that keeps each sample of some blocks under a ceiling, shape (n_blocks, 256).

        Of very many blocks that of a whole block, shape (n_blocks, 1).
        """
        found = []
        for first in range(0, len(blocks), _BLOCKS_A_PIECE):
            envelope = self._peaks.envelopes(blocks[first : first + _BLOCKS_A_PIECE])
            gains = np.minimum(1.0, ceiling * _SAFETY / np.maximum(envelope, 1e-9))
            found.append(gains if len(blocks) <= _BLOCKS_AT_ONCE else gains.min(axis=1, keepdims=True))
        return np.concatenate(found)

    def _apply(self, blocks: Indices, needed: Samples) -> float:
        """Turn down around some blocks near to each other; the lowest gain."""
        frames, lowest = self._planes.shape[1], 1.0
        for first, gain in self._curves(blocks, needed):
            last = first + len(gain)
            if self._loop and len(gain) > frames:
                # A loop may be shorter than a curve, which then passes over it more than once.
                once = np.ones(frames, np.float32)
                np.multiply.at(once, np.arange(first, last) % frames, gain)
                first, last, gain = 0, frames, once
            for start in range(-frames, 2 * frames, frames) if self._loop else (0,):
                begin, end = max(first, start), min(last, start + frames)
                if begin < end:
                    part = gain[begin - first : end - first]
                    self._scale(begin - start, end - start, part)
                    lowest = min(lowest, float(part.min()))
        return lowest

    def _curves(self, blocks: Indices, needed: Samples) -> Iterator[tuple[int, Samples]]:
        """The gain around some blocks, piece by piece, and the frame that each begins at."""
        margin = 2 * self._reach
        start, stop = int(blocks[0]) * PEAK_BLOCK - margin, (int(blocks[-1]) + 1) * PEAK_BLOCK + margin
        for first in range(start, stop, _FRAMES_AT_ONCE):
            last = min(first + _FRAMES_AT_ONCE, stop)
            # A gain depends on what is needed within the margin on either side.
            low, high = max(start, first - margin), min(stop, last + margin)
            curve = np.ones(high - low)
            near = slice(*np.searchsorted(blocks, (low // PEAK_BLOCK, -(-high // PEAK_BLOCK))))
            for block, gains in zip(blocks[near], needed[near], strict=True):
                at = int(block) * PEAK_BLOCK - low
                whole = np.broadcast_to(gains, PEAK_BLOCK)
                curve[max(0, at) : at + PEAK_BLOCK] = whole[max(0, -at) : max(0, high - low - at)]
            yield first, _smoothed(curve, self._reach)[first - low : last - low].astype(np.float32)

    def _scale(self, first: int, end: int, gain: Samples) -> None:
        place = self._planes[:, first:end]
        self._before.write(place.tobytes())
        self._changed.append((first, end))
        place *= gain
        let_go(self._planes, first, end)

    def _look_again(self, changed: list[Span]) -> None:
        if changed:
            self._peaks.refresh(changed)
            self._loudness.refresh(changed)


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


def _neighbours(blocks: Indices, distance: int) -> list[Indices]:
    """Ascending block numbers in groups no further apart than ``distance``."""
    return np.split(blocks, np.flatnonzero(np.diff(blocks) > distance) + 1)


def _batches(groups: list[Indices]) -> Iterator[list[Indices]]:
    """Some groups at a time: as many as have not too many blocks, but for one that has by itself."""
    batch: list[Indices] = []
    for group in groups:
        if batch and sum(map(len, batch)) + len(group) > _BLOCKS_AT_ONCE:
            yield batch
            batch = []
        batch.append(group)
    if batch:
        yield batch


def _factor(gain_db: float) -> np.float32:
    return np.float32(10 ** (gain_db / 20))


def _db(factor: float) -> float:
    return 20 * math.log10(factor)
