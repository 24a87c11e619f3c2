"""Da capo and dal segno: the order of play, and what is wrong with signs that lead nowhere.

[package: music21 10.5] plays the same orders, but for endings beside a jump, whose brackets it does
not see; there the handbooks count: after a jump no repeats, and the last ending [common practice].
"""

import pytest
from music21 import bar, note, repeat, stream

from genex.errors import RecipeError
from genex.recipe.chart_reader import ChartReader
from genex.score import Meter
from genex.text.yaml_source import parse_source
from genex.theory import parse_chord


def read(chart):
    source = parse_source("chords: |\n  " + chart.replace("\n", "\n  ") + "\n", "r.yaml")
    return ChartReader(source, Meter.parse("4/4"), parse_chord).chart(*source.written(("chords",)))


def played(chart):
    return " ".join(str(one.chords[0][0]) for one in read(chart).bars)


ORDERS = [
    ("A | B Fine | C | D D.C. al Fine", "A B C D A B"),
    ("A | B | Fine | C | D | D.C. al Fine", "A B C D A B"),
    ("A | B | D.C.", "A B A B"),
    ("A | Segno B | C D.S.", "A B C B C"),
    ("A | Segno B | C To Coda | D D.S. al Coda | Coda E | F", "A B C D B C E F"),
    ("A | B To Coda | C | D | D.C. al Coda\nCoda E | F |", "A B C D A B E F"),
    ("|: A | B :| Fine | |: C | D :| D.C. al Fine", "A B A B C D C D A B"),
    ("A | Segno |: B | C :| D | E | D.S.", "A B C B C D E B C D E"),
    ("A | 𝄋 B To Coda | C D.S. al Coda | 𝄌 |: D :|", "A B C B D D"),
    ("A | segno B | C | D | dal segno", "A B C D B C D"),
    ("A Fine | B | D.C. al fine", "A B A"),
    ("A | (3/4) Segno B | C | D.S.", "A B C B C"),
]
SEVERAL = [
    (
        "Segno A | B To Coda | C D.S. al Coda | Coda D | E D.C. al Fine".replace("A |", "A Fine |"),
        "A B C A B D E A",
    ),
    ("A To Coda | B D.C. al Coda | Coda C To Coda | D D.C. al Coda | Coda E", "A B A C D A B C E"),
    ("A | Segno B To Coda | C D.S. al Coda | Coda D | Segno E | F D.S.", "A B C B D E F E F"),
    ("|: A To Coda | B :| C D.C. al Coda | Coda |: D :| E D.C.", "A B A B C A D D E A B C D E"),
]
ENDINGS = [
    ("|: A | [1. B :| [2. C Fine | D | DC al Fine", "A B A C D A C"),
    ("|: A | [1. B :| [2. C | Segno D | E DS", "A B A C D E D E"),
]


@pytest.mark.parametrize(("chart", "order"), [*ORDERS, *SEVERAL, *ENDINGS])
def test_bars_are_played_in_the_order_of_the_signs(chart, order):
    assert played(chart) == order


SIGNS = {
    "Fine": repeat.Fine, "D.C. al Fine": repeat.DaCapoAlFine, "D.C.": repeat.DaCapo,
    "D.S.": repeat.DalSegno, "D.S. al Coda": repeat.DalSegnoAlCoda, "D.C. al Coda": repeat.DaCapoAlCoda,
}  # fmt: skip


@pytest.mark.parametrize(
    "chart",
    [
        "A | B Fine | C | D D.C. al Fine",
        "A | B D.C.",
        "A | Segno B | C D.S.",
        "A | Segno B | C To Coda | D D.S. al Coda | Coda E | F",
        "A | B To Coda | C | D D.C. al Coda | Coda E | F",
        "|: A | B :| C Fine | |: D | E :| F D.C. al Fine",
    ],
)
def test_another_program_plays_them_in_the_same_order(chart):
    """Signs as objects of the other program, without anything that genex writes [package: music21]."""
    part = stream.Part()
    names = {}
    for number, text in enumerate(chart.replace("|:", "/o").replace(":|", "/c |").split("|")):
        if not text.strip():
            continue
        measure = stream.Measure(number=number)
        words = text.split()
        name = next(word for word in words if word in "ABCDEF" and len(word) == 1)
        names[40 + number] = name
        if "/o" in words:
            measure.leftBarline = bar.Repeat(direction="start")
        if "/c" in words:
            measure.rightBarline = bar.Repeat(direction="end")
        at = words.index(name)
        before = " ".join(word for word in words[:at] if word[0] != "/")
        behind = " ".join(word for word in words[at + 1 :] if word[0] != "/")
        if before:
            measure.insert(0, {"Segno": repeat.Segno, "Coda": repeat.Coda}[before]())
        measure.append(note.Note(40 + number, quarterLength=4))
        if behind:
            measure.append(repeat.Coda("to Coda") if behind == "To Coda" else SIGNS[behind]())
        part.append(measure)
    expanded = part.expandRepeats().recurse().getElementsByClass(note.Note)
    assert " ".join(names[one.pitch.midi] for one in expanded) == played(chart)


def test_what_is_written_once_is_told():
    jump = read("A | Segno B | C To Coda | D D.S. al Coda | Coda E | F").jumps[0]
    assert (jump.kind, jump.until) == ("D.S.", "Coda")
    assert (jump.target, jump.leaves, jump.at, jump.again, jump.end) == (1, 2, 4, (1, 2), 6)
    found = read("|: A | B :| D.C. | ".rstrip(" |"))
    assert (found.jumps[0].at, found.jumps[0].again) == (4, (0, 1))
    tail = read("A To Coda | B D.C. al Coda | Coda |: C :|")
    assert [(one.first_bar, one.body) for one in tail.repeats] == [(3, 1)]


@pytest.mark.parametrize(
    ("chart", "column", "said"),
    [
        ("A | B D.S.", 9, "no 'Segno'"),
        ("A | B D.C. al Fine", 9, "no 'Fine'"),
        ("A | B D.C. al Coda | Coda C", 9, "no 'To Coda'"),
        ("A To Coda | B D.C. al Coda", 17, "no 'Coda'"),
        ("A | B Fine", 9, "no jump leads"),
        ("Segno A | B", 3, "no jump leads"),
        ("A | B D.C. | C", 9, "nothing leads to the bars"),
        ("A D.C. | B D.C.", 5, "nothing leads to the bars"),
        ("A Fine | B D.C. al Fine | C D.C.", 14, "nothing leads to the bars"),
        ("A To Coda | B D.C. al Coda | Coda C | D Fine", 43, "does not lead"),
        ("A To Coda | B | Segno C D.S. al Coda | Coda D", 27, "comes to no 'To Coda'"),
        ("A | Segno B | Segno C D.S.", 17, "stands twice"),
        ("A | Segno Segno B D.S.", 13, "stands twice"),
        ("A | Segno B Fine | C D.C. al Fine", 7, "does not lead"),
        ("D.C. A | B", 3, "before any bar"),
        ("A | B Segno C D.S.", 9, "inside a bar"),
        ("A | B To Coda C | D D.C. al Coda | Coda E", 17, "ends its bar"),
        ("A | B D.C. D.S.", 14, "two jumps"),
        ("A | B D.S. | Segno", 16, "no bar follows"),
        ("|: A | [1. B Fine :| [2. C | D D.C. al Fine", 16, "not passed after the jump"),
        ("A Fine | B D.C. al Fine | Coda C", 29, "does not lead"),
        ("A | B al Fine", 9, "is not a chord"),
    ],
)
def test_signs_that_lead_nowhere_are_told_with_their_place(chart, column, said):
    with pytest.raises(RecipeError) as raised:
        read(chart)
    assert said in raised.value.message
    assert raised.value.hint
    assert (raised.value.place.line, raised.value.place.column) == (2, column)


def test_a_chord_beside_a_note_that_looks_like_a_sign_stays_a_chord():
    assert played("D C | Dsus4 | Fm | D/C") == "D Dsus4 Fm D/C"
