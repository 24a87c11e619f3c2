"""Adding up notes, parts and the room. Gains are fixed; nothing is normalised here.

Each part has a level, a pan and a send to the room. The pan follows the constant-power law with
unity at the centre, as a balance for stereo sources [common practice].

Audio is worked on as planes, shape (2, frames), in stretches that stay in the processor's cache.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

from genex.audio.room import reverberate
from genex.audio.sound import Sound
from genex.score import Mix

if TYPE_CHECKING:
    from genex.audio.sound import Samples

_STRETCH_FRAMES = 1 << 15
_NAMES_REMEMBERED = 64


Gains = tuple[float, float]
UNITY: Gains = (1.0, 1.0)


class Track(NamedTuple):
    """A part on the desk: its place in the mix and its sounds, each (start frame, planes, gains).

    Tracks of the same ``name`` are the same; None has none.
    """

    mix: Mix
    sounds: Sequence[tuple[int, Samples, Gains]]
    name: Hashable = None


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


def mix_down(
    tracks: Iterable[Track], frames: int, rate_hz: int, *, wrap: bool, shelf: Shelf | None = None
) -> Sound:
    """All tracks and their room in ``frames`` frames.

    With ``wrap`` what lies before or after comes round at the other end, as often as needed, and
    so does the room's tail; without, it is cut off. Tracks found on the ``shelf`` are taken from
    there.
    """
    import numpy as np

    planes = np.zeros((2, frames), np.float32)
    send = np.zeros(frames, np.float32)
    sends = False
    for track in tracks:
        room = np.float32(track.mix.room / 2)
        sends = sends or bool(room)
        for first, part in _levelled(track, frames, wrap=wrap, shelf=shelf):
            planes[:, first : first + part.shape[1]] += part
            if room:
                mono = np.add(part[0], part[1])
                mono *= room
                send[first : first + part.shape[1]] += mono
    if sends:
        for side, wet in enumerate(reverberate(send, rate_hz)):
            if wrap:
                _add_folded(planes[side], wet)
            else:
                planes[side] += wet[:frames]
    return Sound.of_planes(planes, rate_hz)


class Shelf:
    """Dry tracks that were mixed more than once, the latest ones, up to a limit in memory.

    The drums of a tune are the same in every key, and each part is needed by the mix, its stem
    and the mixes without some other part. What is mixed for the first time is only noted: most
    tracks are never asked for again.
    """

    def __init__(self, most_bytes: int) -> None:
        self._most_bytes = most_bytes
        self._tracks: dict[Hashable, Samples] = {}
        self._seen: dict[int, None] = {}

    def get(self, name: Hashable) -> Samples | None:
        """The track of that name, if it is kept."""
        found = self._tracks.pop(name, None)
        if found is not None:
            self._tracks[name] = found  # now the latest
        return found

    def wants(self, name: Hashable, size_bytes: int) -> bool:
        """Whether a track of that name is worth keeping."""
        again = hash(name) in self._seen
        self._seen[hash(name)] = None
        while len(self._seen) > _NAMES_REMEMBERED:
            del self._seen[next(iter(self._seen))]
        return again and size_bytes * 2 <= self._most_bytes

    def put(self, name: Hashable, planes: Samples) -> None:
        """Keep a track, and let the oldest ones go if there are too many."""
        self._tracks[name] = planes
        while sum(kept.nbytes for kept in self._tracks.values()) > self._most_bytes:
            del self._tracks[next(iter(self._tracks))]


def _levelled(
    track: Track, frames: int, *, wrap: bool, shelf: Shelf | None
) -> Iterator[tuple[int, Samples]]:
    """The stretches of a track at its level and pan: first frame and planes, valid until the next."""
    import numpy as np

    name = (track.name, track.mix, frames, wrap)
    shelf = shelf if track.name is not None else None
    kept = shelf.get(name) if shelf else None
    if kept is not None:
        for first in range(0, frames, _STRETCH_FRAMES):
            yield first, kept[:, first : first + _STRETCH_FRAMES]
        return
    keep = shelf and shelf.wants(name, 8 * frames)
    whole = np.zeros((2, frames), np.float32) if keep else None
    left, right = (np.float32(gain) for gain in pan_gains(track.mix))
    bus = np.empty((2, _STRETCH_FRAMES), np.float32)
    scratch = np.empty(_STRETCH_FRAMES, np.float32)
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
        part[0] *= left
        part[1] *= right
        if whole is not None:
            whole[:, first : first + part.shape[1]] = part
        yield first, part
    if shelf and whole is not None:
        shelf.put(name, whole)


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
