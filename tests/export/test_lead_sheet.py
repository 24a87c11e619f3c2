"""Lead sheets: slashes on the beats, the rhythm of hits; other signs in ``test_musicxml.py``."""

from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import compose
from genex.export.chord_chart import chart_text
from genex.export.handout.chart_block import chart_block
from genex.export.lead_sheet import lead_sheet_text
from genex.export.phrases import words
from genex.export.spoken import chart_in_words
from genex.recipe import parse_recipe
from tests.export.test_musicxml import read, valid

HITS = "C7 {1- 3& 4} | % | F7 {} | G7"


@pytest.fixture(scope="module")
def score():
    return compose(parse_recipe(f"parts: bass\nchords: '{HITS}'")).score


def test_hits_are_a_rhythm_of_slashes_with_accents(score):
    measures = valid(lead_sheet_text(score)).findall("part/measure")
    notes = [
        (n.findtext("type"), n.find("rest") is not None, n.find(".//accent") is not None)
        for n in measures[0].iter("note")
    ]
    # the note that shows the middle of the bar is tied over it [common practice]
    assert notes == [
        ("half", False, True), ("eighth", False, False), ("eighth", False, True),
        ("eighth", False, True), ("eighth", True, False),
    ]  # fmt: skip
    assert [n.get("type") for n in measures[0].iter("tie")] == ["start", "stop"]
    assert all(n.find("rest") is not None for n in measures[2].iter("note"))
    assert [n.findtext("stem") for n in measures[3].iter("note")] == ["none"] * 4


COUNTS = ["1", "1e", "1&", "1a", "2la", "2li", "2-", "3&", "3&-", "4", "4a-"]


@settings(max_examples=12, deadline=None)
@given(st.lists(st.sampled_from(COUNTS), unique_by=lambda count: count[:2]).map(sorted))
def test_music21_reads_the_written_onsets(counts):
    """[package: music21]"""
    order = {"": 0, "e": 1, "l": 1.5, "&": 2, "a": 3}
    counts.sort(key=lambda count: (count[0], order[count[1:2].replace("-", "")]))
    recipe = parse_recipe(f"parts: bass\nchords: 'C7 | F7 {{{' '.join(counts)}}}'")
    composed = compose(recipe).score
    text = lead_sheet_text(composed)
    valid(text)
    measure = read(text).parts[0].getElementsByClass("Measure")[1]
    struck = [note for note in measure.notes if not note.tie or note.tie.type == "start"]
    struck = [note for note in struck if "ChordSymbol" not in note.classes]
    hits = composed.timeline.bars[1].hits
    assert [F(note.offset).limit_denominator(48) for note in struck] == [h.onset_beats for h in hits]
    assert measure.duration.quarterLength == 4


def test_charts_write_them_so_that_they_can_be_read_again(score):
    text = chart_text(score)
    row = next(line for line in text.splitlines() if line.startswith("|"))
    again = parse_recipe(f"chords: '{row.replace('||', '|')}'").form[0].bars
    assert [bar.hits for bar in again] == [bar.hits for bar in score.timeline.bars]
    block = chart_block(score.timeline, words("en"))
    (row,) = block["sections"][0]["rows"]
    assert row["has_hits"] and [hit["count"] for hit in row["bars"][0]["hits"]] == ["1", "3&", "4"]
    assert row["bars"][2]["is_silent"] and not row["bars"][1]["hits"]
    told = chart_in_words(score.timeline, score.timeline.bars, words("en"))
    assert "the band strikes only on 1, 3 and, 4" in told and "the band is silent" in told


def test_a_tempo_that_changes_within_a_beat_of_the_sheet_is_written():
    # A ritardando in 6/8 goes by eighths, and slashes stand on dotted quarters.
    slower = parse_recipe("parts: bass\nmeter: 6/8\nchords: C | rit. G7 | <D7\n")
    root = valid(lead_sheet_text(compose(slower, ending=True).score))
    divisions = int(root.findtext(".//divisions"))
    offsets = [int(one.text) for one in root.findall(".//direction/offset")]
    assert [F(offset, divisions) for offset in offsets] == [F(3, 4), F(3, 2), F(9, 4)]
