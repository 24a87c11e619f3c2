"""Score -> handout."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from genex.export.handout.content import Engraved, care_block, handout_data, lines_block, page_data
from genex.export.handout.fitting import SHEET, fitted
from genex.export.handout.lesson_sheet import SheetPart, fitted_lesson
from genex.export.handout.letterhead import letterhead_data
from genex.export.handout.settings import (
    LARGE_SETTING,
    SHEET_PAGES,
    STANDARD_HANDOUT,
    HandoutSettings,
    Letterhead,
    Setting,
)
from genex.export.handout.typeset import pdf, plain_text, png_pages
from genex.export.phrases import words
from genex.score import Score


def handout_pdf(score: Score, settings: HandoutSettings = STANDARD_HANDOUT) -> bytes:
    """The handout of a lesson as a PDF; the same bytes for the same score and settings.

    The music is set as large as one sheet of paper, front and back, holds it; what is longer is
    set for the fewest pages.

    Raises InputError for characters that the fonts lack and for unknown languages,
    FretboardError for a chord that the neck cannot hold, KeyError for an unknown part, GenexError
    where two things on the page would cover each other.
    """
    return pdf(SHEET, _fitted(score, settings))


def handout_pngs(
    score: Score, settings: HandoutSettings = STANDARD_HANDOUT, *, dots_per_inch: float = 150.0
) -> tuple[bytes, ...]:
    """The same pages as PNG images, one each."""
    return png_pages(SHEET, _fitted(score, settings), dots_per_inch=dots_per_inch)


def bound_pdf(
    title: str,
    lessons: Sequence[tuple[str, Sequence[SheetPart], HandoutSettings]],
    *,
    date: str = "",
    letterhead: Letterhead | None = None,
) -> bytes:
    """The handouts of lessons as one PDF: cover, contents with the aim of each, the cautions once, pages
    numbered through. Paper and language are those of the first lesson; the letterhead is that of the
    first that has one, if none is given. A lesson is its title, its exercises, and the settings of the
    whole.

    Raises what ``handout_pdf`` raises; ValueError without lessons.
    """
    if not lessons:
        raise ValueError("nothing to bind")
    first = lessons[0][2]
    phrases = words(first.language)
    clean = plain_text(title)
    large = all(settings.large_print for _, _, settings in lessons)
    made = []
    for name, parts, settings in lessons:
        own = replace(settings, paper=first.paper, language=first.language, large_print=large)
        data = _fitted(parts[0].score, own) if len(parts) == 1 else fitted_lesson(name, parts, own)
        blocks = [block for block in data["blocks"] if block["kind"] != "care"]
        made.append({**{key: data[key] for key in ("title", "facts", "aim")}, "blocks": blocks})
    every = (letterhead or Letterhead(), *(settings.letterhead for _, _, settings in lessons))
    head = next((each for each in every if each != Letterhead()), Letterhead())
    fonts = (settings.font for _, _, settings in lessons)
    count = phrases["lessons_one" if len(made) == 1 else "lessons_more"].format(count=len(made))
    return pdf(
        "bound",
        {
            **page_data(clean, first.paper, first.language, next(filter(None, fonts), None)),
            **letterhead_data(head),
            "unnumbered": 1,
            "large_print": large,
            "about": ", ".join(filter(None, (count, plain_text(date)))),
            "care": care_block(phrases),
            "lessons": made,
        },
    )


def _fitted(score: Score, settings: HandoutSettings) -> dict[str, Any]:
    """The content in the first of ``SETTINGS`` that fits a sheet, else in that of fewest pages.

    A last page with next to nothing on it is spared where smaller music needs none. Large print takes
    the pages that it needs.
    """
    if settings.large_print:
        return handout_data(score, settings, LARGE_SETTING)

    known: Engraved = {}

    def set_anew(block: dict[str, Any], setting: Setting) -> dict[str, Any]:
        lines = lines_block(score, settings, setting, known)
        assert lines is not None
        return lines

    return fitted(partial(handout_data, score, settings), set_anew, SHEET_PAGES)
