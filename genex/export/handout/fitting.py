"""How large the music of a sheet is set: as large as its pages hold."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from genex.export.handout.settings import SETTINGS, Setting
from genex.export.handout.typeset import extent

Json = dict[str, Any]

SHEET = "handout"
"""The template of a sheet."""


def fitted(
    data: Json, set_anew: Callable[[Json, Setting], Json], is_enough: Callable[[int, float], bool]
) -> Json:
    """The content in the first of ``SETTINGS`` that is enough, else in that of fewest pages.

    ``data`` is in the first setting; ``set_anew`` makes of a block of lines that in another one, and
    ``is_enough`` is asked with the pages and the share of the last one that is taken.
    """
    best, blocks = data, data["blocks"]
    if not any(block["kind"] == "lines" for block in blocks):
        return data
    fewest, last = extent(SHEET, data)
    for setting in SETTINGS[1:]:
        if is_enough(fewest, last):
            break
        anew = [set_anew(block, setting) if block["kind"] == "lines" else block for block in blocks]
        smaller = {**data, "blocks": anew}
        pages, share = extent(SHEET, smaller)
        if pages < fewest:
            best, fewest, last = smaller, pages, share
    return best
