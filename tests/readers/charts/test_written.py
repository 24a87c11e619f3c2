"""The recipe that is written of a chart: what it plays is what the file plays."""

import pytest

from genex.compose import usual_of_feel
from genex.errors import ChartFileError
from genex.readers.charts.abc import read_abc
from genex.readers.charts.written import recipe_text
from genex.recipe import parse_recipe


def written(music, *, meter="4/4", unit="1/4", key="C", head=""):
    chart = read_abc(f"X:1\nT:Ferry Steps\nM:{meter}\nL:{unit}\n{head}K:{key}\n{music}\n", "t.abc")
    text = recipe_text(chart, "Ferry")
    return chart, text, parse_recipe(text, "t.yaml", usual_of_feel)


def played(recipe):
    return [
        " ".join(f"{chord.symbol if chord else 'N.C.'}:{beats}" for chord, beats in bar.chords)
        for section in recipe.form
        for bar in section.bars
    ]


@pytest.mark.parametrize(
    ("music", "bars"),
    [
        ('"C"c4|"F"f2"G7"g2|', ["C:4", "F:2 G7:2"]),
        ('"C"c3"G"g|c4|', ["C:3 G:1", "G:4"]),
        ('c4|"C"c4|cc"F"c2|', ["N.C.:4", "C:4", "C:2 F:2"]),
        ('|:"C"c4|[1"F"c4:|[2"G"c4|]"A"c4|', ["C:4", "F:4", "C:4", "G:4", "A:4"]),
        ('|:"C"c4|[1"F"c4:|[2c4|]', ["C:4", "F:4", "C:4", "C:4"]),
        ('|:"C"c4|[1,3"F"c4:|[2"G"c4:|"A"c4|', ["C:4", "F:4", "C:4", "G:4", "C:4", "F:4", "A:4"]),
        ('|::"C"c4|"F"c4::|', ["C:4", "F:4"] * 3),
        ('"C"c4|"F"c4:|"G"c4:|', ["C:4", "F:4", "C:4", "F:4", "G:4", "G:4"]),
        ('"C"c"F"f"G"g"Am"a|', ["C:1 F:1 G:1 Am:1"]),
        ('"C"c3/2"F"f5/2|', ["C:2 F:2"]),
    ],
)
def test_the_recipe_plays_what_the_file_plays(music, bars):
    assert played(written(music)[2]) == bars


def test_a_chord_off_the_beat_goes_to_the_next_and_is_listed():
    chart, text, _ = written('"C"c7/4"F"f9/4|')
    assert chart.listed == ["line 6: F is off the beat; it stands on beat 3"]
    assert "#   line 6: F is off the beat; it stands on beat 3" in text


@pytest.mark.parametrize(
    ("music", "bars"),
    [
        ('"C"c3/2"F"f5/2|', "C <F"),
        ('"C"c7/2"F"f/2|f4|"G"g4|', "C | <F | G"),
        ('"C"c7/2"F"f/2|"G"f4|', "C / / F | G"),
        ('"C"c7/2"F"f/2|:f4:|', "C / / F | |: F"),
    ],
)
def test_a_chord_an_eighth_before_its_beat_is_pushed(music, bars):
    """Not over the sign of a repeat, which is passed twice."""
    chart, text, _ = written(music)
    said = " | ".join(
        line.removesuffix(" |").strip() for line in text.split("chords: |\n")[1].splitlines()
    )
    assert said.startswith(bars)
    assert bool(chart.listed) == ("/ / F" in bars)


@pytest.mark.parametrize(
    ("meter", "head", "tempo"),
    [
        ("4/4", "Q:1/4=90\n", 90),
        ("6/8", "Q:3/8=60\n", 60),
        ("2/2", "Q:1/2=80\n", 160),
        ("3/4", "Q:120\n", 60),
    ],
)
def test_tempo_is_in_pulses_of_the_meter(meter, head, tempo):
    *_, recipe = written('"C"c|', meter=meter, unit="1/8", head=head)
    assert recipe.fields.tempo == tempo
    assert str(recipe.meter) == meter


@pytest.mark.parametrize("meter", ["2/4", "3/8", "6/4", "5/4", "7/8", "9/8", "12/8", "3/2", "C|"])
def test_every_meter_has_a_feel(meter):
    *_, recipe = written('"C"z8|', meter=meter, unit="1/8")
    assert recipe.fields.feel


def test_parts_become_sections_in_their_order():
    _, _, recipe = written('P:A\n|:"C"c4:|\nP:B\n"F"c4|[K:G]"D"d4|', head="P:ABA\n")
    assert [section.name for section in recipe.form] == ["A", "B", "A"]
    *_, recipe = written('P:A\n"C"c4|\nP:A\n"F"c4|[K:G]"D"d4|')
    assert [section.name for section in recipe.form] == ["A", "A 2", "B"]
    assert [str(section.key) for section in recipe.form] == ["None", "None", "G major"]


def test_a_file_without_chords_and_notes_is_refused():
    with pytest.raises(ChartFileError, match="no chord symbol and no melody"):
        written("z4|z4|")


def test_remarks_of_the_file_stay_remarks():
    chart = read_abc('X:1\nT:"Odd" #1: \\x\nC:a\x1b[2Jb\nM:4/4\nL:1/4\nK:C\n"C"c4|\n', "a/t.abc")
    text = recipe_text(chart, "x")
    assert parse_recipe(text).title == '"Odd" #1: \\x'
    assert text.splitlines()[:2] == [
        "# From t.abc (ABC). The feel is a plain one for the meter.",
        "# composer: ab",
    ]
