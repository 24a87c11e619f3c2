"""The grips of a part of chords as diagrams, in order of play."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from genex.export.grip_diagrams import GripStyle, dots_of_held, grip_size, grip_svg
from genex.export.handout.settings import HandoutSettings, text_width_mm
from genex.export.handout.typeset import plain_text
from genex.export.held_grips import HeldGrip, held_grips
from genex.export.repeat_signs import line_page
from genex.export.typography import with_signs
from genex.score import Bar, Part, Score, Timeline

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

    A section that comes again with the same grips is shown once. A grip that is struck ahead of its bar
    has the number of the bar that it leads into.
    """
    part = next((part for part in parts if part.chordal), None)
    if part is None:
        return None
    timeline = score.timeline
    printed = {entry.bar.number for entry in line_page(timeline, (part,)).bars}
    shown = [
        (bar, held)
        for held in held_grips(part, timeline)
        if (bar := _bar_of(held, timeline)) is not None and bar.number in printed
    ]
    style = GripStyle("degrees", left_handed=settings.left_handed)
    rows = max(dots_of_held(held).rows for _, held in shown)
    width, height = grip_size(settings.tuning, style, rows)
    cell_mm = text_width_mm(settings.paper) / COLUMNS - CELL_GAP_MM
    unit_mm = min(LARGEST_UNIT_MM, cell_mm / width)
    count = len(settings.tuning.strings)

    def cell(bar: Bar, held: HeldGrip) -> Json:
        dots = dots_of_held(held)
        symbol = held.chord.symbol if held.chord is not None else ""
        svg = grip_svg(dots, settings.tuning, style, rows=rows)
        return {
            "symbol": with_signs(symbol),
            "bar": str(bar.number),
            "picture": {
                "svg": _PAPER.sub("", svg),
                "width_mm": width * unit_mm,
                "height_mm": height * unit_mm,
                "alt": f"{symbol}: {dots.in_words(count, settings.language)}",
            },
        }

    sections: list[Json] = []
    known: set[tuple[object, ...]] = set()
    for (name, _), group in groupby(shown, key=lambda each: _section_of(each[0], timeline)):
        together = list(group)
        content = name, *(str((h.chord and h.chord.symbol, h.places)) for _, h in together)
        if content not in known:
            known.add(content)
            title = plain_text(name) if len(timeline.sections) > 1 else ""
            sections.append({"name": title, "grips": [cell(bar, held) for bar, held in together]})
    again = (
        [phrases["grips_again"]]
        if len(sections) < len({_section_of(b, timeline) for b, _ in shown})
        else []
    )
    return {
        "kind": "grips",
        "heading": phrases["grips"],
        "note": " ".join([phrases["grips_note"], *again]),
        "columns": COLUMNS,
        "cell_mm": cell_mm,
        "sections": sections,
    }


def _bar_of(held: HeldGrip, timeline: Timeline) -> Bar | None:
    """The bar in which the chord of a grip begins; None for one that leads back to the beginning."""
    span = timeline.chord_at(held.onset_beats)
    if held.chord is None or span.chord == held.chord:
        return timeline.bar_at(held.onset_beats)
    return timeline.bar_at(span.end_beats) if span.end_beats < timeline.length_beats else None


def _section_of(bar: Bar, timeline: Timeline) -> tuple[str, object]:
    """Name and beginning of the section that a bar stands in."""
    section = max(
        (s for s in timeline.sections if s.onset_beats <= bar.onset_beats), key=lambda s: s.onset_beats
    )
    return section.name, section.onset_beats
