"""The poster of a type: one sheet, twelve roots, the tones of each."""

from __future__ import annotations

import io

import pypdf

from genex.export.handout import BookSettings, poster_pdf
from genex.export.handout.poster import POSTER_MM, poster_data
from genex.theory import parse_chord


def test_twelve_roots_stand_on_one_sheet_of_four_times_the_area() -> None:
    """[published: ISO 216] A2 is A4 doubled twice."""
    data = poster_data(parse_chord("Cm7b5"), BookSettings())
    symbols = [cell["symbol"] for cell in data["cells"]]
    assert len(set(symbols)) == 12 and symbols[0] == "Cm7♭5"
    assert data["cells"][2]["notes"] == "D, F, A♭, C", "[common practice] the ii of C minor"
    reader = pypdf.PdfReader(io.BytesIO(poster_pdf(parse_chord("Cm7b5"))))
    (page,) = reader.pages
    assert [round(float(side) / 72 * 25.4) for side in page.mediabox[2:]] == list(POSTER_MM["a4"])
    text = page.extract_text()
    assert all(symbol in text for symbol in symbols) and "Half-diminished seventh" in text
