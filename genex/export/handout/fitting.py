"""How large the music of a sheet is set, and how close its blocks: as large as its pages hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from genex.export.handout.settings import LEAST_OF_LAST_PAGE, SETTINGS, Setting
from genex.export.handout.typeset import extent

Json = dict[str, Any]

SHEET = "handout"
"""The template of a sheet."""

ALIKE_WITHOUT_LINES = tuple({setting.gaps: setting for setting in SETTINGS[::-1]}.values())[::-1]
"""Of the settings those that differ on a sheet without music: the first of each width of gaps."""


def fitted(data: Json, set_anew: Callable[[Json, Setting], Json], wanted: int) -> Json:
    """The content in the first of ``SETTINGS`` that takes so many pages or fewer, else in that of
    fewest.

    Of a last page at least ``LEAST_OF_LAST_PAGE`` is taken where any setting does that. ``data`` is in
    the first setting; ``set_anew`` makes of a block of lines that in another one.
    """
    has_lines = any(block["kind"] == "lines" for block in data["blocks"])
    found: list[tuple[int, bool, Json]] = []
    known: dict[Setting, list[Json]] = {}
    for setting in SETTINGS if has_lines else ALIKE_WITHOUT_LINES:
        alike = replace(setting, gaps=SETTINGS[0].gaps)
        if alike == SETTINGS[0]:
            known[alike] = data["blocks"]
        elif alike not in known:
            known[alike] = [
                set_anew(block, setting) if block["kind"] == "lines" else block
                for block in data["blocks"]
            ]
        made = {**data, "gaps": setting.gaps, "blocks": known[alike]}
        if any(made == earlier for *_, earlier in found):
            continue  # nothing folds
        # Answers have a page of their own, however short they are.
        asked = [block for block in made["blocks"] if block["kind"] != "key"]
        pages, last = extent(SHEET, {**made, "blocks": asked})
        is_left_over = pages > 1 and last < LEAST_OF_LAST_PAGE
        if pages <= wanted and not is_left_over:
            return made
        found.append((pages, is_left_over, made))
    return min(found, key=lambda one: one[:2])[2]
