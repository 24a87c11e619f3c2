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
from typing import Any

from genex.audio.loudness import PEAK_BLOCK, PeakMeter, integrated_lufs
from genex.audio.sound import Sound

TARGET_LUFS = -14.0
CEILING_DBTP = -1.0
MOST_LIMITING_DB = 6.0
_MARGIN_DB = 0.1  # meters interpolate differently by up to this much
_TOLERANCE_LU = 0.05
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


def master(
    sound: Sound,
    target_lufs: float = TARGET_LUFS,
    ceiling_dbtp: float = CEILING_DBTP,
    *,
    loop: bool = True,
) -> tuple[Sound, Measurement]:
    """The sound at a loudness, with true peaks under a ceiling. Silence stays silence.

    ``loop`` measures and limits across the seam, as the sound will repeat.
    """
    loudness = integrated_lufs(sound, loop=loop)
    peak = PeakMeter(sound, loop=loop).highest()
    if loudness is None or peak == 0:
        return sound, Measurement(loudness, _db(peak) if peak else None, 0.0, 0.0)
    ceiling_db = ceiling_dbtp - _MARGIN_DB
    most_gain_db = ceiling_db + MOST_LIMITING_DB - _db(peak)
    gain_db = min(target_lufs - loudness, most_gain_db)
    if _db(peak) + gain_db <= ceiling_db:
        louder = _scaled(sound, gain_db)
        return louder, Measurement(loudness + gain_db, _db(peak) + gain_db, gain_db, 0.0)
    for _ in range(4):
        limited, deepest_db = limit(_scaled(sound, gain_db), ceiling_db, loop=loop)
        reached = integrated_lufs(limited, loop=loop)
        missing = target_lufs - (target_lufs if reached is None else reached)
        if abs(missing) <= _TOLERANCE_LU or gain_db >= most_gain_db:
            break
        gain_db = min(gain_db + missing, most_gain_db)
    final_peak = PeakMeter(limited, loop=loop).highest()
    return limited, Measurement(reached, _db(final_peak), gain_db, deepest_db)


def limit(sound: Sound, ceiling_db: float, *, loop: bool) -> tuple[Sound, float]:
    """The sound with true peaks at or below a ceiling, and the deepest reduction in dB.

    Around each peak that is too high the gain follows a raised-cosine curve of 6 ms on either
    side: the running minimum of what is needed, smoothed over the same length, never lies above
    what is needed.
    """
    ceiling = 10 ** (ceiling_db / 20)
    deepest = 1.0
    for _ in range(3):
        blocks, envelope = PeakMeter(sound, loop=loop).above(ceiling)
        if not len(blocks):
            break
        sound, lowest = _turned_down(sound, blocks, envelope, ceiling, loop=loop)
        deepest *= lowest
    return sound, -_db(deepest) + 0.0


def _turned_down(
    sound: Sound, blocks: Any, envelope: Any, ceiling: float, *, loop: bool
) -> tuple[Sound, float]:
    import numpy as np

    planes = sound.planes.copy()
    frames = planes.shape[1]
    reach = int(_REACH_SECONDS * sound.rate_hz)
    smooth = np.hanning(2 * reach + 3)[1:-1]
    smooth /= smooth.sum()
    needed = np.minimum(1.0, ceiling * _SAFETY / np.maximum(envelope, 1e-9))
    lowest = 1.0
    for group in _neighbours(blocks, 2 + 4 * reach // PEAK_BLOCK):
        first = int(blocks[group[0]]) * PEAK_BLOCK - 2 * reach
        last = (int(blocks[group[-1]]) + 1) * PEAK_BLOCK + 2 * reach
        curve = np.ones(last - first)
        for index in group:
            at = int(blocks[index]) * PEAK_BLOCK - first
            curve[at : at + PEAK_BLOCK] = needed[index]
        floor = np.lib.stride_tricks.sliding_window_view(
            np.pad(curve, reach, constant_values=1.0), 2 * reach + 1
        ).min(axis=1)
        gain = np.convolve(np.pad(floor, reach, constant_values=1.0), smooth, mode="valid")
        where = np.arange(first, last)
        inside = slice(None) if loop else (where >= 0) & (where < frames)
        for plane in planes:
            np.multiply.at(plane, where[inside] % frames, gain[inside].astype(np.float32))
        lowest = min(lowest, float(gain.min()))
    return Sound.of_planes(planes, sound.rate_hz), lowest


def _neighbours(blocks: Any, distance: int) -> list[list[int]]:
    """Indices of ascending block numbers in groups no further apart than ``distance``."""
    groups = [[0]]
    for (_, before), (index, after) in pairwise(enumerate(blocks)):
        if after - before > distance:
            groups.append([])
        groups[-1].append(index)
    return groups


def _scaled(sound: Sound, gain_db: float) -> Sound:
    import numpy as np

    return Sound.of_planes(sound.planes * np.float32(10 ** (gain_db / 20)), sound.rate_hz)


def _db(factor: float) -> float:
    return 20 * math.log10(factor)
