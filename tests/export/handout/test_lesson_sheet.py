"""Several exercises on one sheet: what is told once, and in what order."""

from dataclasses import replace

from genex.export.handout import (
    HandoutSettings,
    SheetPart,
    StudentWords,
    Worksheet,
    fitting,
    lesson_sheet_pdf,
)
from genex.export.handout.lesson_sheet import fitted_lesson, lesson_data
from genex.export.handout.settings import text_width_mm
from tests.export.builders import small_score
from tests.export.handout.sheets import FILLED_IN, empty, pages, squeezed

WHOLE = HandoutSettings(student=StudentWords(homework="- by heart", writing_lines=2))


NOTHING = Worksheet()


def part(score, *blocks, worksheet=NOTHING, **said):
    settings = HandoutSettings(blocks=blocks, worksheet=worksheet, student=StudentWords(**said))
    return SheetPart(score, settings)


def kinds(data):
    return [block["kind"] for block in data["blocks"]]


def test_a_chart_that_comes_again_is_told_by_the_number_of_its_exercise():
    charts = ["C | F", "C | G", "C | F"]
    data = lesson_data("Two", [part(empty(chart), "chart", "care") for chart in charts], WHOLE)
    assert kinds(data) == [
        *("exercise", "chart") * 2, "exercise", "remark", "words", "care",
    ]  # fmt: skip
    assert data["blocks"][5]["text"] == "The chart is that of exercise 1."


def test_facts_of_all_stand_under_the_title_and_others_with_their_exercise():
    slow, quick = empty("C | F", tempo=60), empty("C | F", tempo=90)
    data = lesson_data("Two", [part(slow, "chart"), part(quick, "chart")], WHOLE)
    assert "4/4" in data["facts"] and "♩ = 60" not in data["facts"]
    heads = [block for block in data["blocks"] if block["kind"] == "exercise"]
    assert [head["facts"] for head in heads] == [["♩ = 60"], ["♩ = 90"]]


def test_how_to_read_it_is_told_at_the_first_line_only():
    score = small_score()
    data = lesson_data("Two", [part(score, "lines", "practice")] * 2, WHOLE)
    lines = [block for block in data["blocks"] if block["kind"] == "lines"]
    assert [bool(block["parts"][0]["note"]) for block in lines] == [True, False]


def test_answers_stand_together_at_the_end():
    asked = part(empty("C"), "questions", "key", worksheet=FILLED_IN)
    data = lesson_data("Two", [asked, asked], WHOLE)
    assert kinds(data)[-4:] == ["words", "care", "key", "key"]
    assert data["blocks"][-1]["heading"].endswith(": 2. Lamps on the Canal")


def test_all_of_it_is_printed_and_the_size_of_the_music_is_one():
    score = small_score()
    parts = [part(replace(score, title=f"Part {n}"), "lines", "care", aim=f"Aim {n}") for n in "abc"]
    document = lesson_sheet_pdf("Evening", parts, WHOLE)
    text = squeezed("".join(pages(document)))
    order = ["Evening", "1.Parta", "Aima", "2.Partb", "Aimb", "3.Partc", "Untilnexttime", "Handsandears"]
    places = [text.index(word) for word in order]
    assert places == sorted(places)
    assert document == lesson_sheet_pdf("Evening", parts, WHOLE)


def test_lines_that_are_set_smaller_have_the_paper_and_the_language_of_the_whole(monkeypatch):
    pages = iter((3, 2))
    monkeypatch.setattr(fitting, "extent", lambda template, data: (next(pages), 1.0))
    wide = replace(part(small_score(), "lines").settings, paper="letter", language="de")
    data = fitted_lesson("Two", [SheetPart(small_score(), wide)], WHOLE)
    (lines,) = [block for block in data["blocks"] if block["kind"] == "lines"]
    (line,) = lines["parts"]
    assert line["heading"] == "Exercise"
    systems = line["systems"]
    assert max(each["width_mm"] - each["hang_mm"] for each in systems) <= text_width_mm("a4") + 1
