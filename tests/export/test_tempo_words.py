"""Fermatas and words of tempo on every page."""

import pytest

from genex.compose import compose
from genex.exact import Fraction
from genex.export.chord_chart import chart_text
from genex.export.chord_chart_svg import chart_svg
from genex.export.handout.chart_block import chart_block
from genex.export.lead_sheet import lead_sheet_text
from genex.export.musicxml import musicxml_text
from genex.export.phrases import LANGUAGES, words
from genex.export.spoken import chart_in_words
from genex.export.tab import tab_text
from genex.export.tempo_words import TempoSigns, plain_number
from genex.recipe import parse_recipe
from tests.export.test_musicxml import read, valid

CHART = "C6 | Dm7 fermata G7 | a tempo C6 | rit. G7 fermata"


def score_of(chart, head=""):
    text = f"{head}\nparts: exercise\nfeel: click\nchords: '{chart}'\nexercise: arpeggio"
    return compose(parse_recipe(text)).score


@pytest.fixture(scope="module")
def score():
    return score_of(CHART)


def test_charts_and_tab(score):
    above = [line.split() for line in chart_text(score).splitlines() if "fermata" in line]
    assert above == [["fermata", "a", "tempo", "rit.", "fermata"]]
    assert chart_svg(score).count("<path") == 2
    (section,) = chart_block(score.timeline, words("en"))["sections"]
    bars = section["rows"][0]["bars"]
    assert [bar["fermatas"] for bar in bars] == [[], [0.0], [], [0.0]]
    assert [bar["goes_to"] for bar in bars] == ["", "", "a tempo", "rit."]
    headings = " ".join(line for line in tab_text(score).splitlines() if "fermata" in line)
    assert headings.split() == ["1", "2", "fermata", "3", "a", "tempo", "4", "rit.", "fermata"]
    told = chart_in_words(score.timeline, score.timeline.bars, words("en"))
    assert "fermata over D minor seventh" in told and "slowing down" in told and "in tempo again" in told


@pytest.mark.parametrize("write", [musicxml_text, lead_sheet_text])
def test_musicxml(score, write):
    """[package: music21]"""
    text = write(score)
    measures = valid(text).findall("part/measure")
    assert [len(m.findall(".//fermata")) for m in measures] == [0, 1, 0, 1]
    said = [[w.text for w in m.iter("words") if w.get("halign") == "left"] for m in measures]
    assert said == [[], [], ["a tempo"], ["rit."]]
    part = read(text).parts[0]
    held = [
        n for n in part.flatten().notesAndRests if any("Fermata" in e.classes for e in n.expressions)
    ]
    assert [(n.measureNumber, n.beat) for n in held] == [(2, 1), (4, 1)]


def test_a_page_that_writes_all_out_has_a_sign_where_it_is_obeyed():
    timeline = score_of("|: C | F fermata :|").timeline
    bars = [bar for bar in timeline.bars if bar.form_number % 2 == 0]
    everywhere, written_out = TempoSigns(timeline), TempoSigns(timeline, timeline.bars)
    assert [len(everywhere.fermatas(bar)) for bar in bars] == [1, 1]
    assert [len(written_out.fermatas(bar)) for bar in bars] == [0, 1]
    assert len(TempoSigns(timeline, timeline.bars[:2]).fermatas(bars[0])) == 1


def test_numbers_have_the_sign_before_decimals_that_the_language_has() -> None:
    """[published: CLDR, numbers]"""
    told = [plain_number(Fraction(225, 2), words(language)) for language in LANGUAGES]
    assert told == ["112.5", *["112,5"] * 5]
    assert plain_number(Fraction(96), words("de-x-german")) == "96"


def test_a_bar_that_begins_in_time_and_slows_down_is_told_with_both_words():
    recipe = parse_recipe("chords: C | a tempo F | G | C\nritardando: true\nparts: bass")
    timeline = compose(recipe, ending=True).score.timeline
    told = chart_in_words(timeline, timeline.bars, words("en"))
    assert TempoSigns(timeline).words(timeline.bars[1]) == "a tempo rit."
    assert words("en")["say_ritardando"] in told
    assert words("en")["say_a_tempo"] in told
