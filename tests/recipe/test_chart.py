"""The chord chart as a musician writes it."""

from fractions import Fraction as F

import pytest

from genex.errors import RecipeError
from genex.recipe.chart import ChartReader, unroll
from genex.score import Meter
from genex.theory import parse_chord
from genex.yaml_source import parse_source


def read(chart, meter="4/4"):
    source = parse_source("chords: |\n  " + chart.replace("\n", "\n  ") + "\n", "r.yaml")
    reader = ChartReader(source, Meter.parse(meter), parse_chord)
    return unroll(reader.read(*source.written(("chords",))))


def said(chart, meter="4/4"):
    """``Dm7:2 G7:2 | C:4``"""
    return " | ".join(
        " ".join(f"{chord or 'N.C.'}:{beats}" for chord, beats in bar.chords)
        for bar in read(chart, meter)
    )


@pytest.mark.parametrize(
    ("chart", "bars"),
    [
        ("Gm7 | C7 | Fmaj7 |", "Gm7:4 | C7:4 | Fmaj7:4"),
        ("| Gm7 | C7", "Gm7:4 | C7:4"),
        ("Gm7\nC7", "Gm7:4 | C7:4"),
        ("Gm7 || C7 |]", "Gm7:4 | C7:4"),
        ("Dm7 G7 | % | C", "Dm7:2 G7:2 | Dm7:2 G7:2 | C:4"),
        ("Dm7 / / G7", "Dm7:3 G7:1"),
        ("C | / / G /", "C:4 | C:2 G:2"),
        ("Dm7 /", "Dm7:4"),
        ("N.C. | nc | C", "N.C.:4 | N.C.:4 | C:4"),
        ("C/E | C6/9", "C/E:4 | C6/9:4"),
        ("C G F", "C:2 G:1 F:1"),
        ("C # the tonic | not a bar\nG", "C:4 | G:4"),
        ("|: A | B :| C", "A:4 | B:4 | A:4 | B:4 | C:4"),
        ("A | B :|", "A:4 | B:4 | A:4 | B:4"),
        ("|: A :|x3 B", "A:4 | A:4 | A:4 | B:4"),
        ("|: A | [1. B :| [2. C | D", "A:4 | B:4 | A:4 | C:4 | D:4"),
        ("|: A | [1. B :| [2. C :| [3. D | E", "A:4 | B:4 | A:4 | C:4 | A:4 | D:4 | E:4"),
        ("A | |: B | [1. C | D :| [2. E | F", "A:4 | B:4 | C:4 | D:4 | B:4 | E:4 | F:4"),
        ("|: A :| |: B :|", "A:4 | A:4 | B:4 | B:4"),
    ],
)
def test_charts(chart, bars):
    assert said(chart) == bars


@pytest.mark.parametrize(
    ("meter", "chart", "bars"),
    # Chords share the beats of a bar, first ones longer [common practice]
    [
        ("3/4", "C G", "C:2 G:1"),
        ("5/4", "C G", "C:3 G:2"),
        ("6/8", "C G", "C:3/2 G:3/2"),
        ("12/8", "C G F", "C:3 G:3/2 F:3/2"),
        ("7/8", "C G F", "C:1 G:1 F:3/2"),
        ("2/2", "C G", "C:2 G:2"),
    ],
)
def test_meters(meter, chart, bars):
    assert said(chart, meter) == bars


@pytest.mark.parametrize(
    ("chart", "place", "message"),
    [
        ("C | Xm7 | D", "2:7", "Xm7"),
        ("C |\nF | Gm77q", "3:7", "Gm77q"),
        ("C G F D A", "2:11", "4 beats, and 5"),
        ("% | C", "2:3", "no bar before"),
        ("C % | C", "2:5", "whole bar"),
        ("/ C", "2:3", "no chord before"),
        ("| |", "2:1", "chart is empty"),
        (":| C", "2:3", "closes before any bar"),
        ("C |:", "2:1", "opens after the last bar"),
        ("|: A :|x99", "2:8", "99 times"),
        ("C [1. D", "2:5", "ending begins inside a bar"),
    ],
)
def test_what_is_wrong_is_pointed_at(chart, place, message):
    with pytest.raises(RecipeError, match=message) as caught:
        read(chart)
    at = caught.value.place
    if "Gm77q" in chart:  # the place lies inside the symbol
        assert (at.line, at.column) >= (3, 7)
        assert at.line == 3 and at.column < 7 + len("Gm77q")
    else:
        assert str(at) == f"r.yaml:{place}"
    assert caught.value.hint


def test_a_bar_keeps_its_length_in_every_meter():
    for meter in ("2/4", "3/4", "4/4", "5/4", "6/8", "7/8", "9/8", "12/8"):
        pulses = len(Meter.parse(meter).pulses)
        for count in range(1, pulses + 1):
            (bar,) = read(" ".join(["C", "G", "F", "D", "A"][:count]), meter)
            assert sum((beats for _, beats in bar.chords), F(0)) == Meter.parse(meter).bar_beats
