"""Paper: the lesson's handout and the chord-type book, as PDF and PNG."""

from genex.export.handout.chord_book import book_pdf, chord_pdf, chord_pngs
from genex.export.handout.document import bound_pdf, handout_pdf, handout_pngs
from genex.export.handout.lesson_sheet import SheetPart, lesson_sheet_pdf
from genex.export.handout.letterhead import require_picture
from genex.export.handout.poster import poster_pdf
from genex.export.handout.settings import (
    BLOCKS,
    Asked,
    Block,
    BookSettings,
    HandoutSettings,
    ImprovisingTask,
    Letterhead,
    Offered,
    Paper,
    StudentWords,
    Worksheet,
)
from genex.export.handout.spoken_edition import lesson_spoken_html, spoken_html
from genex.export.handout.typeset import require_font, require_glyphs

__all__ = [
    "BLOCKS",
    "Asked",
    "Block",
    "BookSettings",
    "HandoutSettings",
    "ImprovisingTask",
    "Letterhead",
    "Offered",
    "Paper",
    "SheetPart",
    "StudentWords",
    "Worksheet",
    "book_pdf",
    "bound_pdf",
    "chord_pdf",
    "chord_pngs",
    "handout_pdf",
    "handout_pngs",
    "lesson_sheet_pdf",
    "lesson_spoken_html",
    "poster_pdf",
    "require_font",
    "require_glyphs",
    "require_picture",
    "spoken_html",
]
