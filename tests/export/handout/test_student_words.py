"""The teacher's own words on the sheet."""

from __future__ import annotations

from typing import Any

from genex.export.handout import HandoutSettings, StudentWords, handout_pdf
from genex.export.handout.student_words import words_block
from genex.export.phrases import words
from tests.export.builders import small_score
from tests.export.handout.sheets import pages

CODE = "#let x = 1 <b>y</b> $z$ @label *"


def made(**said: Any) -> Any:
    return words_block(StudentWords(**said), words("en"))


def printed(**said: Any) -> str:
    settings = HandoutSettings(blocks=("chart", "care"), student=StudentWords(**said))
    return " ".join("\n".join(pages(handout_pdf(small_score(), settings))).split())


def test_without_words_there_is_no_block():
    assert made() is None
    assert made(remarks="  \n") is None


def test_runs_keep_the_blanks_between_them():
    (paragraph,) = made(remarks="Sing *then* play.")["parts"][0]["paragraphs"]
    assert [(s["text"], s["stress"]) for s in paragraph["spans"]] == [
        ("Sing ", ""),
        ("then", "emphasis"),
        (" play.", ""),
    ]


def test_aim_remarks_homework_and_caution_stand_in_this_order():
    text = printed(aim="Hear thirds.", remarks="Slowly.", homework="- by heart", writing_lines=2)
    order = "Hear thirds.|Chart|Remarks|Slowly.|Until next time|by heart|Notes|Hands".split("|")
    places = [text.index(part) for part in order]
    assert places == sorted(places)


def test_homework_has_boxes_and_remarks_have_points():
    parts = made(remarks="- a", homework="- b")["parts"]
    assert [(part["boxes"], part["paragraphs"][0]["marker"]) for part in parts] == [
        (False, "•"),
        (True, "•"),
    ]


def test_nothing_in_them_is_run():
    assert "".join(CODE.split()) in "".join(printed(remarks=CODE, aim=CODE).split())
