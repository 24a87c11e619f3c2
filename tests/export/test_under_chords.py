"""Numerals and scale names under the chords of a chart, in text, drawing and handout data."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import compose
from genex.export.chord_chart import chart_of, chart_text
from genex.export.handout import HandoutSettings
from genex.export.handout.content import handout_data
from genex.export.under_chords import UNDER_CHORDS, aligned, in_signs, texts_under
from genex.recipe import parse_recipe
from genex.score import Score


def composed(recipe: str) -> Score:
    return compose(parse_recipe(f"parts: bass\n{recipe}")).score


def numerals(recipe: str) -> str:
    found = texts_under(composed(recipe).timeline, ["numerals"])
    return " ".join(text for (text,) in found.values())


def test_numerals_and_scales_stand_under_the_chords():
    # ii-V-I with a secondary dominant [common practice]
    score = composed("title: Late Tram\nkey: C\nchords: Dm7 | G7 | Cmaj7 A7 |")
    text = chart_text(score, under=UNDER_CHORDS)
    assert (
        text.split("\n\n", 1)[1]
        == """\
[A]
| Dm7             | G7              | Cmaj7  A7       ||
  ii7               V7                Imaj7  V7/ii
  dorian            mixolydian        major  phrygian
                                             dominant
"""
    )


def test_what_is_not_asked_for_is_not_printed():
    score = composed("key: C\nchords: Dm7 | G7 |")
    assert "ii7" in chart_text(score, under=["numerals"])
    assert "dorian" not in chart_text(score, under=["numerals"])
    assert "ii7" not in chart_text(score, under=["scales"])
    assert "dorian" not in chart_text(score)


def test_a_key_passed_through_is_named_where_it_begins_and_where_it_ends():
    chart = "key: F\nchords: Fmaj7 | Ebm7 Ab7 | Dbmaj7 | Gm7 C7 |"
    assert numerals(chart) == "Imaj7 Db: ii7 V7 Imaj7 F: ii7 V7"


def test_a_section_in_another_key_names_it():
    chart = "key: C\nsections: {A: C | G7, B: {chords: Ab | Eb7, key: Ab}}\nform: A B A"
    assert numerals(chart) == "I V7 Ab: I V7 I V7"


def test_a_bar_with_another_scale_is_no_repeat_of_the_bar_before():
    score = composed("key: C\nchords: Dm7 | % | % |\nscales: {2: phrygian}")
    (section,) = chart_of(score.timeline, ["scales"]).sections
    assert [bar.repeats for bar in section.bars] == [False, False, False]
    (plain,) = chart_of(score.timeline, ["numerals"]).sections
    assert [bar.repeats for bar in plain.bars] == [False, True, True]


def test_a_repeat_is_drawn_only_where_the_same_stands_under_both_passes():
    score = composed("key: C\nchords: '|: Dm7 | G7 :|'\nscales: {3: phrygian}")
    assert len(chart_of(score.timeline, ["numerals"]).sections[0].bars) == 2
    assert len(chart_of(score.timeline, ["scales"]).sections[0].bars) == 4


def test_under_no_chord_stands_nothing():
    score = composed("key: C\nchords: Dm7 | N.C. | G7 |")
    assert list(texts_under(score.timeline, UNDER_CHORDS).values())[1] == ("", "")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("bVII7", "♭VII7"),
        ("V7/bII", "V7/♭II"),
        ("Db: ii7", "D♭: ii7"),
        ("V7b9/ii", "V7♭9/ii"),
        ("dorian b2", "dorian ♭2"),
        ("blues", "blues"),
        ("iiø7", "iiø7"),
    ],
)
def test_signs_of_paper(text, shown):
    assert in_signs(text) == shown


def test_texts_begin_on_one_line_under_all_chords_of_a_row():
    assert aligned([(("V7", "phrygian dominant"), 9), (("Db: ii7", "dorian"), 5)]) == [
        ["V7", "phrygian", "dominant"],
        ["Db: ii7", "dorian", ""],
    ]


SYMBOLS = "Dm7 G7alt Cmaj7 A7b9 Ebm7 Ab7 F#m7b5 B7#11 Bdim7 Fm(maj7) C/E N.C.".split()
bars = st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=4).map(" ".join)


@settings(max_examples=60, deadline=None)
@given(st.lists(bars, min_size=1, max_size=6).map(" | ".join))
def test_in_plain_text_no_text_touches_another(chart):
    score = composed(f"key: C\nchords: {chart} |")
    if not score.timeline.has_chords:
        return
    told = {text for texts in texts_under(score.timeline, UNDER_CHORDS).values() for text in texts}
    words = {word for text in told for word in text.split()}
    lines = chart_text(score, under=UNDER_CHORDS).split("\n")
    printed = [line for line in lines if line.startswith("  ")]
    assert {word for line in printed for word in line.split()} == words


@settings(max_examples=40, deadline=None)
@given(st.lists(bars, min_size=1, max_size=6).map(" | ".join))
def test_on_paper_each_text_fits_the_room_of_its_chord(chart):
    score = composed(f"key: C\nchords: {chart} |")
    if not score.timeline.has_chords:
        return
    settings_ = HandoutSettings(blocks=("chart",), under_chords=UNDER_CHORDS)
    (block,) = handout_data(score, settings_)["blocks"]
    for section in block["sections"]:
        letters = 24 * 4 / section["columns"]
        for row in section["rows"]:
            for bar in row["bars"]:
                for chord in bar["chords"]:
                    assert len(chord["under"]) in (0, row["lines_under"])
                    longest = max(map(len, chord["under"]), default=0)
                    # one bar a row is all that can be done for more
                    assert longest <= chord["share"] * letters or section["columns"] == 1
                for a, b in pairwise(bar["chords"]):
                    assert a["at"] + a["share"] <= b["at"] + 1e-9
