"""How large the music of a sheet is set, and how close its blocks: as large as its pages hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from genex.export.handout.settings import LEAST_OF_LAST_PAGE, SETTINGS, Setting
from genex.export.handout.system_breaks import CrowdedError
from genex.export.handout.typeset import extent

Json = dict[str, Any]

SHEET = "handout"
"""The template of a sheet."""

ALIKE_WITHOUT_LINES = tuple({setting.gaps: setting for setting in SETTINGS[::-1]}.values())[::-1]
"""Of the settings those that differ on a sheet without music: the first of each width of gaps."""


def fitted(
    make: Callable[[Setting], Json], set_anew: Callable[[Json, Setting], Json], wanted: int
) -> Json:
    """The content in the first of ``SETTINGS`` that takes so many pages or fewer, else in that of
    fewest.

    Of a last page at least ``LEAST_OF_LAST_PAGE`` is taken where any setting does that. ``make`` makes
    the content in a setting; ``set_anew`` makes of a block of lines that in another one. Settings in
    which two things would cover each other are passed over; raises CrowdedError where all are such.
    """
    data, known = _begun(make)
    has_lines = any(block["kind"] == "lines" for block in data["blocks"])
    found: list[tuple[int, bool, Json]] = []
    for setting in SETTINGS if has_lines else ALIKE_WITHOUT_LINES:
        alike = _alike(setting)
        if alike not in known:
            try:
                known[alike] = [
                    set_anew(block, setting) if block["kind"] == "lines" else block
                    for block in data["blocks"]
                ]
            except CrowdedError:
                known[alike] = None
        if known[alike] is None:
            continue
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


def _begun(make: Callable[[Setting], Json]) -> tuple[Json, dict[Setting, list[Json] | None]]:
    """The content in the first setting in which all is clear; its blocks by that setting, and none by
    those before it."""
    known: dict[Setting, list[Json] | None] = {}
    for setting in dict.fromkeys(map(_alike, SETTINGS)):
        try:
            data = make(setting)
        except CrowdedError as error:
            known[setting], crowded = None, error
        else:
            return data, {**known, setting: data["blocks"]}
    raise crowded


def _alike(setting: Setting) -> Setting:
    """The setting without its gaps, which leave the music as it is."""
    return replace(setting, gaps=SETTINGS[0].gaps)
