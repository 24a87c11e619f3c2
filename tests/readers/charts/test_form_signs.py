"""Jumps of files: read as they are meant, written into the recipe, and played in the file's order."""

from __future__ import annotations

import music21
import pytest

from genex.compose import compose, usual_of_feel
from genex.errors import Place
from genex.export.lead_sheet import lead_sheet_text
from genex.readers.charts.abc import read_abc
from genex.readers.charts.foreign_chart import ForeignBar
from genex.readers.charts.form_signs import add_sign, complete, decoration, sign_in_words
from genex.readers.charts.musicxml import read_musicxml
from genex.readers.charts.written import recipe_text
from genex.recipe import parse_recipe
from genex.score import Meter

HERE = Place("t.abc", 1, 1)


def played(recipe):
    return [str(bar.chords[0][0]) for section in recipe.form for bar in section.bars]


def imported(chart):
    text = recipe_text(chart, "Found")
    return text, parse_recipe(text, "t.yaml", usual_of_feel)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("D.C. al Fine", "D.C. al Fine"), ("DC", "D.C."), ("D.C", "D.C."), ("d.c.", None),
        ("Da Capo al fine", "D.C. al Fine"), ("Dal Segno al Coda", "D.S. al Coda"),
        ("D.S. al coda.", "D.S. al Coda"), ("(Fine)", "Fine"), ("To Coda", "To Coda"),
        ("   Segno", "Segno"), ("𝄋", "Segno"), ("CODA", "Coda"), ("Slowly", None), ("Dm", None),
    ],
)  # fmt: skip
def test_words_that_are_signs(text, name):
    assert sign_in_words(text) == name


def test_decorations_are_those_of_the_standard():
    """[published: ABC standard v2.1, 4.14]"""
    assert decoration("D.S.alcoda") == "D.S. al Coda"
    assert decoration("dacoda") == "To Coda"
    assert decoration("trill") is None


def test_of_two_jumps_the_one_that_says_more_is_kept_and_half_of_one_made_whole():
    bars = [ForeignBar(HERE, Meter(4, 4)) for _ in range(3)]
    add_sign(bars[2], "D.S.", HERE)
    add_sign(bars[2], "D.S. al Coda", HERE)
    add_sign(bars[2], "D.S.", HERE)
    assert [one.name for one in bars[2].behind] == ["D.S. al Coda"]
    for bar in bars[:2]:
        add_sign(bar, "Coda", HERE)
    add_sign(bars[1], "D.C.", HERE)
    complete(bars)
    assert [one.name for one in bars[0].behind] == ["To Coda"]
    assert [[one.name for one in bar.before] for bar in bars] == [[], ["Coda"], []]
    assert bars[1].behind[0].name == "D.C. al Coda"


@pytest.mark.parametrize(
    ("music", "order"),
    [
        ('"C"c4|!segno!"F"f4|"G"g4!coda!|"Am"a4!D.S.!|!coda!"Dm"d4|', "C F G Am F G Dm"),
        ('"C"c4|"F"f4!fine!|"G"g4|"Am"a4!D.C.alfine!|', "C F G Am C F"),
        ('"C"c4|"F"f4|"^Fine"|"G"g4|"Am"a4|"^D.C."', "C F G Am C F"),
        ('|:"C"c4|"F"f4:|"G"g4"_D.C."|', "C F C F G C F G"),
        ('P:A\n"C"c4|"F"f4!fine!||\nP:B\n"G"g4|"Am"a4!D.C.!|', "C F G Am C F"),
        ('"C"c4|!segno!"F"f4|"G"g4|', "C F G"),
    ],
)
def test_a_tune_is_played_in_its_order(music, order):
    chart = read_abc(f"X:1\nT:T\nM:4/4\nL:1/4\nK:C\n{music}\n", "t.abc")
    text, recipe = imported(chart)
    assert " ".join(played(recipe)) == order
    lost = "leads nowhere" in text or "between the signs" in text
    assert lost == ("P:" in music or music.endswith('f4|"G"g4|'))


ROUND = [
    "Segno Am | D7 | G To Coda | C | F | Bm7b5 | E7 | Am | D.S. al Coda | Coda Dm | E7 | Am |",
    "|: D | G <A7 Fine :| |: Bm | Em | A7 | D :| D.C. al Fine",
    "|: C | [1. F :| [2. G | Am | D7 | D.C.",
    "C | Segno (3/4) F | (4/4) G To Coda | Am D.S. al Coda | Coda C",
    "C | <F | %% | Segno |: Dm / / <G7 | C :| A7 | D.S.",
]


@pytest.mark.parametrize("chart", ROUND)
def test_a_recipe_comes_back_from_its_lead_sheet(chart):
    before = parse_recipe(f"key: C\nfeel: straight\nchords: '{chart}'\n", "r.yaml", usual_of_feel)
    written = lead_sheet_text(compose(before).score)
    text, after = imported(read_musicxml(written.encode(), "r.musicxml"))
    assert [bar for s in after.form for bar in s.bars] == [bar for s in before.form for bar in s.bars]
    assert after.form[0].jump == before.form[0].jump
    assert not [line for line in text.splitlines() if line.startswith("#   ") and "Straight" not in line]


def test_another_program_expands_an_imported_file_alike():
    """[package: music21 10.5] D.S. al Coda, read from signs alone, without words or sounds."""
    part = music21.stream.Part()
    roots = "C F G A D".split()
    for number, root in enumerate(roots, start=1):
        measure = music21.stream.Measure(number=number)
        measure.insert(0, music21.harmony.ChordSymbol(root))
        measure.append(music21.note.Note(root + "4", quarterLength=4))
        if number == 2:
            measure.insert(0, music21.repeat.Segno())
        if number == 3:
            measure.append(music21.repeat.Coda("to Coda"))
        if number == 4:
            measure.append(music21.repeat.DalSegnoAlCoda())
        if number == 5:
            measure.insert(0, music21.repeat.Coda())
        part.append(measure)
    data = music21.musicxml.m21ToXml.GeneralObjectExporter(part).parse()
    _, recipe = imported(read_musicxml(data, "m.musicxml"))
    theirs = part.expandRepeats().recurse().getElementsByClass("ChordSymbol")
    assert played(recipe) == [one.root().name for one in theirs] == "C F G A F G D".split()


WHOLE = """
title: Odd Steps Home
key: G
tempo: 120
meter: 4/4
feel: straight
sections:
  A: "|: G | C | (2/4) D7 | (4/4) G :|"
  B: {meter: 6/8, tempo: 60, key: Eb, chords: "Cm | Ab | Fm <Bb7 | Eb"}
  C: G | (3/4) D7 | %
"""


def test_keys_meters_and_tempos_of_sections_come_back_from_a_lead_sheet():
    before = parse_recipe(WHOLE, "r.yaml", usual_of_feel)
    written = lead_sheet_text(compose(before).score)
    text, after = imported(read_musicxml(written.encode(), "r.musicxml"))
    assert [(s.name, s.bars, s.tempo, s.key, s.repeats) for s in after.form] == [
        (s.name, s.bars, s.tempo, s.key, s.repeats) for s in before.form
    ]
    assert compose(after).score.timeline.tempo == compose(before).score.timeline.tempo
    assert "change of" not in text


def test_a_tune_that_changes_meter_key_and_tempo_is_imported_so():
    """[published: ABC standard v2.1, 3.1] fields may stand inside of a tune."""
    tune = (
        'X:1\nT:T\nM:4/4\nL:1/4\nQ:1/4=120\nK:C\n"C"c4|"F"f4|[M:3/4]"G"g3|[K:D][Q:1/4=90]"A"a3|"D"d3|\n'
    )
    text, recipe = imported(read_abc(tune, "t.abc"))
    timeline = compose(recipe).score.timeline
    assert [str(bar.meter) for bar in timeline.bars] == ["4/4"] * 2 + ["3/4"] * 3
    assert [(c.onset_beats, c.tempo_bpm) for c in timeline.tempo.changes] == [(0, 120), (11, 90)]
    assert [str(timeline.key_at(bar.onset_beats).tonic) for bar in timeline.bars] == list("CCCDD")
    assert "change of tempo" not in text
