"""Notes as they are held, and as they are heard once they are let go.

A held note is kept once; a note of any length is that note with a *ramp* on its end: the ratio of
a released envelope to a held one (``envelope``), block by block. The ramp is applied while the
note is added to a mix, so no note is ever copied to be shortened.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from genex.audio.envelope import Envelope
from genex.audio.sound import BLOCK_SAMPLES, SILENCE, Samples

Gains = tuple[float, float]
UNITY: Gains = (1.0, 1.0)


class Note(NamedTuple):
    """A note of a certain length.

    planes       one plane for both sides or one for each, shape (1 or 2, at least ``frames``)
    frames       where the note ends
    gains        left and right
    body_frames  where the ramp begins, on a block of the synthesizer; without a ramp, the end
    ramp         its values at the beginning and the end of each of its blocks, shape (blocks, 2)
    """

    planes: Samples
    frames: int
    gains: Gains
    body_frames: int
    ramp: Samples | None

    @classmethod
    def whole(cls, planes: Samples, gains: Gains = UNITY) -> Note:
        """A note that sounds as it is."""
        return cls(planes, planes.shape[1], gains, planes.shape[1], None)

    def sounding(self) -> Samples:
        """The note by itself, shape (2, frames)."""
        bus = np.zeros((2, self.frames), np.float32)
        self.add_to(bus, 0, 0, self.frames, Scratch(self.frames))
        return bus

    def add_to(self, bus: Samples, at: int, first: int, count: int, scratch: Scratch) -> None:
        """Add ``count`` frames from frame ``first`` on to a bus, shape (2, frames), at a frame."""
        body = max(0, min(count, self.body_frames - first))
        for side, gain in enumerate(self.gains):
            plane = self.planes[min(side, len(self.planes) - 1)]
            again = side and len(self.planes) == 1 and gain == self.gains[0]
            if body:
                part = plane[first : first + body]
                if gain != 1:
                    heard = scratch.body[:body]
                    part = heard if again else np.multiply(part, np.float32(gain), out=heard)
                bus[side, at : at + body] += part
            if body < count and self.ramp is not None:
                heard = scratch.tail[: count - body]
                if not again:
                    start = first + body
                    ramp = scratch.drawn(self.ramp, gain, start - self.body_frames, count - body)
                    np.multiply(plane[start : first + count], ramp, out=heard)
                bus[side, at + body : at + count] += heard


class Scratch:
    """Room to work in, for pieces of so many frames."""

    def __init__(self, frames: int) -> None:
        self.body = np.empty(frames, np.float32)
        self.tail = np.empty(frames, np.float32)
        self._lines = np.empty((frames // BLOCK_SAMPLES + 2, BLOCK_SAMPLES), np.float32)
        time = np.arange(BLOCK_SAMPLES, dtype=np.float32) / np.float32(BLOCK_SAMPLES)
        self._weights = np.stack((1 - time, time))

    def drawn(self, ramp: Samples, gain: float, first: int, count: int) -> Samples:
        """Frames of a ramp at a gain, valid until the next: a straight line in every block.

        The amplitudes of the held and the released note move in straight lines; so does, but for
        less than a ten-thousandth, what lies between them.
        """
        block, skipped = divmod(first, BLOCK_SAMPLES)
        ends = ramp[block : -(-(first + count) // BLOCK_SAMPLES)] * np.float32(gain)
        lines = np.matmul(ends, self._weights, out=self._lines[: len(ends)])
        frames: Samples = lines.reshape(-1)[skipped : skipped + count]
        return frames


class Held(NamedTuple):
    """A held note.

    planes    one plane for both sides if they are equal, else one for each
    peaks     largest magnitude in each of its blocks
    blocks    how many were asked for
    envelope  that of its voices if they all share one, else None
    """

    planes: Samples
    peaks: Samples
    blocks: int
    envelope: Envelope | None

    @classmethod
    def of(cls, planes: Samples, blocks: int, envelope: Envelope | None) -> Held:
        """A held note from both of its planes, shape (2, frames)."""
        if np.array_equal(planes[0], planes[1]):
            planes = planes[:1]
        loudest = np.abs(planes).max(axis=0)
        whole = len(loudest) // BLOCK_SAMPLES * BLOCK_SAMPLES
        peaks = np.empty(-(-len(loudest) // BLOCK_SAMPLES), np.float32)
        peaks[: whole // BLOCK_SAMPLES] = loudest[:whole].reshape(-1, BLOCK_SAMPLES).max(axis=1)
        if whole < len(loudest):
            peaks[-1] = loudest[whole:].max()
        return cls(np.ascontiguousarray(planes), peaks, blocks, envelope)

    @property
    def size_bytes(self) -> int:
        """Of all samples."""
        return self.planes.nbytes + self.peaks.nbytes

    def released(self, hold_blocks: int, choke_blocks: int, gains: Gains) -> Note:
        """The note let go, or cut off by its exclusive class, after so many blocks.

        It ends where it stays below ``SILENCE``.
        """
        first = min(hold_blocks, choke_blocks) if choke_blocks else hold_blocks
        start = first * BLOCK_SAMPLES
        if self.planes.shape[1] <= start or self.envelope is None:
            return Note.whole(self.planes, gains)
        tail = self.peaks[first:]
        lines, highest = self.envelope.ramp(hold_blocks, choke_blocks, len(tail))
        count = min(len(tail), len(lines))
        heard = np.flatnonzero(tail[:count] * highest[:count] > SILENCE)
        blocks = first + int(heard[-1]) + 1 if len(heard) else first
        frames = min(self.planes.shape[1], blocks * BLOCK_SAMPLES)
        return Note(self.planes, frames, gains, start, lines)
