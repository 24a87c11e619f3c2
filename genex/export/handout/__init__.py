"""Paper: the lesson's handout and the chord-type book, as PDF and PNG."""

from genex.export.handout.document import handout_pdf, handout_pngs
from genex.export.handout.settings import BLOCKS, Block, BookSettings, HandoutSettings, Paper

__all__ = [
    "BLOCKS",
    "Block",
    "BookSettings",
    "HandoutSettings",
    "Paper",
    "handout_pdf",
    "handout_pngs",
]
