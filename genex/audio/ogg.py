"""Ogg pages made the same in every build, and Opus streams that loop.

Literature: RFC 3533 (Ogg pages and their checksum), RFC 7845 (Opus in Ogg: pre-skip, end
trimming, 80 ms for a decoder to settle).

An Ogg writer numbers its stream at random; here the number is fixed and each page's checksum is
made anew.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator

_HEADER = struct.Struct("<4sBBqIIIB")  # capture, version, flags, granule, serial, number, CRC, segments
_LAST_PAGE = 0x04
_SERIAL = 0x67656E78
_REVERSED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
_PRE_SKIP = slice(10, 12)  # in the OpusHead packet


def with_fixed_serial(data: bytes) -> bytes:
    """The same stream under a fixed serial number."""
    pages = (_page(flags, granule, number, body) for flags, granule, number, body in _pages(data))
    return b"".join(pages)


def trimmed_opus(data: bytes, first: int, frames: int) -> bytes:
    """An Opus stream of which a decoder plays only ``frames`` frames from ``first`` on.

    The rest is decoded and thrown away: what comes before lets the decoder settle, what comes
    after completes the last block. Both are in frames at 48 kHz. Raises ValueError for a stream
    that is no Opus stream or too short.
    """
    out = []
    end = None
    for flags, granule, number, body in _pages(data):
        if number == 0:
            table, packet = body[: body[0] + 1], bytearray(body[body[0] + 1 :])
            if packet[:8] != b"OpusHead":
                raise ValueError("not an Opus stream")
            skip = int.from_bytes(packet[_PRE_SKIP], "little") + first
            packet[_PRE_SKIP] = skip.to_bytes(2, "little")
            body, end = table + bytes(packet), skip + frames
        if end is not None and granule >= end:
            out.append(_page(flags | _LAST_PAGE, end, number, body))
            return b"".join(out)
        out.append(_page(flags, granule, number, body))
    raise ValueError("the Opus stream ends too early")


def _pages(data: bytes) -> Iterator[tuple[int, int, int, bytes]]:
    """Flags, granule position, number and body of each page; the body begins with its segment table.

    The first byte of the body is the number of segments.
    """
    at = 0
    while at < len(data):
        capture, _, flags, granule, _, number, _, segments = _HEADER.unpack_from(data, at)
        if capture != b"OggS":
            raise ValueError("not an Ogg stream")
        table = data[at + _HEADER.size : at + _HEADER.size + segments]
        end = at + _HEADER.size + segments + sum(table)
        yield flags, granule, number, data[at + _HEADER.size - 1 : end]
        at = end


def _page(flags: int, granule: int, number: int, body: bytes) -> bytes:
    head = _HEADER.pack(b"OggS", 0, flags, granule, _SERIAL, number, 0, body[0])
    page = head + body[1:]
    return page[:22] + struct.pack("<I", _checksum(page)) + page[26:]


def _checksum(page: bytes) -> int:
    """The CRC of RFC 3533: polynomial 04C11DB7, most significant bit first, start 0.

    zlib has the same polynomial with the bits the other way round and both ends inverted.
    """
    state = zlib.crc32(page.translate(_REVERSED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{state:032b}"[::-1], 2)
