"""Setting pages: the fonts and the characters that they hold."""

from __future__ import annotations

import pytest
from fontTools.ttLib import TTFont

from genex.errors import GenexError, InputError
from genex.export.handout import handout_pdf, typeset
from tests.export.handout.sheets import ONLY_CHART, empty


def test_a_character_without_a_glyph_is_named() -> None:
    with pytest.raises(InputError, match="no '雨'") as caught:
        handout_pdf(empty("Gm7", "Rain 雨"), ONLY_CHART)
    assert caught.value.hint is not None and "other letters" in caught.value.hint


def test_a_missing_font_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    typeset._fonts.cache_clear()
    monkeypatch.setattr(typeset, "FONT_FOLDERS", ())
    try:
        with pytest.raises(GenexError, match="font"):
            handout_pdf(empty("Gm7"), ONLY_CHART)
    finally:
        typeset._fonts.cache_clear()


def test_the_table_of_characters_is_that_of_the_fonts() -> None:
    held = set()
    for folder, name in zip(typeset.FONT_FOLDERS, ("LinLibertine_R.otf", "DejaVuSans.ttf"), strict=True):
        held |= set(TTFont(folder / name).getBestCmap())
    starts, ends = typeset._covered()
    listed = {code for a, b in zip(starts, ends, strict=True) for code in range(a, b + 1)}
    assert listed == {code for code in held if code >= 32 and not 0xE000 <= code <= 0xF8FF}
    assert {ord(sign) for sign in "♭♮♯Δ△ø°♩½×–…"} <= listed


def test_fonts_come_with_their_licences() -> None:
    for folder in typeset.FONT_FOLDERS:
        assert any(path.name.startswith("LICENSE") for path in folder.iterdir())
