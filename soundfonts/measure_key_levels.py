"""Make ``genex/audio/key_levels.json``: gains that level the keys of the default soundfont's presets.

Every key of every melodic preset is played at a few velocities; its level is the K-weighted energy
[published: ITU-R BS.1770-4] of the first half second. The gain of a key brings it to what its
neighbourhood has (a Gaussian mean over the keys), so a preset keeps its balance of low and high and
loses its steps. Velocity reaches the filter of some presets from 64 on: they have gains for several
velocities.

Usage::

    python soundfonts/measure_key_levels.py
"""

from __future__ import annotations

import hashlib
import json

import numpy as np
from measure_soundfont import RANGES

from genex.audio import Soundfont
from genex.audio.k_weighting import k_weighting
from genex.audio.key_levels import TABLE
from genex.audio.timing import Strike
from genex.resources import default_soundfont

RATE_HZ = 48_000
VELOCITIES = (63, 64, 72, 80, 90, 104, 127)
NEIGHBOURHOOD_KEYS = 5.0
"""Standard deviation of the mean over neighbouring keys."""
ALIKE_DB = 0.15
"""Where no gain differs by more between velocities one row does."""
_TRANSFORM = 1 << 16


def levels(font: Soundfont, program: int, keys: range) -> np.ndarray:
    """In dB, shape (n_velocities, n_keys)."""
    b, a = k_weighting(RATE_HZ)
    z = np.exp(-2j * np.pi * np.arange(_TRANSFORM // 2 + 1) / _TRANSFORM)
    weights = np.abs(np.polyval(b[::-1], z) / np.polyval(a[::-1], z)) ** 2
    found = np.zeros((len(VELOCITIES), len(keys)))
    strikes = [Strike(False, program, key, velocity, 0) for key in keys for velocity in VELOCITIES]
    for strike, held in font.held((strike, RATE_HZ // 2 // 64) for strike in strikes):
        energy = (np.abs(np.fft.rfft(held.planes[:, : RATE_HZ // 2], _TRANSFORM)) ** 2 * weights).sum()
        level = 10 * np.log10(energy * 2 / len(held.planes))
        found[VELOCITIES.index(strike.velocity), strike.key - keys.start] = level
    return found


def gains(found: np.ndarray) -> np.ndarray:
    """What each key lacks to the mean of its neighbourhood, in dB."""
    keys = np.arange(found.shape[1])
    near = np.exp(-(((keys[:, None] - keys) / NEIGHBOURHOOD_KEYS) ** 2) / 2)
    # A line through the neighbourhood and not its mean alone, so that the ends keep their slope.
    smooth = np.empty_like(found)
    for key in keys:
        root = np.sqrt(near[key])[:, None]
        line = np.stack((np.ones(len(keys)), keys - key), axis=1)
        smooth[:, key] = np.linalg.lstsq(line * root, found.T * root, rcond=None)[0][0]
    return smooth - found


def main() -> None:
    """Measure and write."""
    path = default_soundfont()
    presets = {}
    with Soundfont(path, RATE_HZ) as font:
        for program, (low, high) in RANGES.items():
            before = levels(font, program, range(low, high + 1))
            rows = np.round(gains(before), 1)
            step, after = (np.abs(np.diff(x, axis=1)).max() for x in (before, before + rows))
            if np.ptp(rows, axis=0).max() <= ALIKE_DB:
                rows = rows[-1:]
            velocities = VELOCITIES[-len(rows) :]
            presets[program] = {
                "lowest_key": low,
                "gains_db": {str(v): row.tolist() for v, row in zip(velocities, rows, strict=True)},
            }
            print(f"{program:3}: largest step {step:.1f} dB, levelled {after:.1f} dB")
    data = path.read_bytes()
    table = {"bytes": len(data), "sha256": hashlib.sha256(data).hexdigest(), "presets": presets}
    text = json.dumps(table).replace(' "presets"', '\n "presets"').replace('}}, "', '}},\n  "')
    TABLE.write_text(text + "\n", "utf-8")


if __name__ == "__main__":
    main()
