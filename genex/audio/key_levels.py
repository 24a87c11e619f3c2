"""Gains that level the keys of the default soundfont: neighbouring notes are equally loud.

Its recordings were made key by key, some 3 to 8 dB louder than the one beside it. The gains are data
(``key_levels.json``, made by ``soundfonts/measure_key_levels.py``) and belong to that soundfont's
content: any other one is played as it is.
"""

from __future__ import annotations

import json
from bisect import bisect_right
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from genex.audio.sf2 import content_digest

TABLE = Path(__file__).with_suffix(".json")


class _Preset(NamedTuple):
    lowest_key: int
    velocities: tuple[int, ...]
    gains_db: tuple[tuple[float, ...], ...]  # of each velocity, from the lowest key up


class KeyLevels:
    """The gains of a soundfont's keys; of any but the default one they are all 1."""

    def __init__(self, soundfont: Path, digest: str | None = None) -> None:
        """``digest`` is that of the soundfont's content if it is known. Raises OSError."""
        size, own_digest, presets = _table()
        is_measured = soundfont.stat().st_size == size and (
            (digest or content_digest(soundfont)) == own_digest
        )
        self._presets = presets if is_measured else {}

    def gain(self, program: int, key: int, velocity: int) -> float:
        """The factor of a melodic note; that of the nearest key and velocity that were measured.

        Between two measured velocities it is interpolated.
        """
        preset = self._presets.get(program)
        if preset is None:
            return 1.0
        place = min(max(key - preset.lowest_key, 0), len(preset.gains_db[0]) - 1)
        after = bisect_right(preset.velocities, velocity)
        before = max(0, after - 1)
        after = min(after, len(preset.velocities) - 1)
        low, high = preset.velocities[before], preset.velocities[after]
        share = (velocity - low) / (high - low) if high > low else 0.0
        one, other = preset.gains_db[before][place], preset.gains_db[after][place]
        return float(10 ** ((one + (other - one) * share) / 20))

    def table(self, program: int) -> tuple[int, tuple[int, ...], tuple[tuple[float, ...], ...]] | None:
        """Lowest key, velocities, and for each velocity the gains in dB from that key up."""
        preset = self._presets.get(program)
        return (preset.lowest_key, preset.velocities, preset.gains_db) if preset else None


@lru_cache(maxsize=1)
def _table() -> tuple[int, str, dict[int, _Preset]]:
    """Size and digest of the soundfont that was measured, and its presets by program."""
    data = json.loads(TABLE.read_text("utf-8"))
    presets = {
        int(program): _Preset(
            preset["lowest_key"],
            tuple(int(velocity) for velocity in preset["gains_db"]),
            tuple(tuple(row) for row in preset["gains_db"].values()),
        )
        for program, preset in data["presets"].items()
    }
    return data["bytes"], data["sha256"], presets
