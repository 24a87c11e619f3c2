"""Several exercises on one sheet, one after another under one head."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from genex.export.handout.content import Engraved, care_block, handout_data, lines_block, page_data
from genex.export.handout.fitting import SHEET, fitted
from genex.export.handout.letterhead import letterhead_data
from genex.export.handout.settings import (
    LARGE_SETTING,
    SETTINGS,
    SHEET_PAGES,
    HandoutSettings,
    Setting,
)
from genex.export.handout.student_words import words_block
from genex.export.handout.typeset import pdf, plain_text
from genex.export.phrases import named, words
from genex.score import Score

Json = dict[str, Any]


@dataclass(frozen=True)
class SheetPart:
    """An exercise as a sheet shows it: its score, and its settings as those of a handout of its own."""

    score: Score
    settings: HandoutSettings


def lesson_sheet_pdf(title: str, parts: Sequence[SheetPart], whole: HandoutSettings) -> bytes:
    """A sheet with all exercises of a lesson as a PDF; the same bytes for the same input.

    Of ``whole`` paper, print, language, letterhead and the teacher's words count. The music of all is
    set in one size: as large as a page for each exercise holds, else for the fewest pages. Raises as
    ``handout_pdf``.
    """
    return pdf(SHEET, fitted_lesson(title, parts, whole))


def fitted_lesson(title: str, parts: Sequence[SheetPart], whole: HandoutSettings) -> Json:
    """The content in the first of ``SETTINGS`` that fits its pages, else in that of fewest."""
    if whole.large_print:
        return lesson_data(title, parts, whole, LARGE_SETTING)
    wanted = max(SHEET_PAGES, len(parts) + len(parts) % SHEET_PAGES)

    known: list[Engraved] = [{} for _ in parts]

    def set_anew(block: Json, setting: Setting) -> Json:
        number = block["exercise"]
        part = parts[number]
        lines = lines_block(part.score, _of_a_part(part.settings, whole), setting, known[number])
        assert lines is not None
        for made, before in zip(lines["parts"], block["parts"], strict=True):
            _leave_away(made, before["told_before"])
        return {**lines, "exercise": number}

    return fitted(partial(lesson_data, title, parts, whole), set_anew, wanted)


def lesson_data(
    title: str,
    parts: Sequence[SheetPart],
    whole: HandoutSettings,
    setting: Setting = SETTINGS[0],
) -> Json:
    """Everything that ``templates/handout.typ`` sets of a lesson. Raises as ``handout_data``.

    What all exercises have in common is told once: facts under the title, a chart that comes again by
    the number of its exercise, notes on how to read, the caution. Answers come last, together.
    """
    phrases = words(whole.language)
    made = [handout_data(part.score, _of_a_part(part.settings, whole), setting) for part in parts]
    common = [fact for fact in made[0]["facts"] if all(fact in data["facts"] for data in made)]
    blocks: list[Json] = []
    keys: list[Json] = []
    charts: list[Json | None] = []
    for index, data in enumerate(made):
        number = str(index + 1)
        own = [fact for fact in data["facts"] if fact not in common]
        blocks.append(
            {
                "kind": "exercise",
                "number": number,
                "title": data["title"],
                "facts": own,
                "aim": data["aim"],
            }
        )
        charts.append(next((block for block in data["blocks"] if block["kind"] == "chart"), None))
        for block in data["blocks"]:
            if block["kind"] == "key":
                keys.append(
                    {**block, "heading": named(block["heading"], f"{number}. {data['title']}", phrases)}
                )
            elif block["kind"] == "chart" and block in charts[:index]:
                told = phrases["chart_as_in"].format(number=charts.index(block) + 1)
                blocks.append({"kind": "remark", "text": told})
            else:
                blocks.append({**block, "exercise": index})
    _tell_once(blocks)
    care = care_block(phrases) if "care" in whole.blocks else None
    closing = (words_block(whole.student, phrases), care, *keys)
    return {
        **page_data(plain_text(title), whole.paper, whole.language, whole.font),
        **letterhead_data(whole.letterhead),
        "large_print": whole.large_print,
        "facts": common,
        "aim": plain_text(whole.student.aim),
        "blocks": [*blocks, *(block for block in closing if block is not None)],
    }


def _of_a_part(settings: HandoutSettings, whole: HandoutSettings) -> HandoutSettings:
    """The settings of an exercise within a sheet: its paper and print, and no caution of its own."""
    kept = tuple(block for block in settings.blocks if block != "care")
    return replace(
        settings,
        blocks=kept,
        paper=whole.paper,
        language=whole.language,
        large_print=whole.large_print,
    )


def _tell_once(blocks: Sequence[Json]) -> None:
    """Leave notes on how to read away where they were told before."""
    told: set[str] = set()

    def first(text: str) -> str:
        is_new = text not in told
        told.add(text)
        return text if is_new else ""

    for block in blocks:
        if block["kind"] == "lines":
            for part in block["parts"]:
                new = {*part["legend"]} - told
                _leave_away(part, told)
                told |= new
        for row in block.get("rows", ()):
            if "note" in row:
                row["note"] = first(row["note"])


def _leave_away(part: Json, told: Collection[str]) -> None:
    """Leave sentences of the legend of a line away; what is told of this line alone stays."""
    part["told_before"] = sorted(told)
    part["note"] = " ".join([text for text in part["legend"] if text not in told] + part["remarks"])
