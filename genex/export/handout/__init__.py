"""Paper: the lesson's handout and the chord-type book, as PDF and PNG."""

from genex.export.handout.chord_book import book_pdf, chord_pdf, chord_pngs
from genex.export.handout.document import handout_pdf, handout_pngs
from genex.export.handout.settings import BLOCKS, Block, BookSettings, HandoutSettings, Paper
from genex.export.handout.typeset import require_glyphs

__all__ = [
    "BLOCKS",
    "Block",
    "BookSettings",
    "HandoutSettings",
    "Paper",
    "book_pdf",
    "chord_pdf",
    "chord_pngs",
    "handout_pdf",
    "handout_pngs",
    "require_glyphs",
]
