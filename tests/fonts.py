"""A small font of its own for tests: a few characters, each a box of another height."""

from __future__ import annotations

import io

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen


def box_font(
    characters: str = "夜汽車", family: str = "Box Gothic", *, allowed: int = 0, named: bool = True
) -> bytes:
    """A TrueType font with these characters; ``allowed`` is what OS/2 says of embedding."""
    names = [".notdef", *(f"u{ord(one):04X}" for one in characters)]
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({ord(one): f"u{ord(one):04X}" for one in characters})
    glyphs = {}
    for number, name in enumerate(names):
        pen = TTGlyphPen(None)
        top = 700 - 40 * number
        pen.moveTo((100, 0))
        for corner in ((100, top), (900, top), (900, 0)):
            pen.lineTo(corner)
        pen.closePath()
        glyphs[name] = pen.glyph()
    builder.setupGlyf(glyphs)
    builder.setupHorizontalMetrics(dict.fromkeys(names, (1000, 100)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    told = {"familyName": family, "styleName": "Regular", "psName": f"{family.replace(' ', '')}-Regular"}
    builder.setupNameTable(told if named else {})
    builder.setupOS2(fsType=allowed)
    builder.setupPost()
    out = io.BytesIO()
    builder.save(out)
    return out.getvalue()
