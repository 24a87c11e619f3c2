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
_CONTINUED = 0x01
_FULL = 255  # a segment of this length is followed by more of its packet
_PACKET_FRAMES = 960  # 20 ms, as libsndfile has Opus coded
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
            # Only the last packet may be cut short (RFC 7845, section 4.4): those after it go.
            packets = _packets(body)
            spare = (granule - end) // _PACKET_FRAMES
            out.append(_page(flags | _LAST_PAGE, end, number, _body(packets[: len(packets) - spare])))
            return b"".join(out)
        out.append(_page(flags, granule, number, body))
    raise ValueError("the Opus stream ends too early")


def with_comments(data: bytes, packet: bytes) -> bytes:
    """A Vorbis or Opus stream with another comment header, on pages anew where that is longer.

    ``packet`` is what is between the codec's own words. Raises ValueError for any other stream.
    """
    pages = list(_pages(data))
    first = pages[0][3]
    is_opus = first[first[0] + 1 :].startswith(b"OpusHead")
    headers: list[bytes] = []
    count, taken, rest = (1 if is_opus else 2), 1, b""
    while len(headers) < count:
        body = pages[taken][3]
        taken += 1
        at = body[0] + 1
        for size in body[1 : body[0] + 1]:
            rest += body[at : at + size]
            at += size
            if size < _FULL:
                headers.append(rest)
                rest = b""
    if not headers[0].startswith(b"OpusTags" if is_opus else b"\x03vorbis"):
        raise ValueError("not a Vorbis or Opus stream")
    headers[0] = b"OpusTags" + packet if is_opus else b"\x03vorbis" + packet + b"\x01"
    lacing = [size for header in headers for size in _laced(len(header))]
    body, out, at = b"".join(headers), [_page(pages[0][0], 0, 0, first)], 0
    for start in range(0, len(lacing), _FULL):
        table = lacing[start : start + _FULL]
        size = sum(table)
        goes_on = start > 0 and lacing[start - 1] == _FULL
        ends_none = all(part == _FULL for part in table)
        text = bytes([len(table), *table]) + body[at : at + size]
        out.append(_page(_CONTINUED if goes_on else 0, -1 if ends_none else 0, len(out), text))
        at += size
    for flags, granule, _, page in pages[taken:]:
        out.append(_page(flags, granule, len(out), page))
    return b"".join(out)


def vendor_of(data: bytes) -> bytes:
    """What the encoder calls itself in the comment header of a Vorbis or Opus stream."""
    for start in (b"OpusTags", b"\x03vorbis"):
        at = data.find(start)
        if at >= 0:
            at += len(start)
            return data[at + 4 : at + 4 + int.from_bytes(data[at : at + 4], "little")]
    raise ValueError("not a Vorbis or Opus stream")


def _laced(size: int) -> list[int]:
    return [_FULL] * (size // _FULL) + [size % _FULL]


def _packets(body: bytes) -> list[bytes]:
    """The packets of a page on which all of them end."""
    found, at, packet = [], body[0] + 1, b""
    for size in body[1 : body[0] + 1]:
        packet += body[at : at + size]
        at += size
        if size < _FULL:
            found.append(packet)
            packet = b""
    return [*found, packet] if packet else found


def _body(packets: list[bytes]) -> bytes:
    table = [size for packet in packets for size in _laced(len(packet))]
    return bytes([len(table), *table]) + b"".join(packets)


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
