"""MP3 files that loop: what a decoder has to cut away, in the tag that LAME writes.

Literature: the "MP3 Info Tag" specification of the LAME project, revision 1: delay and padding in
12 bits each, 21 bytes after the encoder's name; a CRC-16 of the frame's first 190 bytes at 190.
"""

from __future__ import annotations

from typing import IO

_ENCODER = b"LAME3"
_DELAYS_AFTER_NAME = 21
_CHECKSUM_AT = 190
_MOST = 4095
_MOST_BYTES = 1 << 14  # the tag stands in the first frame


def trim_mp3(file: IO[bytes], before: int, after: int) -> None:
    """Have a decoder cut away ``before`` and ``after`` frames more at the ends of an MP3.

    Raises ValueError if there is no LAME tag or the numbers do not fit into it.
    """
    file.seek(0)
    out = bytearray(file.read(_MOST_BYTES))
    name = out.find(_ENCODER)
    frame = out.rfind(b"\xff", 0, max(0, out.rfind(b"Info", 0, name), out.rfind(b"Xing", 0, name)))
    checked = slice(frame, frame + _CHECKSUM_AT)
    stored = slice(frame + _CHECKSUM_AT, frame + _CHECKSUM_AT + 2)
    if name < 0 or frame < 0 or _crc16(out[checked]) != int.from_bytes(out[stored], "big"):
        raise ValueError("the MP3 has no LAME tag")
    at = slice(name + _DELAYS_AFTER_NAME, name + _DELAYS_AFTER_NAME + 3)
    delay, padding = divmod(int.from_bytes(out[at], "big"), _MOST + 1)
    if delay + before > _MOST or padding + after > _MOST:
        raise ValueError("the LAME tag cannot hold so long a delay")
    out[at] = ((delay + before) * (_MOST + 1) + padding + after).to_bytes(3, "big")
    out[stored] = _crc16(out[checked]).to_bytes(2, "big")
    file.seek(0)
    file.write(out)


def _crc16(data: bytes | bytearray) -> int:
    """CRC-16 with the polynomial 8005, least significant bit first, start 0."""
    state = 0
    for byte in data:
        state ^= byte
        for _ in range(8):
            state = (state >> 1) ^ (0xA001 if state & 1 else 0)
    return state
