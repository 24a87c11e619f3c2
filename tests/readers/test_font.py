"""Fonts that people name. What a font has is told by fontTools [package: fonttools]."""

from __future__ import annotations

import struct

import pytest
from fontTools.ttLib import TTFont

from genex.errors import InputError
from genex.export.handout.typeset import FONT_FOLDERS, require_font
from genex.readers.font import read_font
from tests.fonts import box_font

BUNDLED = sorted(path for folder in FONT_FOLDERS for path in folder.glob("*Sans.ttf"))
BUNDLED += sorted(path for folder in FONT_FOLDERS for path in folder.glob("*_R.otf"))


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_family_and_characters_are_those_that_another_reader_finds(path) -> None:
    font, other = read_font(path.read_bytes(), path.name), TTFont(path)
    assert font.family == other["name"].getBestFamilyName()
    has = set(other.getBestCmap())
    found = {code for first, last in font.ranges for code in range(first, last + 1)}
    assert found == has
    assert font.has("ж") and not font.has("夜")


def test_characters_beyond_the_first_65536() -> None:
    font = read_font(box_font("夜𠀋"), "f.ttf")
    assert font.has("𠀋") and font.has("夜") and not font.has("𠀌")


def _renamed(tag: bytes) -> bytes:
    return box_font().replace(tag, b"none", 1)


def _endless() -> bytes:
    """A font whose tables lie behind its end."""
    data = bytearray(box_font())
    struct.pack_into(">I", data, 12 + 8, 1 << 30)
    return bytes(data)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "the file is no font"),
        (b"%PDF-1.7", "the file is no font"),
        (b"ttcf" + bytes(100), "a collection of several fonts"),
        (b"wOF2" + bytes(100), "a font for web pages"),
        (b"wOFF" + bytes(100), "a font for web pages"),
        (box_font()[:300], "the font is damaged"),
        (_endless(), "the font is damaged"),
        (_renamed(b"cmap"), "it has no table 'cmap'"),
        (box_font(allowed=0x0002), "does not allow it to be embedded"),
        (box_font(allowed=0x0104), "does not allow it to be embedded"),
        (box_font(named=False), "the font has no name"),
    ],
)
def test_what_is_no_font_to_be_used_is_refused(data: bytes, said: str) -> None:
    with pytest.raises(InputError, match=said) as refused:
        read_font(data, "my.ttf")
    assert str(refused.value.place) == "my.ttf" and refused.value.hint


@pytest.mark.parametrize("allowed", [0x0000, 0x0004, 0x0008])
def test_fonts_that_may_be_embedded(allowed: int) -> None:
    """Installable, preview and print, editable [published: OpenType 1.9.1, OS/2, fsType]."""
    assert read_font(box_font(allowed=allowed), "f.ttf").family == "Box Gothic"


def test_a_font_that_the_typesetter_cannot_take_is_refused() -> None:
    with pytest.raises(InputError, match="genex has the font 'DejaVu Sans' itself"):
        require_font(read_font(box_font(family="DejaVu Sans"), "f.ttf"))
    good = read_font(box_font(), "f.ttf")
    require_font(good)
