"""WAVE files with loop points, markers and tags, written byte for byte the same every time.

Literature: Microsoft/IBM Multimedia Programming Interface and Data Specifications 1.0 (1991) for
``fmt``, ``cue``, ``LIST adtl`` and ``LIST INFO``; Microsoft Multimedia Standards Update 3.0 (1994)
for ``smpl`` and for the float format with its ``fact`` chunk. All fields are little-endian, chunks
are padded to even sizes. The end of a ``smpl`` loop is its last frame, inclusive.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray

from genex.audio.markers import Marker
from genex.audio.pieces import write_pieces
from genex.audio.sound import Samples, Sound
from genex.audio.tape import stretches

_DITHER_SEED = 16

_PCM, _IEEE_FLOAT = 1, 3
_MIDDLE_C = 60
_CHUNK_FRAMES = 1 << 15
_COPIED_BYTES = 1 << 20
_LARGEST = 0xFFFF_FFFF
_INFO_FIELDS = {
    "title": b"INAM",
    "artist": b"IART",
    "album": b"IPRD",
    "genre": b"IGNR",
    "comment": b"ICMT",
    "software": b"ISFT",
}


def write_wav(
    path: Path,
    sound: Sound,
    *,
    bits: int = 24,
    is_float: bool = False,
    tags: Mapping[str, str] | None = None,
    markers: Sequence[Marker] = (),
    loop: bool = False,
) -> str:
    """Write a sound as 16 (dithered) or 24-bit integers or 32-bit floats; SHA-256 of the file.

    ``loop`` marks the whole file as a loop. Tags that WAVE has no field for join the comment.
    Raises OSError, and ValueError for a sound of more than four gigabytes.
    """
    frames = len(sound.samples)
    before, after = _around(frames, sound.rate_hz, bits, is_float, tags or {}, markers, loop)

    def pieces() -> Iterator[bytes | memoryview]:
        yield before
        planes = sound.planes
        dither = Dither() if bits == 16 else None
        for start, end in stretches(planes):
            for first in range(start, end, _CHUNK_FRAMES):
                part = planes[:, first : min(first + _CHUNK_FRAMES, end)]
                yield _encoded(part, bits, is_float, dither)
        yield after

    return write_pieces(path, pieces())


def rewrite_wav(
    source: IO[bytes],
    path: Path,
    frames: int,
    rate_hz: int,
    *,
    bits: int,
    is_float: bool,
    tags: Mapping[str, str],
    markers: Sequence[Marker],
    loop: bool,
) -> str:
    """Write the samples of a file of ``write_wav`` with other tags and markers: what that would write.

    SHA-256 of the file. Raises OSError, ValueError for another file.
    """
    before, after = _around(frames, rate_hz, bits, is_float, tags, markers, loop)
    head = source.read(len(before))
    if head[:4] != before[:4] or head[8:] != before[8:]:  # all but the size of the whole
        raise ValueError("not a WAVE file as it was written")

    def pieces() -> Iterator[bytes]:
        yield before
        left = frames * _frame_bytes(bits)
        while left and (piece := source.read(min(left, _COPIED_BYTES))):
            yield piece
            left -= len(piece)
        if left:
            raise ValueError("the WAVE file ends too early")
        yield after

    return write_pieces(path, pieces())


def _around(
    frames: int,
    rate_hz: int,
    bits: int,
    is_float: bool,
    tags: Mapping[str, str],
    markers: Sequence[Marker],
    loop: bool,
) -> tuple[bytes, bytes]:
    """What stands before the samples and behind them. Raises ValueError for more than four gigabytes."""
    data_size = frames * _frame_bytes(bits)
    head = [_chunk(b"fmt ", _format(rate_hz, bits, is_float=is_float))]
    if is_float:
        head.append(_chunk(b"fact", struct.pack("<I", frames)))
    tail = [b"\0" * (data_size % 2)]
    if loop and frames:
        tail.append(_chunk(b"smpl", _loop_points(frames, rate_hz)))
    if markers:
        tail.append(_chunk(b"cue ", _cue_points(markers)))
        tail.append(_chunk(b"LIST", b"adtl" + b"".join(_labels(markers))))
    if tags:
        tail.append(_chunk(b"LIST", b"INFO" + b"".join(_info(tags))))
    head.append(b"data" + struct.pack("<I", data_size))
    before, after = b"".join(head), b"".join(tail)
    size = 4 + len(before) + data_size + len(after)
    if size > _LARGEST:
        raise ValueError("a WAVE file cannot hold more than four gigabytes")
    return b"RIFF" + struct.pack("<I", size) + b"WAVE" + before, after


class Dither:
    """Noise that keeps rounding from following the sound: two steps wide, triangular in density.

    Its sum with any sound rounds to an error whose mean and power do not depend on the sound
    [published: Lipshitz, Wannamaker and Vanderkooy 1992]. The same in every file.
    """

    def __init__(self) -> None:
        # The legacy generator: its stream is promised never to change.
        self._random = np.random.RandomState(_DITHER_SEED)

    def noise(self, shape: tuple[int, ...]) -> Samples:
        """More of it, in steps of quantisation, from -1 to 1."""
        drawn = self._random.randint(0, 1 << 16, (2, *shape), np.uint16).astype(np.float32)
        triangular: Samples = drawn[0]
        triangular -= drawn[1]
        triangular /= np.float32(1 << 16)
        return triangular


def quantised(planes: Samples, bits: int, dither: Dither | None = None) -> NDArray[np.int32]:
    """Planes as int32 of ``bits`` bits: rounded to the nearest, held inside the range."""
    full = 1 << (bits - 1)
    scaled = planes * np.float32(full)
    if dither:
        scaled += dither.noise(scaled.shape)
    np.rint(scaled, out=scaled)
    np.clip(scaled, -full, full - 1, out=scaled)  # both ends are exact in float32
    return scaled.astype(np.int32)


def _encoded(
    planes: Samples, bits: int, is_float: bool, dither: Dither | None = None
) -> bytes | memoryview:
    if is_float:
        return np.ascontiguousarray(planes.T, "<f4").data.cast("B")
    whole = quantised(planes, bits, dither)
    if bits == 16:
        return np.ascontiguousarray(whole.T, "<i2").data.cast("B")
    return _packed_24(whole)


def _packed_24(planes: NDArray[np.int32]) -> memoryview:
    """Frames of two numbers of 24 bits, six bytes each, from shape (2, n_samples).

    Words of four bytes are written three bytes apart. The fourth is the first of the next number:
    lefts are written first, and each right brings that of the left after it.
    """
    left, right = planes
    frames = len(left)
    packed = np.empty(6 * frames + 4, np.uint8)
    right = right & 0xFF_FFFF
    right[:-1] |= left[1:] << 24
    for at, side in ((0, left), (3, right)):
        np.ndarray((frames,), "<i4", packed, at, (6,))[:] = side
    return packed.data[: 6 * frames]


def _chunk(name: bytes, body: bytes) -> bytes:
    return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


def _format(rate_hz: int, bits: int, *, is_float: bool) -> bytes:
    frame_bytes = _frame_bytes(bits)
    kind = _IEEE_FLOAT if is_float else _PCM
    fields = struct.pack("<HHIIHH", kind, 2, rate_hz, rate_hz * frame_bytes, frame_bytes, bits)
    return fields + (struct.pack("<H", 0) if is_float else b"")


def _frame_bytes(bits: int) -> int:
    return 2 * bits // 8


def _loop_points(frames: int, rate_hz: int) -> bytes:
    period_ns = round(1_000_000_000 / rate_hz)
    head = struct.pack("<9I", 0, 0, period_ns, _MIDDLE_C, 0, 0, 0, 1, 0)
    return head + struct.pack("<6I", 0, 0, 0, frames - 1, 0, 0)


def _cue_points(markers: Sequence[Marker]) -> bytes:
    points = (
        struct.pack("<II4sIII", number, marker.sample, b"data", 0, 0, marker.sample)
        for number, marker in enumerate(markers, 1)
    )
    return struct.pack("<I", len(markers)) + b"".join(points)


def _labels(markers: Sequence[Marker]) -> list[bytes]:
    return [
        _chunk(b"labl", struct.pack("<I", number) + _text(marker.label))
        for number, marker in enumerate(markers, 1)
    ]


def _info(tags: Mapping[str, str]) -> list[bytes]:
    known = {name: text for name, text in tags.items() if name in _INFO_FIELDS}
    rest = [f"{name}: {text}" for name, text in tags.items() if name not in _INFO_FIELDS]
    if rest:
        known["comment"] = "; ".join([*([known["comment"]] if "comment" in known else []), *rest])
    return [_chunk(_INFO_FIELDS[name], _text(known[name])) for name in _INFO_FIELDS if name in known]


def _text(text: str) -> bytes:
    return text.replace("\0", " ").encode() + b"\0"
