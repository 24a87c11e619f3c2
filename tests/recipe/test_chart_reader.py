"""The chord chart as a musician writes it."""

from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import RecipeError
from genex.recipe import parse_recipe
from genex.recipe.chart_reader import ChartReader
from genex.score import Meter
from genex.text.yaml_source import parse_source
from genex.theory import parse_chord


def read(chart, meter="4/4"):
    source = parse_source("chords: |\n  " + chart.replace("\n", "\n  ") + "\n", "r.yaml")
    reader = ChartReader(source, Meter.parse(meter), parse_chord)
    return reader.read(*source.written(("chords",)))


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
        ("|: A :|: B :|", "A:4 | A:4 | B:4 | B:4"),
        ("|:A:|x3 B", "A:4 | A:4 | A:4 | B:4"),
        ("|: A | [1. B :| [2. C :| D", "A:4 | B:4 | A:4 | C:4 | D:4"),
        ("A | [1. B :| [2. C | |: D :|", "A:4 | B:4 | A:4 | C:4 | D:4 | D:4"),
        ("|: A | [1. B :| [2. C :| D | E :|", "A:4 | B:4 | A:4 | C:4 | D:4 | E:4 | D:4 | E:4"),
        ("|: [1. B :| [2. C", "B:4 | C:4"),
        ("A | B | %%", "A:4 | B:4 | A:4 | B:4"),
        ("A | B | %% | %%", "A:4 | B:4 | A:4 | B:4 | A:4 | B:4"),
        ("A | B C | |: %% :| D", "A:4 | B:2 C:2 | A:4 | B:2 C:2 | A:4 | B:2 C:2 | D:4"),
        ("|: A | [1. B | C | %% :| [2. D", "A:4 | B:4 | C:4 | B:4 | C:4 | A:4 | D:4"),
        ("A <B | (Em) | <C(Am)", "A:2 B:2 | Em:4 | C:4"),
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
        ("C |:", "2:5", "opens after the last bar"),
        ("|: A :|x99", "2:8", "99 times"),
        ("C [1. D", "2:5", "ending begins inside a bar"),
        ("|: C | [3. F :| [4. G", "2:10", "ending 3 stands where ending 1 is due"),
        ("|: C | [1. F :| [3. G", "2:19", "ending 3 stands where ending 2 is due"),
        ("C | [2. F |", "2:7", "ending 2 stands where ending 1 is due"),
        ("[1. C :| [2. D", "2:3", "outside of a repeat"),
        ("|: C | [1. F | [2. G :|", "2:10", "ending 1 does not close"),
        ("|: C | [1. F :| [2. G | [3. A", "2:19", "ending 2 does not close"),
        ("|: C | [1. F :| G", "2:10", "ending 1 is the only one"),
        ("|: C | [1. F :|x3 [2. G", "2:16", "once for each"),
        ("|: C | [1. :| [2. G", "2:10", "ending 1 has no bars"),
        ("|: C | [1. F :| [2.", "2:19", "ending 2 has no bars"),
        ("|: C | F", "2:3", "never closes"),
        ("|: C | |: F :|", "2:3", "never closes"),
        ("C | |: :| F", "2:10", "no bar between"),
        ("|: |: C :|", "2:6", "opens twice"),
        ("C :| :| F", "2:8", "closes twice"),
        ("C | [ F", "2:7", "stands alone"),
        ("C | [x F", "2:7", "stands alone"),
        ("C :|x" + "9" * 5000, "2:5", "cannot be played"),
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


NAMES = [f"{root}{kind}" for root in "CDEFGAB" for kind in ("", "m", "7", "m7", "maj7", "6", "9")]


@st.composite
def charts(draw):
    """A well-formed chart, and the bars that a player would play."""
    names = iter(NAMES)

    def bars():
        return [next(names) for _ in range(draw(st.integers(1, 3)))]

    def bar_line():
        return draw(st.sampled_from([" | ", " || ", " |\n", "\n"]))

    written, played = [], []
    for _ in range(draw(st.integers(1, 3))):
        body = bars()
        text = bar_line().join(body)
        kind = draw(st.sampled_from(["once", "again", "endings"]))
        if kind == "once":
            written.append(text)
            played += body
        elif kind == "again":
            times = draw(st.integers(2, 4))
            count = "" if times == 2 and draw(st.booleans()) else f"x{times}"
            written.append(f"|: {text} :|{count}")
            played += body * times
        else:
            endings = [bars() for _ in range(draw(st.integers(2, 3)))]
            shown = [f"[{n}. {bar_line().join(bars)}" for n, bars in enumerate(endings, start=1)]
            written.append(f"|: {text} | {' :| '.join(shown)} :|")
            for ending in endings:
                played += [*body, *ending]
    return bar_line().join(written), played


@settings(max_examples=150, deadline=None)
@given(charts())
def test_well_formed_charts_are_played_as_written_and_no_bar_is_lost(chart_and_bars):
    chart, bars = chart_and_bars
    assert [str(bar.chords[0][0]) for bar in read(chart)] == bars


def repeats(chart):
    reader = ChartReader(parse_source("", "r.yaml"), Meter.parse("4/4"), parse_chord)
    found = reader.chart(chart, 0)
    return found.bars, found.repeats


@settings(max_examples=150, deadline=None)
@given(charts())
def test_what_is_written_once_is_told_with_its_passes(chart_and_bars):
    chart, names = chart_and_bars
    bars, found = repeats(chart)
    assert len(found) == chart.count("|:")
    written = len(names)
    for repeat in found:
        assert len(repeat.endings) >= 2
        at, bodies = repeat.first_bar, []
        for ending in repeat.endings:
            bodies.append(bars[at : at + repeat.body])
            at += repeat.body + ending
        assert len(set(bodies)) == 1
        written -= repeat.body * (len(repeat.endings) - 1)
    assert written == len({*names}), "each bar of the chart has a name of its own"


@pytest.mark.parametrize(
    ("chart", "expected"),
    [
        ("A | B", []),
        ("|: A | B :| C", [(0, 2, (0, 0))]),
        ("A | |: B :|x3", [(1, 1, (0, 0, 0))]),
        ("|: A | [1. B :| [2. C", [(0, 1, (1, 1))]),
        # The last ending goes on to the end of the chart; on paper it is as long as the first.
        ("|: A | [1. B :| [2. C | D | E", [(0, 1, (1, 1))]),
        ("|: A | [1. B :| [2. C | D :| E", [(0, 1, (1, 2))]),
        # Two endings of nothing are no repeat.
        ("|: [1. B :| [2. C", []),
    ],
)
def test_repeats(chart, expected):
    found = [(r.first_bar, r.body, r.endings) for r in repeats(chart)[1]]
    assert found == expected


SIGNS = ["C", "F ", "G7", "|:", ":|", "|", "[1.", "[2.", "[3.", "[", "x3", ":", "%", "/", " ", "\n", "]"]


@settings(max_examples=300, deadline=None)
@given(st.one_of(st.lists(st.sampled_from(SIGNS), max_size=14).map("".join), st.text(max_size=30)))
def test_any_text_gives_bars_or_is_refused_with_a_place(text):
    source = parse_source("", "r.yaml")
    try:
        bars = ChartReader(source, Meter.parse("4/4"), parse_chord).read(text, 0)
    except RecipeError as error:
        assert error.place and error.hint is not None
    else:
        assert bars


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from(["|: ", " :| ", " | ", "[1. ", "[2. ", "[3. ", "BAR"]), max_size=14))
def test_every_bar_that_is_not_refused_is_played(signs):
    names = iter(NAMES)
    chart = "".join(f" | {next(names)}" if sign == "BAR" else sign for sign in signs)
    written = set(NAMES[: signs.count("BAR")])
    try:
        bars = ChartReader(parse_source("", "r.yaml"), Meter.parse("4/4"), parse_chord).read(chart, 0)
    except RecipeError:
        return
    assert {str(bar.chords[0][0]) for bar in bars} == written


def test_a_push_is_told_of_its_chord_and_repeated_with_its_bar():
    bars = read("A | <D7 | % | A <D | A / <E7 /", "4/4")
    assert [bar.pushed for bar in bars] == [(), (0,), (0,), (1,), (1,)]


@pytest.mark.parametrize(
    ("chart", "said", "hint"),
    [
        ("A | %%", "no two bars before", "% the one"),
        ("A | B | C %%", "repeats two whole bars", "alone"),
        ("A | < B", "none follows", "<C7"),
        ("A | B </", "none follows", "<C7"),
        ("A | <N.C.", "none follows", "<C7"),
        ("A | <Hx", "not a chord symbol", ""),
    ],
)
def test_signs_that_repeat_or_push_nothing(chart, said, hint):
    with pytest.raises(RecipeError) as raised:
        read(chart)
    assert said in raised.value.message
    assert hint in (raised.value.hint or "")


def test_a_meter_before_a_bar_holds_until_the_next_one():
    bars = read("C | (2/4) G7 | % | (4/4) C F | (6/8) Am G | |: (3/4) C D E :|")
    assert [str(bar.meter) for bar in bars] == ["None", "2/4", "2/4", "None", "6/8", "3/4", "3/4"]
    lengths = [[str(beats) for _, beats in bar.chords] for bar in bars]
    assert lengths == [["4"], ["2"], ["2"], ["2", "2"], ["3/2", "3/2"], ["1"] * 3, ["1"] * 3]
    assert [bar.chords for bar in read("(3/4) C | Segno (4/4) D | E D.S.")][1:] == [
        bar.chords for bar in read("D | E | D | E")
    ]


@pytest.mark.parametrize(
    ("chart", "said"),
    [
        ("C | (3/4) | G", "no chords stand behind"),
        ("C | (3/5) G", "not a meter"),
        ("C | (3/4) %", "not in 3/4"),
        ("C | (2/4) C D E", "has 2 beats"),
        ("C | G (3/4)", "not a chord"),
        ("C | 3/4 G", "not a chord"),
    ],
)
def test_a_meter_that_cannot_be_read(chart, said):
    with pytest.raises(RecipeError) as raised:
        read(chart)
    assert said in raised.value.message
    assert raised.value.hint


def test_a_ritardando_over_two_bars_again_begins_with_the_first_of_them():
    recipe = parse_recipe("chords: C | F | rit. %% | a tempo %%")
    (section,) = recipe.form
    told = [bar.tempo_word for bar in section.bars]
    assert told == [None, None, "rit.", None, "a tempo", None]
