"""Adding up notes, parts and the room. Gains are fixed; nothing is normalised here.

Each part has a level, a pan and a send to the room. The pan follows the constant-power law with
unity at the centre, as a balance for stereo sources [common practice].

Audio is worked on as planes, shape (2, frames), in stretches that stay in the processor's cache.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from genex.audio.room import reverberate
from genex.audio.sound import Sound
from genex.score import Mix

if TYPE_CHECKING:
    from genex.audio.sound import Samples

_STRETCH_FRAMES = 1 << 15


Gains = tuple[float, float]
UNITY: Gains = (1.0, 1.0)


class Track(NamedTuple):
    """A part on the desk: its place in the mix and its sounds, each (start frame, planes, gains)."""

    mix: Mix
    sounds: Sequence[tuple[int, Samples, Gains]]


class _Piece(NamedTuple):
    """A part of a sound within one stretch: where it goes, its planes and gains."""

    start: int
    planes: Samples
    gains: Gains


def pan_gains(mix: Mix) -> tuple[float, float]:
    """Left and right gain of a part's level and pan."""
    level = 10 ** (mix.level_db / 20)
    angle = (max(-1.0, min(1.0, mix.pan)) + 1) * math.pi / 4
    return level * math.sqrt(2) * math.cos(angle), level * math.sqrt(2) * math.sin(angle)


def mix_down(tracks: Iterable[Track], frames: int, rate_hz: int, *, wrap: bool) -> Sound:
    """All tracks and their room in ``frames`` frames.

    With ``wrap`` what lies before or after comes round at the other end, as often as needed, and
    so does the room's tail; without, it is cut off.
    """
    import numpy as np

    planes = np.zeros((2, frames), np.float32)
    send = np.zeros(frames, np.float32)
    sends = False
    bus = np.empty((2, _STRETCH_FRAMES), np.float32)
    scratch = np.empty(_STRETCH_FRAMES, np.float32)
    for track in tracks:
        left, right = pan_gains(track.mix)
        room = np.float32(track.mix.room / 2)
        sends = sends or bool(room)
        for number, pieces in _stretches(track.sounds, frames, wrap=wrap).items():
            first = number * _STRETCH_FRAMES
            part = bus[:, : frames - first]
            part.fill(0)
            for start, sound, gains in pieces:
                count = sound.shape[1]
                for side, gain in enumerate(gains):
                    heard = sound[side]
                    if gain != 1.0:
                        heard = np.multiply(heard, np.float32(gain), out=scratch[:count])
                    part[side, start : start + count] += heard
            part[0] *= np.float32(left)
            part[1] *= np.float32(right)
            planes[:, first : first + part.shape[1]] += part
            if room:
                part[0] += part[1]
                part[0] *= room
                send[first : first + part.shape[1]] += part[0]
    if sends:
        for side, wet in enumerate(reverberate(send, rate_hz)):
            if wrap:
                _add_folded(planes[side], wet)
            else:
                planes[side] += wet[:frames]
    return Sound.of_planes(planes, rate_hz)


def _stretches(
    sounds: Iterable[tuple[int, Samples, Gains]], frames: int, *, wrap: bool
) -> dict[int, list[_Piece]]:
    """Sounds cut where stretches (and the loop) end, by the number of the stretch."""
    found: dict[int, list[_Piece]] = defaultdict(list)
    for start, planes, gains in sounds:
        at, taken, length = start, 0, planes.shape[1]
        if wrap:
            at %= frames
        elif at < 0:
            at, taken = 0, -at
        while taken < length and at < frames:
            number, offset = divmod(at, _STRETCH_FRAMES)
            count = min(length - taken, _STRETCH_FRAMES - offset, frames - at)
            found[number].append(_Piece(offset, planes[:, taken : taken + count], gains))
            taken += count
            at += count
            if wrap and at == frames:
                at = 0
    return found


def _add_folded(plane: Samples, wet: Samples) -> None:
    """Add ``wet`` to a plane from its start on, again and again if it is longer."""
    frames = len(plane)
    for first in range(0, len(wet), frames):
        rest = wet[first : first + frames]
        plane[: len(rest)] += rest
