"""Ogg pages made the same in every build, and Opus streams that loop.

Literature: RFC 3533 (Ogg pages and their checksum), RFC 7845 (Opus in Ogg: pre-skip, end
trimming, 80 ms for a decoder to settle).

An Ogg writer numbers its stream at random; here the number is fixed and each page's checksum is
made anew.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable, Iterable, Iterator
from typing import IO, NamedTuple

_HEADER = struct.Struct("<4sBBqIIIB")  # capture, version, flags, granule, serial, number, CRC, segments
_LAST_PAGE = 0x04
_CONTINUED = 0x01
_FULL = 255  # a segment of this length is followed by more of its packet
_PACKET_FRAMES = 960  # 20 ms, as libsndfile has Opus coded
_SERIAL = 0x67656E78
_REVERSED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
_PRE_SKIP = slice(10, 12)  # in the OpusHead packet


class Page(NamedTuple):
    """A page of a stream. ``body`` begins with the number of segments and their table."""

    flags: int
    granule: int
    number: int
    body: bytes

    def whole(self) -> bytes:
        """As it is written, under the one serial number."""
        fields = b"OggS", 0, self.flags, self.granule, _SERIAL, self.number, 0, self.body[0]
        page = _HEADER.pack(*fields) + self.body[1:]
        return page[:22] + struct.pack("<I", _checksum(page)) + page[26:]


def pages(file: IO[bytes]) -> Iterator[Page]:
    """The pages of a stream, one after the other. Raises ValueError for what is no Ogg stream."""
    while head := file.read(_HEADER.size):
        if len(head) < _HEADER.size or head[:4] != b"OggS":
            raise ValueError("not an Ogg stream")
        _, _, flags, granule, _, number, _, segments = _HEADER.unpack(head)
        table = file.read(segments)
        yield Page(flags, granule, number, bytes([segments]) + table + file.read(sum(table)))


def trimmed_opus(stream: Iterable[Page], first: int, frames: int) -> Iterator[Page]:
    """An Opus stream of which a decoder plays only ``frames`` frames from ``first`` on.

    The rest is decoded and thrown away: what comes before lets the decoder settle, what comes
    after completes the last block. Both are in frames at 48 kHz. Raises ValueError for a stream
    that is no Opus stream or too short.
    """
    end = None
    for page in stream:
        flags, granule, number, body = page
        if number == 0:
            table, packet = body[: body[0] + 1], bytearray(body[body[0] + 1 :])
            if packet[:8] != b"OpusHead":
                raise ValueError("not an Opus stream")
            skip = int.from_bytes(packet[_PRE_SKIP], "little") + first
            packet[_PRE_SKIP] = skip.to_bytes(2, "little")
            page, end = page._replace(body=table + bytes(packet)), skip + frames
        if end is not None and granule >= end:
            # Only the last packet may be cut short (RFC 7845, section 4.4): those after it go.
            ended, going_on = _packets(body)
            packets = [*ended, going_on] if going_on else ended
            spare = (granule - end) // _PACKET_FRAMES
            yield Page(flags | _LAST_PAGE, end, number, _body(packets[: len(packets) - spare]))
            return
        yield page
    raise ValueError("the Opus stream ends too early")


def with_comments(stream: Iterable[Page], packet_for: Callable[[bytes], bytes]) -> Iterator[Page]:
    """A Vorbis or Opus stream with another comment header, on pages anew where that is longer.

    ``packet_for`` is given what the encoder calls itself, and makes what is between the codec's own
    words. Raises ValueError for any other stream.
    """
    rest = iter(stream)
    first = _next(rest)
    is_opus = first.body[first.body[0] + 1 :].startswith(b"OpusHead")
    start = b"OpusTags" if is_opus else b"\x03vorbis"
    headers: list[bytes] = []
    packet = b""
    while len(headers) < (1 if is_opus else 2):
        ended, packet = _packets(_next(rest).body, packet)
        headers += ended
    if not headers[0].startswith(start):
        raise ValueError("not a Vorbis or Opus stream")
    at = len(start) + 4
    vendor = headers[0][at : at + int.from_bytes(headers[0][at - 4 : at], "little")]
    headers[0] = start + packet_for(vendor) + (b"" if is_opus else b"\x01")
    lacing = [size for header in headers for size in _laced(len(header))]
    yield first._replace(number=0, granule=0)
    body, number, at = b"".join(headers), 1, 0
    for begin in range(0, len(lacing), _FULL):
        table = lacing[begin : begin + _FULL]
        size = sum(table)
        goes_on = begin > 0 and lacing[begin - 1] == _FULL
        ends_none = all(part == _FULL for part in table)
        text = bytes([len(table), *table]) + body[at : at + size]
        yield Page(_CONTINUED if goes_on else 0, -1 if ends_none else 0, number, text)
        number, at = number + 1, at + size
    for page in rest:
        yield page._replace(number=number)
        number += 1


def _next(stream: Iterator[Page]) -> Page:
    for page in stream:
        return page
    raise ValueError("the Ogg stream ends too early")


def _laced(size: int) -> list[int]:
    return [_FULL] * (size // _FULL) + [size % _FULL]


def _packets(body: bytes, packet: bytes = b"") -> tuple[list[bytes], bytes]:
    """The packets that end on a page, the first of which began with ``packet``; what goes on."""
    found, at = [], body[0] + 1
    for size in body[1 : body[0] + 1]:
        packet += body[at : at + size]
        at += size
        if size < _FULL:
            found.append(packet)
            packet = b""
    return found, packet


def _body(packets: list[bytes]) -> bytes:
    table = [size for packet in packets for size in _laced(len(packet))]
    return bytes([len(table), *table]) + b"".join(packets)


def _checksum(page: bytes) -> int:
    """The CRC of RFC 3533: polynomial 04C11DB7, most significant bit first, start 0.

    zlib has the same polynomial with the bits the other way round and both ends inverted.
    """
    state = zlib.crc32(page.translate(_REVERSED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{state:032b}"[::-1], 2)
