"""ABC read as the standard says it [published: ABC standard v2.1; sections stand beside the tests]."""

from fractions import Fraction as F

import pytest

from genex.errors import ChartFileError
from genex.readers.charts.abc import read_abc
from genex.readers.charts.foreign_chart import played_bars


def read(music, *, head="M:4/4\nL:1/8\n", key="C", number=None):
    return read_abc(f"X:1\nT:Ferry Steps\n{head}K:{key}\n{music}\n", "t.abc", number)


def chords(music, **more):
    return [[(one.text, one.onset_beats) for one in bar.symbols] for bar in read(music, **more).bars]


def test_a_chord_stands_where_the_note_behind_it_begins():
    assert chords('"Am"A2 B2 "G7"c2 d2|"F"z8|') == [[("Am", 0), ("G7", 2)], [("F", 0)]]


@pytest.mark.parametrize(
    ("music", "onset"),
    [
        ('A4 "C"A4', F(2)),
        ('A3/2B/2 A2 "C"A4', F(2)),
        ('A>B A>B "C"A4', F(2)),  # 4.4 broken rhythm
        ('A>"C"B A2 A4', F(3, 4)),
        ('A<<"C"B A2 A4', F(1, 8)),
        ('(3ABc (3ABc "C"A4', F(2)),  # 4.13 tuplets
        ('(3:2:2A2B "C"c A2 A2', F(1)),
        ('(5ABcde "C"A4', F(1)),  # five in the time of two, as the meter is simple
        ('[CEG]2 [C2E2G2] "C"A4', F(2)),  # 4.17 chords
        ('{gab}A2 !trill!A2 .~A2 -A2 "C"x', F(4)),
        ('A/B/ c// d// "C"e2', F(3, 4)),
        ('[L:1/4]A2 "C"A2', F(2)),
    ],
)
def test_lengths_are_counted(music, onset):
    ((found,),) = chords(music)
    assert found == ("C", onset)


@pytest.mark.parametrize(
    ("head", "eighths"),
    [("M:2/4\n", F(1, 4)), ("M:3/4\n", F(1, 2)), ("M:6/8\n", F(1, 2)), ("", F(1, 2))],
)
def test_the_usual_length_of_a_note_follows_the_meter(head, eighths):
    """3.1.7: a sixteenth where the meter is below 0.75, else an eighth."""
    assert read("c|", head=head).bars[0].length_beats == eighths


@pytest.mark.parametrize(
    ("music", "order"),
    [
        ("c8|d8:|e8|", [0, 1, 0, 1, 2]),
        ("|:c8|d8:|", [0, 1, 0, 1]),
        ("c8:|d8:|", [0, 0, 1, 1]),
        ("|:c8::d8:|", [0, 0, 1, 1]),
        ("c8||d8:|", [0, 1, 1]),  # from the latest double bar line
        ("|:c8|1d8:|2e8|]f8|", [0, 1, 0, 2, 3]),
        ("|:c8|[1 d8:|[2 e8||f8|", [0, 1, 0, 2, 3]),
        ("|:c8|[1,3 d8:|[2 e8:|f8|", [0, 1, 0, 2, 0, 1, 3]),
        ("|:c8|[1-2 d8:|[3 e8|]", [0, 1, 0, 1, 0, 2]),
        ("|::c8::|", [0, 0, 0]),
        ("|:c8|1 d8:|\n2e8||f8|", [0, 1, 0, 2, 3]),
        ("|:c8:||:d8:|", [0, 0, 1, 1]),
    ],
)
def test_repeats_and_endings(music, order):
    """4.8 and 4.9."""
    assert played_bars(read(music).bars) == order


def test_heading():
    chart = read_abc(
        "X: 7\nT: Ferry Steps\nT: Other\nC: trad.\nM: 6/8\nQ: 3/8=116\nP: A2B\nK: Ador clef=treble\n"
        "P:A\n[K:G]abc abc|\nP:B\nabc abc|\nw:la la\n",
        "t.abc",
    )
    assert (chart.title, chart.credits) == ("Ferry Steps", ["composer: trad."])
    assert (str(chart.key), chart.tempo) == ("A dorian", F(174))
    assert chart.form == ("A", "A", "B")
    assert [bar.section for bar in chart.bars] == ["A", "B"]
    assert str(chart.bars[0].key) == "G major"
    assert chart.listed == ["line 3: a further title 'Other'", "line 13: the words 'la la'"]


@pytest.mark.parametrize(
    ("key", "read_as"),
    [
        ("Am", "A minor"), ("F#m", "F# minor"), ("Bb", "Bb major"), ("D mix", "D mixolydian"),
        ("Edorian", "E dorian"), ("G major", "G major"), ("C Lydian", "C lydian"),
        ("D exp _b", "D major"), ("none", "None"),
    ],
)  # fmt: skip
def test_keys(key, read_as):
    """3.1.14."""
    assert str(read("c8|", key=key).key) == read_as


@pytest.mark.parametrize(
    ("parts", "order"), [("AABB", "AABB"), ("A3.B", "AAAB"), ("((AB)3.C)2", "ABABABCABABABC")]
)
def test_order_of_parts(parts, order):
    """3.1.9."""
    assert "".join(read("c8|", head=f"P:{parts}\n").form) == order


def test_what_is_not_read_is_listed():
    chart = read('"^slowly"A2 "Qx7"A2 "G(Em)"A2 "(F)"A2 & c8 | !segno! A8 | "D.C."')
    assert chart.listed == [
        "line 6: the words 'slowly'",
        "line 6: 'Qx7' is not a chord that can be read",
        "line 6: 'Em' may be played instead of G",
        "line 6: '(F)' is optional; it is played",
        "line 6: a second voice inside the bar",
    ]
    assert [one.name for one in chart.bars[1].before] == ["Segno"]
    assert [one.name for one in chart.bars[1].behind] == ["D.C."]
    assert [one.text for one in chart.bars[0].symbols] == ["G", "F"]


@pytest.mark.parametrize(
    ("text", "place", "message"),
    [
        ("la la", "t.abc:1:1", "there is no tune"),
        ("X:1\nT:x\nM:4/4\n", "t.abc:3:1", "has no key"),
        ("X:1\nK:Zz\nA|\n", "t.abc:2:3", "is not a key"),
        ("X:1\nL:1/0\nK:C\nA|\n", "t.abc:2:3", "is not a note length"),
        ('X:1\nK:C\nA "Am B|\n', "t.abc:3:3", "never closes"),
        ("X:1\nK:C\nV:1\nA4|\nV:2\nB4|\n", "t.abc:6:1", "second voice"),
        ("X:1\nK:C\nA\n\nX:2\nT:Two\nK:C\nB\n", "t.abc:1:1", "has 2 tunes"),
        ("X:1\nabc\nK:C\n", "t.abc:2:1", "before the key"),
        ("X:1\nK:C\n" + "A8|\n" * 1100, "t.abc:1027:1", "more than 1024 bars"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_place(text, place, message):
    with pytest.raises(ChartFileError, match=message) as caught:
        read_abc(text, "t.abc")
    assert str(caught.value.place) == place
    assert caught.value.hint


def test_a_tune_is_chosen_by_its_number():
    text = "X:001\nT:One\nK:C\nA8|\n\nX:2\nT:Two\nK:G\nB8|\n"
    assert [read_abc(text, "t.abc", number).title for number in (1, 2)] == ["One", "Two"]
    with pytest.raises(ChartFileError, match="no tune X:3"):
        read_abc(text, "t.abc", 3)
