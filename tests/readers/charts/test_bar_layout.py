"""Whole bars from what files write, as a player counts them [common practice]."""

import pytest

from genex.readers.charts.abc import read_abc
from genex.readers.charts.bar_layout import laid_out


def lay(music):
    chart = read_abc(f"X:1\nM:4/4\nL:1/4\nK:C\n{music}\n", "t.abc")
    bars = laid_out(chart)
    return [
        "".join(f"{one.text}@{one.onset_beats} " for one in bar.symbols).strip() for bar in bars
    ], chart


@pytest.mark.parametrize(
    ("music", "bars"),
    [
        ('G|"C"c4|"G"G3|]', ["C@0", "G@0"]),
        ('|:G|"C"c4|"G"G3:|:G|"F"F4|"C"c3:|', ["C@0", "G@0", "F@0", "C@0"]),
        ('"C"c4|"F"F3:|G|"C"c4|"G"G4|', ["C@0", "F@0", "C@0", "G@0"]),
        ('"C"c4|"F"F2|"G"G2|"C"c4|', ["C@0", "F@0 G@2", "C@0"]),
        ('"C"c4||"F"F2|"G"G2||', ["C@0", "F@0 G@2"]),
        ('|:"C"c4|"F"F2[1"G"G2:|[2"E"E2|]"A"c4|', ["C@0", "F@0 G@2", "F@0 E@2", "A@0"]),
        ('"C"c4|"F"F4"G"G4|', ["C@0", "F@0", "G@0"]),
    ],
)
def test_pickups_and_cut_bars(music, bars):
    assert lay(music)[0] == bars


def test_what_is_stretched_or_left_away_is_listed():
    _, chart = lay('"D"G|"C"c4|"F"F3|"G"G4 G|c4|')
    assert chart.listed == [
        "line 5: D over the pickup of 1 quarter note",
        "line 5: the bar of 3 quarter notes in 4/4 stands as a whole bar",
        "line 5: the bar of 5 quarter notes in 4/4 stands as 1 bar",
    ]


def test_what_begins_with_a_bar_is_listed_where_it_stands_inside_of_one():
    """A bar line may cut a bar in two; a recipe's key, tempo and Segno begin with a bar."""
    bars, chart = lay('Q:1/4=100\n"C"c4|"F"F2|[K:G][Q:1/4=140]!segno!"G"G2|"C"c4|')
    assert bars == ["C@0", "F@0 G@2", "C@0"]
    assert chart.listed == [
        "line 6: the change of key inside the bar",
        "line 6: the change of tempo inside the bar",
        "line 6: the sign 'Segno' inside the bar",
    ]
    assert lay('"C"c4|"F"F2|"G"G2|"C"c4|')[1].listed == []
