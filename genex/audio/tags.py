"""What compressed files say of themselves: title, key, tempo, chapters.

Literature: RFC 9639 (FLAC: metadata blocks, cue sheet); Vorbis I specification, section 5 (comments),
which RFC 7845 takes over for Opus; Xiph.Org wiki "Chapter Extension" (``CHAPTER000``); ID3v2.4.0
structure and native frames (2000), where TBPM is a whole number and TKEY at most three characters;
ID3v2 Chapter Frame Addendum 1.0 (2005: CHAP, CTOC). Comments have no list of names for key and
tempo; KEY and BPM are what taggers write [common practice].
"""

from __future__ import annotations

import re
import struct
from collections.abc import Mapping, Sequence
from typing import IO

from genex.audio.markers import Marker

MOST_CHAPTERS = 254
"""What a FLAC cue sheet (and, but for one, an ID3 table of contents) can list."""

_COMMENT_NAMES = {
    "title": "TITLE", "artist": "ARTIST", "album": "ALBUM", "genre": "GENRE", "part": "VERSION",
    "key": "KEY", "tempo": "BPM", "comment": "DESCRIPTION", "software": "ENCODER",
}  # fmt: skip
_ID3_FRAMES = {
    "title": "TIT2", "artist": "TPE1", "album": "TALB", "genre": "TCON", "part": "TIT3",
    "key": "TKEY", "tempo": "TBPM", "software": "TSSE",
}  # fmt: skip
_KEY = re.compile(r"([A-G])([b#]?) ?(.*)")
_MINOR = ("minor", "dorian", "phrygian", "aeolian", "locrian")
_COMMENTS, _CUE_SHEET = 4, 5
_LAST_BLOCK = 0x80
_LEAD_OUT = 255
_FLAC_MAGIC = b"fLaC"
_UTF8 = b"\x03"
_NO_OFFSET = 0xFFFF_FFFF
_TOP_LEVEL_ORDERED = 0x03


def chapters_of(markers: Sequence[Marker]) -> list[Marker]:
    """As many chapters as fit everywhere: of too many every second, third … stays."""
    step = -(-len(markers) // MOST_CHAPTERS)
    return list(markers[::step]) if markers else []


def comment_packet(
    vendor: bytes, tags: Mapping[str, str], chapters: Sequence[Marker] = (), rate_hz: int = 1
) -> bytes:
    """A Vorbis comment header without its codec's own beginning and end."""
    fields = [
        f"{_COMMENT_NAMES.get(name, name.upper())}={_plain(text)}" for name, text in tags.items() if text
    ]
    for number, chapter in enumerate(chapters):
        milliseconds = chapter.sample * 1000 // rate_hz
        minutes, rest = divmod(milliseconds, 60_000)
        clock = f"{minutes // 60:02}:{minutes % 60:02}:{rest // 1000:02}.{rest % 1000:03}"
        fields += [f"CHAPTER{number:03}={clock}", f"CHAPTER{number:03}NAME={_plain(chapter.label)}"]
    body = b"".join(_counted(field.encode()) for field in fields)
    return _counted(vendor) + struct.pack("<I", len(fields)) + body


def flac_head(
    file: IO[bytes], tags: Mapping[str, str], chapters: Sequence[Marker], frames: int
) -> bytes:
    """What stands before the sound in a FLAC stream, read from one up to there.

    With comments and, if there are chapters, a cue sheet with a track for each, in place of those that
    it has. Raises ValueError for what is no FLAC stream.
    """
    if file.read(4) != _FLAC_MAGIC:
        raise ValueError("not a FLAC stream")
    blocks: list[tuple[int, bytes]] = []
    vendor, is_last = b"", False
    while not is_last:
        head = file.read(4)
        size = int.from_bytes(head[1:], "big")
        body = file.read(size)
        if len(head) < 4 or len(body) < size:
            raise ValueError("the FLAC stream ends too early")
        kind, is_last = head[0] & ~_LAST_BLOCK, bool(head[0] & _LAST_BLOCK)
        if kind == _COMMENTS:
            vendor = body[4 : 4 + int.from_bytes(body[:4], "little")]
        elif kind != _CUE_SHEET:
            blocks.append((kind, body))
    # Readers that know chapters as comments would list them twice beside the cue sheet.
    added = [(_COMMENTS, comment_packet(vendor, tags))]
    if chapters:
        added.append((_CUE_SHEET, _cue_sheet(chapters, frames)))
    blocks = [blocks[0], *added, *blocks[1:]]  # STREAMINFO stays the first
    heads = [kind for kind, _ in blocks]
    heads[-1] |= _LAST_BLOCK
    written = (
        bytes([head]) + len(body).to_bytes(3, "big") + body
        for head, (_, body) in zip(heads, blocks, strict=True)
    )
    return _FLAC_MAGIC + b"".join(written)


def _cue_sheet(chapters: Sequence[Marker], frames: int) -> bytes:
    """RFC 9639, section 8.7: not of a CD, one index point a track, closed by the lead-out."""
    tracks = [
        struct.pack(">QB12sB13sB", chapter.sample, number, b"", 0, b"", 1)
        + struct.pack(">QB3s", 0, 1, b"")
        for number, chapter in enumerate(chapters, 1)
    ]
    tracks.append(struct.pack(">QB12sB13sB", frames, _LEAD_OUT, b"", 0, b"", 0))
    return struct.pack(">128sQB258sB", b"", 0, 0, b"", len(tracks)) + b"".join(tracks)


def id3_tag(tags: Mapping[str, str], chapters: Sequence[Marker], rate_hz: int, frames: int) -> bytes:
    """An ID3v2.4 tag, to stand before an MP3 stream."""
    body = b""
    for name, frame in _ID3_FRAMES.items():
        text = _plain(tags.get(name, ""))
        if name == "key" and text:
            text = id3_key(text)
        elif name == "tempo" and text:
            text = str(round(float(text)))
        if text:
            body += _text_frame(frame, text)
    if tags.get("comment"):
        body += _frame("COMM", _UTF8 + b"eng\0" + _plain(tags["comment"]).encode())
    if chapters:
        marks = [f"ch{number}".encode() for number in range(len(chapters))]
        contents = b"toc\0" + bytes([_TOP_LEVEL_ORDERED, len(marks)])
        body += _frame("CTOC", contents + b"".join(mark + b"\0" for mark in marks))
        ends = [*(chapter.sample for chapter in chapters[1:]), frames]
        for mark, chapter, end in zip(marks, chapters, ends, strict=True):
            times = (at * 1000 // rate_hz for at in (chapter.sample, end))
            head = mark + b"\0" + struct.pack(">4I", *times, _NO_OFFSET, _NO_OFFSET)
            body += _frame("CHAP", head + _text_frame("TIT2", _plain(chapter.label)))
    if not body:  # a tag has at least one frame
        return b""
    return b"ID3\x04\0\0" + _syncsafe(len(body)) + body


def skip_id3(file: IO[bytes]) -> None:
    """Read over the tag of ``id3_tag``, if the file begins with one."""
    head = file.read(10)
    if head[:3] != b"ID3":
        file.seek(0)
        return
    size = 0
    for part in head[6:]:
        size = size << 7 | part
    file.seek(10 + size)


def id3_key(key: str) -> str:
    """A key as TKEY holds it: ``Gm`` of ``G minor``; modes with a minor third count as minor."""
    found = _KEY.fullmatch(key.replace("♭", "b").replace("♯", "#"))
    if found is None:
        return "o"  # "off key"
    tonic, sign, mode = found.groups()
    return f"{tonic}{sign}{'m' if any(word in mode for word in _MINOR) else ''}"


def _text_frame(name: str, text: str) -> bytes:
    return _frame(name, _UTF8 + text.encode())


def _frame(name: str, body: bytes) -> bytes:
    return name.encode() + _syncsafe(len(body)) + b"\0\0" + body


def _syncsafe(size: int) -> bytes:
    """28 bits in four bytes of seven."""
    return bytes(size >> shift & 0x7F for shift in (21, 14, 7, 0))


def _counted(data: bytes) -> bytes:
    return struct.pack("<I", len(data)) + data


def _plain(text: str) -> str:
    return text.replace("\0", " ")
