"""Score -> handout."""

from __future__ import annotations

from typing import Any

from genex.export.handout.content import handout_data, lines_block
from genex.export.handout.settings import (
    LARGE_SETTING,
    SETTINGS,
    SHEET_PAGES,
    STANDARD_HANDOUT,
    HandoutSettings,
)
from genex.export.handout.typeset import page_count, pdf, png_pages
from genex.score import Score

_TEMPLATE = "handout"


def handout_pdf(score: Score, settings: HandoutSettings = STANDARD_HANDOUT) -> bytes:
    """The handout of a lesson as a PDF; the same bytes for the same score and settings.

    The music is set as large as one sheet of paper, front and back, holds it; what is longer is
    set for the fewest pages.

    Raises InputError for characters that the fonts lack and for unknown languages,
    FretboardError for a chord that the neck cannot hold, KeyError for an unknown part, GenexError
    where two things on the page would cover each other.
    """
    return pdf(_TEMPLATE, _fitted(score, settings))


def handout_pngs(
    score: Score, settings: HandoutSettings = STANDARD_HANDOUT, *, dots_per_inch: float = 150.0
) -> tuple[bytes, ...]:
    """The same pages as PNG images, one each."""
    return png_pages(_TEMPLATE, _fitted(score, settings), dots_per_inch=dots_per_inch)


def _fitted(score: Score, settings: HandoutSettings) -> dict[str, Any]:
    """The content in the first of ``SETTINGS`` that fits a sheet, else in that of fewest pages.

    Large print takes the pages that it needs.
    """
    if settings.large_print:
        return handout_data(score, settings, LARGE_SETTING)
    best = handout_data(score, settings)
    if "lines" not in settings.blocks:
        return best
    fewest = page_count(_TEMPLATE, best)
    blocks = best["blocks"]
    for setting in SETTINGS[1:]:
        if fewest <= SHEET_PAGES:
            break
        lines = lines_block(score, settings, setting)
        data = {**best, "blocks": [lines if b["kind"] == "lines" else b for b in blocks]}
        if (pages := page_count(_TEMPLATE, data)) < fewest:
            best, fewest = data, pages
    return best
