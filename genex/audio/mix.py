"""Adding up notes, parts and the room. Gains are fixed; nothing is normalised here.

Each part has a level, a pan and a send to the room. The pan follows the constant-power law with
unity at the centre, as a balance for stereo sources [common practice].

Audio is worked on as planes, shape (2, n_samples), in stretches that stay in the processor's cache:
in each, every part is added up on a bus of its own, and one matrix product brings all buses to
left, right and the room's send.
"""

from __future__ import annotations

import math
from array import array
from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from typing import NamedTuple

import numpy as np

from genex.audio.held import Note, Scratch
from genex.audio.low_cut import cut_lows
from genex.audio.room import Room
from genex.audio.sound import Samples, Sound
from genex.audio.tape import blank, stretches
from genex.score import Mix

_STRETCH_FRAMES = 1 << 15
_NAMES_REMEMBERED = 64


class Track(NamedTuple):
    """A part on the desk: its place in the mix and its notes, each with the frame it starts at.

    Tracks of the same ``name`` are the same; None has none. One that ``comes_again`` is to be kept.
    """

    mix: Mix
    notes: Sequence[tuple[int, Note]]
    name: Hashable = None
    comes_again: bool = False


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
    there. Nothing is left below 20 Hz.
    """
    played = [_Played(track, frames, wrap=wrap, shelf=shelf) for track in tracks]
    desk = _desk([track.track.mix for track in played])
    planes = blank(frames)
    room = Room(rate_hz, planes, wrap=wrap) if desk[2].any() else None
    buses = np.empty((2 * len(played), _STRETCH_FRAMES), np.float32)
    for start, end in stretches(planes) if played else ():
        for first in range(start, end, _STRETCH_FRAMES):
            count = min(_STRETCH_FRAMES, end - first)
            for index, track in enumerate(played):
                track.play(first, buses[2 * index : 2 * index + 2, :count])
            left, right, send = desk @ buses[:, :count]
            planes[0, first : first + count] = left
            planes[1, first : first + count] = right
            if room:
                room.hear(send)
    for track in played:
        track.shelve()
    if room:
        room.ring_out()
    cut_lows(planes, rate_hz, wrap=wrap)
    return Sound.of_planes(planes, rate_hz)


def _desk(mixes: Sequence[Mix]) -> Samples:
    """Weights of all buses (left and right of each part) in left, right and the room's send.

    Shape (3, 2 * n_parts).
    """
    weights = np.zeros((3, 2 * len(mixes)), np.float32)
    for index, mix in enumerate(mixes):
        left, right = pan_gains(mix)
        weights[0, 2 * index] = left
        weights[1, 2 * index + 1] = right
        weights[2, 2 * index : 2 * index + 2] = mix.room / 2 * left, mix.room / 2 * right
    return weights


class Mixed(NamedTuple):
    """A track mixed to a length, as a loop or as a take."""

    track: Hashable
    frames: int
    wrap: bool


class Shelf:
    """Dry tracks that were mixed more than once, the latest ones, up to a limit in memory.

    The drums of a tune are the same in every key, and each part is needed by the mix, its stem
    and the mixes without some other part. What is mixed for the first time is only noted, unless it
    is known that it ``comes_again``: most tracks are never asked for again. A loop (or take) of
    another length is in another tempo, and makes room for those of its own.
    """

    def __init__(self, most_bytes: int) -> None:
        self._most_bytes = most_bytes
        self._tracks: dict[Mixed, Samples] = {}
        self._seen: dict[int, None] = {}

    def get(self, name: Mixed) -> Samples | None:
        """The track of that name, if it is kept."""
        found = self._tracks.pop(name, None)
        if found is not None:
            self._tracks[name] = found  # now the latest
        return found

    def wants(self, name: Mixed, size_bytes: int, *, comes_again: bool = False) -> bool:
        """Whether a track of that name, which is not kept, is worth keeping."""
        for other in list(self._tracks):
            if other.wrap == name.wrap and other.frames != name.frames:
                del self._tracks[other]
        again = comes_again or hash(name) in self._seen
        self._seen[hash(name)] = None
        while len(self._seen) > _NAMES_REMEMBERED:
            del self._seen[next(iter(self._seen))]
        return again and size_bytes <= self._most_bytes

    def put(self, name: Mixed, planes: Samples) -> None:
        """Keep a track, and let the oldest ones go if there are too many."""
        self._tracks[name] = planes
        while sum(kept.nbytes for kept in self._tracks.values()) > self._most_bytes:
            del self._tracks[next(iter(self._tracks))]


class _Played:
    """A track, stretch by stretch, without level and pan."""

    def __init__(self, track: Track, frames: int, *, wrap: bool, shelf: Shelf | None) -> None:
        self.track = track
        self._shelf = shelf if track.name is not None else None
        self._name = Mixed(track.name, frames, wrap)
        self._kept = self._shelf.get(self._name) if self._shelf else None
        self._new: Samples | None = None
        self._pieces: dict[int, array[int]] = {}
        if self._kept is None:
            self._pieces = _pieces(track.notes, frames, wrap=wrap)
            self._scratch = Scratch(_STRETCH_FRAMES)
            if self._shelf and self._shelf.wants(self._name, 8 * frames, comes_again=track.comes_again):
                self._new = np.zeros((2, frames), np.float32)

    def play(self, first: int, bus: Samples) -> None:
        """Put the stretch that begins at a frame on a bus."""
        count = bus.shape[1]
        if self._kept is not None:
            bus[:] = self._kept[:, first : first + count]
            return
        bus.fill(0)
        numbers = iter(self._pieces.get(first // _STRETCH_FRAMES, ()))
        for index, at, start, frames in zip(numbers, numbers, numbers, numbers, strict=True):
            self.track.notes[index][1].add_to(bus, at, start, frames, self._scratch)
        if self._new is not None:
            self._new[:, first : first + count] = bus

    def shelve(self) -> None:
        """Keep what was played, if that is wanted."""
        if self._shelf and self._new is not None:
            self._shelf.put(self._name, self._new)


def _pieces(notes: Iterable[tuple[int, Note]], frames: int, *, wrap: bool) -> dict[int, array[int]]:
    """Notes cut where stretches (and the loop) end, by the number of the stretch.

    Four numbers for each piece: which note, at which frame of the stretch, from which frame of the
    note, how many frames.
    """
    found: dict[int, array[int]] = defaultdict(lambda: array("q"))
    for index, (start, note) in enumerate(notes):
        at, taken, length = start, 0, note.frames
        if wrap:
            at %= frames
        elif at < 0:
            at, taken = 0, -at
        while taken < length and at < frames:
            number, offset = divmod(at, _STRETCH_FRAMES)
            size = min(length - taken, _STRETCH_FRAMES - offset, frames - at)
            found[number].extend((index, offset, taken, size))
            taken += size
            at += size
            if wrap and at == frames:
                at = 0
    return found
