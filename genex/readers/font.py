"""A font that a teacher names for titles and words in other scripts: checked before it is used.

Only what the house needs is read: the family's name, the characters that the font has, and whether its
maker allows it to be embedded, as it is embedded in PDFs, as a subset [published: OpenType 1.9.1, font
file, cmap formats 4 and 12, name, OS/2 fsType]. The typesetter reads the rest.
"""

from __future__ import annotations

import struct
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from genex.errors import InputError, Place
from genex.plain_text import clean

MAX_BYTES = 48 << 20
"""Fonts of all Chinese characters have up to 40 MB."""

_FLAVOURS = (b"\x00\x01\x00\x00", b"OTTO", b"true")
_NOT_TAKEN = {
    b"ttcf": ("a collection of several fonts", "save one of its fonts as .ttf or .otf"),
    b"wOFF": ("a font for web pages", "name its .ttf or .otf file"),
    b"wOF2": ("a font for web pages", "name its .ttf or .otf file"),
}
_MOST_TABLES = 256
_MOST_RANGES = 1 << 17
_RESTRICTED, _NO_SUBSETS, _BITMAPS_ONLY = 0x0002, 0x0100, 0x0200
_LARGEST_RANGE = 0x110000
_FAMILY_NAMES = (16, 1)
"""Of the typographic family, and of the family by which older programs know it."""


@dataclass(frozen=True)
class Font:
    """A font file: its family, its bytes, and first and last of each run of characters that it has."""

    family: str
    data: bytes = field(repr=False)
    ranges: tuple[tuple[int, int], ...] = field(repr=False, compare=False)

    def has(self, character: str) -> bool:
        """Whether it has a glyph for a character."""
        code = ord(character)
        index = bisect_right(self._starts, code) - 1
        return index >= 0 and code <= self.ranges[index][1]

    @cached_property
    def _starts(self) -> list[int]:
        return [first for first, _ in self.ranges]


@lru_cache(maxsize=2)
def read_font(data: bytes, file: str) -> Font:
    """The font in a file's bytes. Raises InputError for one that cannot be used, or must not."""
    try:
        return _read(data)
    except InputError as error:
        error.place = Place(file)
        raise
    except (struct.error, IndexError, UnicodeDecodeError):
        raise _refused("the font is damaged", "fetch or save it again", file) from None


def _refused(message: str, hint: str, file: str | None = None) -> InputError:
    return InputError(message, hint=hint, place=None if file is None else Place(file))


def _read(data: bytes) -> Font:
    if len(data) > MAX_BYTES:
        raise _refused(f"the font is larger than {MAX_BYTES >> 20} MB", "name a smaller one")
    if data[:4] in _NOT_TAKEN:
        what, hint = _NOT_TAKEN[data[:4]]
        raise _refused(f"the file is {what}", hint)
    if data[:4] not in _FLAVOURS:
        raise _refused("the file is no font", "name an OpenType or TrueType font: .ttf or .otf")
    tables = _tables(data)
    missing = [tag for tag in ("cmap", "name", "head", "hmtx") if tag not in tables]
    if missing:
        raise _refused(f"the font is damaged: it has no table '{missing[0]}'", "fetch or save it again")
    _require_allowed(tables.get("OS/2", b""))
    ranges = tuple(_merged(sorted(_covered(tables["cmap"]))))
    if not ranges:
        raise _refused("the font names no characters", "name a font with letters, not one of symbols")
    return Font(_family(tables["name"]), data, ranges)


def _tables(data: bytes) -> dict[str, bytes]:
    """The tables of a font file by their tags."""
    (count,) = struct.unpack_from(">H", data, 4)
    found = {}
    for index in range(min(count, _MOST_TABLES)):
        tag, _, offset, length = struct.unpack_from(">4sIII", data, 12 + 16 * index)
        if offset + length > len(data):
            raise IndexError
        found[tag.decode("latin-1")] = data[offset : offset + length]
    return found


def _require_allowed(table: bytes) -> None:
    """Raise InputError where the font's maker does not let it be embedded as it would be."""
    if len(table) < 10:
        return
    (allowed,) = struct.unpack_from(">H", table, 8)
    if allowed & 0x000F == _RESTRICTED or allowed & (_NO_SUBSETS | _BITMAPS_ONLY):
        raise _refused(
            "the font's maker does not allow it to be embedded in documents",
            "name a font with a free licence, or one that allows embedding",
        )


def _family(table: bytes) -> str:
    """The family's name."""
    _, count, strings = struct.unpack_from(">HHH", table)
    found: dict[int, str] = {}
    for index in range(count):
        platform, _, language, name, length, offset = struct.unpack_from(">6H", table, 6 + 12 * index)
        if name not in _FAMILY_NAMES:
            continue
        raw = table[strings + offset : strings + offset + length]
        text = clean(raw.decode("mac-roman" if platform == 1 else "utf-16-be")).strip()
        if text and (name not in found or language in (0, 0x0409)):  # English, by which it is asked for
            found[name] = text
    family = found.get(16) or found.get(1)
    if not family:
        raise _refused("the font has no name", "name another one")
    return family


def _covered(table: bytes) -> Iterator[tuple[int, int]]:
    """The runs of characters of the largest Unicode subtable; none where there is none."""
    (count,) = struct.unpack_from(">H", table, 2)
    best = None
    for index in range(count):
        platform, encoding, offset = struct.unpack_from(">HHI", table, 4 + 8 * index)
        (kind,) = struct.unpack_from(">H", table, offset)
        is_unicode = platform == 0 or (platform == 3 and encoding in (1, 10))
        if is_unicode and kind in (4, 12) and (best is None or kind > best[0]):
            best = kind, offset
    if best is None:
        return
    yield from _segments(table, best[1]) if best[0] == 4 else _groups(table, best[1])


def _groups(table: bytes, at: int) -> Iterator[tuple[int, int]]:
    """Format 12: runs of characters with glyphs that follow each other."""
    (count,) = struct.unpack_from(">I", table, at + 12)
    for index in range(min(count, _MOST_RANGES)):
        first, last, glyph = struct.unpack_from(">III", table, at + 16 + 12 * index)
        if first <= last < _LARGEST_RANGE:
            yield first + (glyph == 0), last  # glyph 0 stands for what is missing


def _segments(table: bytes, at: int) -> Iterator[tuple[int, int]]:
    """Format 4: segments, in part through an array of glyphs with gaps."""
    (double,) = struct.unpack_from(">H", table, at + 6)
    count = double // 2
    ends = struct.unpack_from(f">{count}H", table, at + 14)
    starts = struct.unpack_from(f">{count}H", table, at + 16 + double)
    deltas = struct.unpack_from(f">{count}H", table, at + 16 + 2 * double)
    offsets_at = at + 16 + 3 * double
    offsets = struct.unpack_from(f">{count}H", table, offsets_at)
    if sum(max(0, last - first + 1) for first, last in zip(starts, ends, strict=True)) > _MOST_RANGES:
        raise IndexError  # segments upon segments
    for index, (first, last, delta, offset) in enumerate(
        zip(starts, ends, deltas, offsets, strict=True)
    ):
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if offset:
                place = offsets_at + 2 * index + offset + 2 * (code - first)
                (glyph,) = struct.unpack_from(">H", table, place)
                if not glyph:
                    continue
            if (glyph + delta) & 0xFFFF:
                yield code, code


def _merged(runs: list[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """The runs with those that touch put together."""
    begun: tuple[int, int] | None = None
    for first, last in runs:
        if begun is not None and first <= begun[1] + 1:
            begun = begun[0], max(begun[1], last)
            continue
        if begun is not None:
            yield begun
        begun = first, last
    if begun is not None:
        yield begun
