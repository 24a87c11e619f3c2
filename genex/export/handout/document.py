"""Score -> handout."""

from __future__ import annotations

from genex.export.handout.content import handout_data
from genex.export.handout.settings import STANDARD_HANDOUT, HandoutSettings
from genex.export.handout.typeset import pdf, png_pages
from genex.score import Score


def handout_pdf(score: Score, settings: HandoutSettings = STANDARD_HANDOUT) -> bytes:
    """The handout of a lesson as a PDF; the same bytes for the same score and settings.

    Raises InputError for characters that the fonts lack and for unknown languages,
    FretboardError for a chord that the neck cannot hold, KeyError for an unknown part.
    """
    return pdf("handout", handout_data(score, settings))


def handout_pngs(
    score: Score, settings: HandoutSettings = STANDARD_HANDOUT, *, dots_per_inch: float = 150.0
) -> tuple[bytes, ...]:
    """The same pages as PNG images, one each."""
    return png_pages("handout", handout_data(score, settings), dots_per_inch=dots_per_inch)
