"""The grips of a part of chords as diagrams, in order of play."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from genex.export.grip_diagrams import GripStyle, chord_over, dots_of_held, grip_size, grip_svg
from genex.export.handout.pictures import legible_unit
from genex.export.handout.settings import LARGE_PT, HandoutSettings, text_width_mm
from genex.export.handout.typeset import plain_text
from genex.export.held_grips import ShownGrip, grips_by_section
from genex.export.spoken import signs_in_words
from genex.score import Part, Score

Json = dict[str, Any]

COLUMNS = 6
CELL_GAP_MM = 4.0
LARGEST_UNIT_MM = 0.205
"""A diagram's own unit on paper where there is room: a finger is then 2 mm high."""

_PAPER = re.compile(r'<rect width="100%" height="100%"[^>]*/>\s*')


def grips_block(
    score: Score, parts: Sequence[Part], settings: HandoutSettings, phrases: Mapping[str, str]
) -> Json | None:
    """The diagrams of what the first part of chords holds in the bars of its page; None without one.

    See ``grips_by_section``.
    """
    part = next((part for part in parts if part.chordal), None)
    if part is None:
        return None
    sections = grips_by_section(part, score.timeline)
    style = GripStyle("degrees", left_handed=settings.left_handed)
    rows = max(dots_of_held(each.held).rows for section in sections for each in section.grips)
    width, height = grip_size(settings.tuning, style, rows)
    width_mm = text_width_mm(settings.paper)
    columns, largest = COLUMNS, LARGEST_UNIT_MM
    if settings.large_print:
        first = dots_of_held(sections[0].grips[0].held)
        largest = legible_unit(grip_svg(first, settings.tuning, style, rows=rows), LARGE_PT)
        columns = max(1, int(width_mm / (width * largest + CELL_GAP_MM)))
    cell_mm = width_mm / columns - CELL_GAP_MM
    unit_mm = min(largest, cell_mm / width)
    count = len(settings.tuning.strings)

    def cell(shown: ShownGrip) -> Json:
        dots = dots_of_held(shown.held, language=settings.language)
        symbol = chord_over(shown, phrases)
        svg = grip_svg(dots, settings.tuning, style, rows=rows)
        return {
            "symbol": symbol,
            "bar": str(shown.bar.number),
            "picture": {
                "svg": _PAPER.sub("", svg),
                "width_mm": width * unit_mm,
                "height_mm": height * unit_mm,
                "alt": signs_in_words(f"{symbol}: {dots.in_words(count, settings.language)}", phrases),
            },
        }

    comes_again = any(section.times > 1 for section in sections)
    named = len(score.timeline.sections) > 1
    return {
        "kind": "grips",
        "heading": phrases["grips"],
        "note": " ".join([phrases["grips_note"], *([phrases["grips_again"]] if comes_again else [])]),
        "columns": columns,
        "cell_mm": cell_mm,
        "sections": [
            {
                "name": plain_text(section.name) if named else "",
                "grips": [cell(each) for each in section.grips],
            }
            for section in sections
        ],
    }
