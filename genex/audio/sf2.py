"""What has to be known of a soundfont file before it is played.

Literature: SoundFont Technical Specification 2.04, sections 4 (RIFF layout), 7.4 and 7.8 (the
modulator records of ``pmod`` and ``imod``), 8.2 (modulator sources).
"""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from genex.errors import SoundfontError

_MODULATOR = struct.Struct("<HHhHH")  # source, destination, amount, amount source, transform
_SOURCE_BITS = 0xFF  # index and the flag that makes it a MIDI controller
_NOTE_ON_VELOCITY = 2
_VOICE_AT_ONCE = {0, 1, 2, 3, 4, 8, 9, 12, 15, 16, 17, 45, 48, 50}
"""Destinations whose effect is heard from a note's first moments: offsets, filter, sends, level."""


def require_whole(path: Path) -> None:
    """Raise SoundfontError unless a file is a RIFF soundfont that is all there.

    The synthesizer itself accepts files that end too early and plays silence or noise.
    """
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(12)
    except OSError as problem:
        raise SoundfontError(
            f"the soundfont {path} cannot be read: {problem.strerror}",
            hint="give the path of an .sf2 file",
        ) from problem
    if len(head) < 12 or head[:4] != b"RIFF" or head[8:12] != b"sfbk":
        raise SoundfontError(f"{path} is not a soundfont", hint="give the path of an .sf2 or .sf3 file")
    if size < int.from_bytes(head[4:8], "little") + 8:
        raise SoundfontError(
            f"the soundfont {path} is cut short: its header promises more than the file holds",
            hint="copy or download it again",
        )


def content_digest(path: Path) -> str:
    """SHA-256 of all that is in a file, in hexadecimal digits.

    Name, size and time do not tell soundfonts apart. Takes about 20 ms for 33 MB. Raises OSError.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def velocity_acts_late(path: Path) -> bool:
    """Whether any modulator lets velocity change what happens later in a note (its envelopes, say)."""
    with path.open("rb") as file:
        return any(
            _NOTE_ON_VELOCITY in (source & _SOURCE_BITS, other & _SOURCE_BITS)
            and destination not in _VOICE_AT_ONCE
            for source, destination, _, other, _ in _modulators(file)
        )


def _modulators(file: BinaryIO) -> Iterator[tuple[int, int, int, int, int]]:
    file.seek(12)
    for name, size in chunks(file):
        if name == b"LIST" and file.read(4) == b"pdta":
            end = file.tell() + size - 4
            for inner, length in chunks(file, end):
                if inner in (b"pmod", b"imod"):
                    data = file.read(length)
                    yield from _MODULATOR.iter_unpack(data[: len(data) // 10 * 10])


def chunks(file: BinaryIO, end: int | None = None) -> Iterator[tuple[bytes, int]]:
    """Name and size of each chunk from here on; the file stands at its body."""
    at = file.tell()
    while end is None or at < end:
        file.seek(at)
        head = file.read(8)
        if len(head) < 8:
            return
        size = int.from_bytes(head[4:], "little")
        at += 8 + size + size % 2
        yield head[:4], size
