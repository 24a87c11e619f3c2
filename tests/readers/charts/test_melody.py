"""The melody of a chart as a line: read back, and over the bars that the recipe plays."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from genex.compose import compose, usual_of_feel
from genex.export.musicxml import musicxml_text
from genex.readers.charts import recipe_text
from genex.readers.charts.abc import read_abc
from genex.readers.charts.musicxml import read_musicxml
from genex.recipe import parse_recipe


def imported(music: str, head: str = "", meter: str = "4/4"):
    chart = read_abc(f"X:1\nT:Tune\n{head}M:{meter}\nL:1/4\nK:C\n{music}\n", "t.abc")
    text = recipe_text(chart, "x")
    return chart, text, parse_recipe(text, "x.yaml", usual_of_feel)


def rows(text: str) -> list[str]:
    return [row.strip() for row in text.split("abc: |\n")[1].splitlines()][1:]


@pytest.mark.parametrize(
    ("music", "wanted"),
    [
        ("C2 E/F/ G|(3CDE c>d|", ["C4 EF G2 | (3:2:3C2D2E2 c3 d |"]),  # beats apart
        ("|:c4|[1 d4:|[2 e4|]", ["c8 | d8 | c8 | e8 |"]),
        ("[CEG]2 ^F F|F4|", ["[CEG]4 ^F2 F2 | F8 |"]),
        ("c4-|c2 d2-|e4|", ["c8- | c4 d4 | e8 |"]),  # a tie that leads nowhere is none
        ("z4|Z|c4|", ["z8 | z8 | c8 |"]),
        ("C,,c'|", ["C,,2 c'2 z4 |"]),
        ("{g}.c !trill!d (ef)|", ["c2 d2 e2 f2 |"]),
    ],
)
def test_the_line(music, wanted):
    _, text, _ = imported(music)
    assert rows(text) == wanted


def test_ornaments_are_listed():
    chart, _, _ = imported("{g}.c !trill!d (ef)|")
    assert chart.listed == [
        "line 6: grace notes", "line 6: ornaments and other signs over notes", "line 6: slurs",
    ]  # fmt: skip


def test_a_pickup_leads_into_bar_one_and_into_each_repeat():
    _, text, recipe = imported('|:G|"C"c2e2|"G"d2B:|:A|"F"A4|"C"G3:|')
    assert recipe.pickup_beats == 1
    assert rows(text) == [
        "G2 | c4 e4 | d4 B2 G2 | c4 e4 | d4 B2 A2 |",
        "A8 | G6 A2 | A8 | G6 z2 |",
    ]
    part = next(part for part in compose(recipe).score.lead_parts if part.name == "exercise")
    assert part.pickup_notes == 1 and part.notes[-1].onset_beats == 31


def test_a_pickup_without_room_in_the_bar_before_is_listed():
    chart, text, _ = imported("c4|d4||G|e4|f3|")
    assert rows(text) == ["c8 | d8 | e8 | f6 z2 |"]
    assert any("no room" in one for one in chart.listed)


def test_the_order_of_parts_and_jumps_is_the_recipes():
    _, text, _ = imported('P:A\n"C"c4|\nP:B\n"G"d4|', head="P:ABA\n")
    assert rows(text) == ["c8 | d8 | c8 |"]
    _, text, _ = imported('"C"c4|"F"f4!fine!|"G"g4!D.C.!|')
    assert rows(text) == ["c8 | f8 | g8 | c8 |", "f8 |"]


def test_meters_change_in_the_chart_and_the_line_follows():
    _, text, recipe = imported('"C"c4|[M:3/4]"F"f3|[M:4/4]"C"c4|')
    assert rows(text) == ["c8 | f6 | c8 |"]
    assert [bar.meter.count for bar in compose(recipe).score.timeline.bars] == [4, 3, 4]


def test_a_tune_without_chords_is_a_line_over_bars_without_chords():
    _, text, recipe = imported("G|c2e2|d3|")
    assert "parts: drums exercise" in text and "N.C. | N.C. |" in text
    score = compose(recipe).score
    assert {part.name for part in score.parts} == {"drums", "exercise"}


def test_from_musicxml_and_back():
    """A line written as MusicXML comes back as the same line, its pickup as a pickup."""
    text = (
        "title: T\nkey: F\nmeter: 3/4\npickup: 1\nchords: F | C7 | F | Bb F\nexercise:\n  kind: line\n"
    )
    text += "  abc: |\n    L:1/4\n    C | F>A c | (3B/A/G/ E2 | F2 C | D2 |\n"
    score = compose(parse_recipe(text, "x.yaml", usual_of_feel)).score
    again = read_musicxml(musicxml_text(score.written(), ["exercise"]).encode(), "x.musicxml")
    imported_again = parse_recipe(recipe_text(again, "x"), "x.yaml", usual_of_feel)
    assert imported_again.pickup_beats == F(1)
    first, second = (
        [
            (note.onset_beats, note.duration_beats, note.midi)
            for part in each.lead_parts
            if part.name == "exercise"
            for note in part.notes
        ]
        for each in (score, compose(imported_again).score)
    )
    assert first == second
