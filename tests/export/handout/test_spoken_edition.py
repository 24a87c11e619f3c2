"""The spoken edition, read as a screen reader reads it: heading by heading."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import lxml.html
import pytest

from genex.compose import compose
from genex.export.handout import (
    BLOCKS,
    HandoutSettings,
    Letterhead,
    SheetPart,
    StudentWords,
    handout_pdf,
    lesson_spoken_html,
    spoken_html,
)
from genex.export.handout.content import handout_data
from genex.recipe import parse_recipe
from genex.score import Score, TempoChange, TempoMap
from tests.export.builders import beats, small_score
from tests.export.handout.sheets import FILLED_IN, MARKUP, empty
from tests.export.handout.tagged import alternatives


def headings(text: str) -> list[tuple[int, str]]:
    root = lxml.html.document_fromstring(text)
    return [(int(e.tag[1]), e.text_content()) for e in root.xpath("//h1|//h2|//h3|//h4")]


@pytest.fixture(scope="module")
def score() -> Score:
    return small_score()


def test_every_block_and_every_bar_has_a_heading(score: Score) -> None:
    words = StudentWords("Hear it.", "Sing *first*.", "- bar 1\n- bar 2", 0)
    text = spoken_html(score, HandoutSettings(worksheet=FILLED_IN, student=words))
    found = headings(text)
    assert [name for level, name in found if level == 2] == [
        "Chart", "Your task", "Which interval?", "Exercise", "Practice", "Remarks", "Until next time",
        "Shapes", "Hands and ears", "Answers",
    ]  # fmt: skip
    assert (3, "Bar 1, G minor seventh") in found
    assert "<li>bar 1</li>" in text and "<p>Sing first.</p>" in text


def test_no_level_is_left_out_and_the_page_names_its_language(score: Score) -> None:
    """[published: WCAG 2.2, 1.3.1 and 3.1.1]"""
    text = spoken_html(score, HandoutSettings(worksheet=FILLED_IN))
    levels = [level for level, _ in headings(text)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert lxml.html.document_fromstring(text).get("lang") == "en"
    assert not {"♭", "♯", "♩"} & set(text)


@pytest.mark.parametrize("kind", BLOCKS)
def test_blocks_left_out_are_left_out(score: Score, kind: str) -> None:
    chosen = HandoutSettings(worksheet=FILLED_IN, blocks=(kind,))  # type: ignore[arg-type]
    assert sum(level == 2 for level, _ in headings(spoken_html(score, chosen))) == (kind != "grips")


def test_what_a_user_wrote_is_no_markup() -> None:
    text = spoken_html(empty("Gm7", MARKUP), HandoutSettings(blocks=("chart",)))
    assert lxml.html.document_fromstring(text).findtext(".//h1") == MARKUP


def test_the_letterhead_is_read_first_and_the_licence_last(score: Score) -> None:
    head = Letterhead("School & Sons", "", "Room 4", "CC BY 4.0", 'https://example.org/?a=1&b="2"')
    body = lxml.html.document_fromstring(
        spoken_html(score, HandoutSettings(blocks=("chart",), letterhead=head))
    ).xpath("//main/*")
    assert [e.text_content() for e in body[:3]] == ["School & Sons", "Room 4", head.link]
    assert body[2].find("a").get("href") == head.link
    assert (body[3].tag, body[-1].text_content()) == ("h1", "CC BY 4.0")


def test_a_lesson_is_told_exercise_by_exercise_and_what_they_share_once(score: Score) -> None:
    settings = HandoutSettings(worksheet=FILLED_IN, student=StudentWords("Aim.", "Slowly.", "", 0))
    parts = [SheetPart(score, settings), SheetPart(replace(score, title="Again"), settings)]
    whole = HandoutSettings(student=StudentWords("All of it.", "", "Twice a day.", 0))
    text = lesson_spoken_html("Evening", parts, whole)
    found = headings(text)
    first, second = f"1. {score.title}", "2. Again"
    assert [name for level, name in found if level < 3] == [
        "Evening", first, second, "Until next time", "Hands and ears",
        f"Answers: {first}", f"Answers: {second}",
    ]  # fmt: skip
    assert all(after <= before + 1 for before, after in pairwise(level for level, _ in found))
    assert found.count((3, "Chart")) == 1 and "<p>The chart is that of exercise 1.</p>" in text
    assert found.count((3, "Remarks")) == text.count("<p>Aim.</p>") == 2
    for once in ("Strings count from", "see a clinician", "4/4", "Twice a day."):
        assert text.count(once) == 1, once


def test_the_lines_of_the_sheet_are_those_of_the_spoken_edition(score: Score) -> None:
    """The text of each engraved system is that of its bars."""
    pdf = handout_pdf(score, HandoutSettings(blocks=("lines",)))
    root = lxml.html.document_fromstring(spoken_html(score, HandoutSettings(blocks=("lines",))))
    bars = [p.text_content() for p in root.xpath("//h3/following-sibling::p")]
    assert bars
    told = " ".join(alternatives(pdf))
    assert all(bar[1:].rstrip(".") in told for bar in bars)


def test_a_tempo_that_rises_and_falls_is_told_as_on_the_sheet() -> None:
    score = small_score()
    changes = tuple(TempoChange(beats(at), beats(bpm)) for at, bpm in ((0, 90), (4, 140), (8, 90)))
    uneven = replace(score, timeline=replace(score.timeline, tempo=TempoMap(changes)))
    assert "♩ = 90" in handout_data(uneven, HandoutSettings(blocks=()))["facts"]
    assert "; 90 quarter notes a minute;" in spoken_html(uneven, HandoutSettings(blocks=()))


def test_headings_of_sections_that_are_chords_are_in_words() -> None:
    recipe = parse_recipe("chords: Bbmaj7\nexercise: shapes\nparts: exercise")
    told = [text for _, text in headings(spoken_html(compose(recipe).score))]
    assert any(text.startswith("B flat major seventh, ") for text in told)
    assert not any("Bbmaj7" in text for text in told)
