"""Placing strikes on buses and mixing the buses. Gains are fixed; nothing is normalised here.

Each part has a level, a pan and a send to the room. A strike is scaled once for its part's level
and pan and then only added. The pan follows the constant-power law with unity at the centre, as
a balance for stereo sources [common practice].
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from genex.audio.room import reverberate
from genex.audio.sound import Sound
from genex.audio.timing import Placement, Strike
from genex.score import Mix

if TYPE_CHECKING:
    from genex.audio.sound import Samples


def bus_gains(mix: Mix) -> tuple[float, float]:
    """Left and right gain of a part's level and pan."""
    level = 10 ** (mix.level_db / 20)
    angle = (max(-1.0, min(1.0, mix.pan)) + 1) * math.pi / 4
    return level * math.sqrt(2) * math.cos(angle), level * math.sqrt(2) * math.sin(angle)


def place(
    bus: Samples,
    placed: Iterable[Placement],
    notes: Mapping[Strike, Samples],
    mix: Mix,
    *,
    wrap: bool,
    first_sample: int = 0,
) -> None:
    """Add every placed strike to ``bus`` (frames, 2).

    ``first_sample`` is the position of the bus's first frame. With ``wrap`` what lies before or
    after the bus comes round at its other end, as often as needed; without, it is cut off.
    """
    import numpy as np

    gains = np.array(bus_gains(mix), np.float32)
    scaled: dict[Strike, Samples] = {}
    frames = len(bus)
    for start_sample, strike in placed:
        if strike not in scaled:
            scaled[strike] = notes[strike] * gains
        samples = scaled[strike]
        start = start_sample - first_sample
        if wrap:
            start %= frames
        elif start < 0:
            samples, start = samples[-start:], 0
        while len(samples):
            room_left = frames - start
            if len(samples) <= room_left:
                bus[start : start + len(samples)] += samples
                break
            bus[start:] += samples[: max(0, room_left)]
            if not wrap:
                break
            samples, start = samples[max(0, room_left) :], 0


def fold(samples: Samples, frames: int) -> Samples:
    """The first ``frames`` with everything after them added from the start on, again and again."""
    import numpy as np

    folded = np.ascontiguousarray(samples[:frames])
    for first in range(frames, len(samples), frames):
        rest = samples[first : first + frames]
        folded[: len(rest)] += rest
    return folded


class Desk:
    """Collects parts into a dry mix and a send to the room."""

    def __init__(self, frames: int, rate_hz: int) -> None:
        import numpy as np

        self._dry = np.zeros((frames, 2), np.float32)
        self._send = np.zeros(frames, np.float32)
        self._rate_hz = rate_hz
        self._sends = False

    def add(self, bus: Samples, room: float) -> None:
        """Add a part's bus, and ``room`` times its mono sum to the send."""
        import numpy as np

        self._dry += bus
        if room > 0:
            self._send += bus @ np.array((room / 2, room / 2), np.float32)
            self._sends = True

    def sound(self, *, wrap: bool) -> Sound:
        """Dry mix and room together; with ``wrap`` the room's tail comes round to the start."""
        mixed = self._dry
        if self._sends:
            wet = reverberate(self._send, self._rate_hz)
            mixed += fold(wet, len(mixed)) if wrap else wet[: len(mixed)]
        return Sound(mixed, self._rate_hz)
