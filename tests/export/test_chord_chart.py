"""The chord chart as text and as SVG."""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction
from xml.etree import ElementTree

import mido
from hypothesis import example, given, settings
from hypothesis import strategies as st

from genex.compose import compose
from genex.export.captions import chord_captions
from genex.export.chord_chart import chart_of, chart_text
from genex.export.chord_chart_svg import chart_svg
from genex.export.midi import midi_bytes
from genex.export.tab import tab_text
from genex.recipe import parse_recipe
from genex.score import Meter, Score, SectionSpan

from .builders import fretted, lead, timeline
from .test_musicxml import choruses

SVG = "{http://www.w3.org/2000/svg}"


def form(text: str, names: str) -> Score:
    """A tune whose sections of two bars are named by ``names``, one letter each."""
    return Score("Form", "straight", timeline(text, sections=[(name, 2) for name in names]), ())


def test_a_chart_reads_like_a_musicians_chart():
    score = Score(
        "Lamps on the Canal",
        "Medium swing",
        timeline(
            "Gm7 | Am7b5 D7b9 | Gm7 | Gm7 | Cm7 | N.C.", key="G minor", sections=(("A", 4), ("B", 2))
        ),
        (),
    )
    assert (
        chart_text(score)
        == """\
Lamps on the Canal
Key: G minor   Tempo: 120   Meter: 4/4   Feel: Medium swing

[A]
| Gm7         | Am7b5  D7b9 | Gm7         | %           |

[B]
| Cm7         | N.C.        ||
"""
    )


def test_equal_choruses_are_a_repeat():
    assert (
        chart_text(choruses(3)).split("\n\n", 1)[1]
        == """\
[A]
||: Gm7      | C7       :||

played 3 times
"""
    )


def test_a_section_that_comes_back_is_printed_once():
    score = form("C6 | F6 | C6 | F6 | Dm7 | G7 | C6 | F6", "AABA")
    chart = chart_of(score.timeline)
    assert [section.name for section in chart.sections] == ["A", "B"]
    assert "Order: A A B A" in chart_text(score)


def test_sections_of_one_name_that_differ_are_all_printed():
    chart = chart_of(form("C6 | F6 | C6 | G7", "AA").timeline)
    assert [section.name for section in chart.sections] == ["A", "A"]
    assert chart.order == ("A", "A")


def test_a_percent_sign_never_opens_a_section():
    chart = chart_of(form("C6 | C6 | C6 | C6", "AB").timeline)
    assert [[bar.repeats for bar in section.bars] for section in chart.sections] == [[False, True]] * 2


def test_four_chords_in_a_bar_keep_their_order():
    text = chart_text(Score("Busy", "straight", timeline("Cm7b5 F7#11 Bbmaj7 Ebmaj7 | C"), ()))
    (row,) = [line for line in text.split("\n") if line.startswith("|")]
    assert row.split("|")[1].split() == ["Cm7b5", "F7#11", "Bbmaj7", "Ebmaj7"]


symbols = st.sampled_from(["C", "Gm7", "F#m7b5", "Bbmaj7#11", "Eb7(b9,#11)/Db", "N.C."])


@given(
    st.lists(st.lists(symbols, min_size=1, max_size=4), min_size=1, max_size=12), st.integers(40, 120)
)
@example([["C"], ["C"], ["C"], ["C", "C", "C", "Eb7(b9,#11)/Db"]], 105)
@settings(max_examples=60, deadline=None)
def test_every_chord_is_on_the_chart(bars, width):
    chart = " | ".join(" ".join(bar) for bar in bars)
    score = Score("Any", "straight", timeline(chart), ())
    text = chart_text(score, width=width)
    cells = [
        cell for line in text.split("\n") if line.startswith("|") for cell in line.strip("|").split("|")
    ]
    read = [cell.split() for cell in cells if cell.strip()]
    if {name for bar in bars for name in bar} == {"N.C."}:
        assert (len(cells), read) == (len(bars), []), "bars without chords are empty"
        return
    for index, bar in enumerate(read):
        assert bar == bars[index] or (bar == ["%"] and bars[index] == bars[index - 1])
    assert len(read) == len(bars)
    widest = max(sum(map(len, bar)) + 2 * len(bar) for bar in bars)
    if 4 * max(widest, 11) < width:
        assert max(map(len, text.split("\n"))) <= width


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def test_the_picture_holds_every_chord_with_its_signs():
    score = Score("<Canal> & Lamps", "swing", timeline("Bbm7b5 Eb7b9 | Abmaj7 | Abmaj7", key="Ab"), ())
    found = texts(chart_svg(score))
    assert {"<Canal> & Lamps", "B♭m7♭5", "E♭7♭9", "A♭maj7", "%"} <= set(found)
    assert any("Key: A♭ major" in text for text in found)


def test_chords_in_the_picture_never_run_into_the_next_bar():
    score = Score(
        "Busy", "straight", timeline("Cm7b5 F7#11 Bbmaj7 Ebmaj7 | C13(b9,#11)/Gb Fmaj7#11/Eb"), ()
    )
    root = ElementTree.fromstring(chart_svg(score))
    bar_lines = sorted({float(line.get("x1")) for line in root.iter(f"{SVG}line")})
    for text in root.iter(f"{SVG}text"):
        if "7" in (text.text or "") and "Tempo" not in text.text:
            x, size = float(text.get("x")), float(text.get("font-size"))
            end = x + len(text.text) * size * 0.66
            bar = sum(edge <= x for edge in bar_lines)
            assert end <= bar_lines[bar] + 1
            assert size >= 7


def test_a_repeat_has_its_dots():
    root = ElementTree.fromstring(chart_svg(choruses(2), theme="dark"))
    assert len(list(root.iter(f"{SVG}circle"))) == 4
    assert "played 2 times" in texts(chart_svg(choruses(2)))


def test_sixty_four_sections_and_a_title_of_300_characters():
    names = [(f"Part {n}", 1) for n in range(64)]
    score = Score("Long " * 60, "swing", timeline(" | ".join(["Gm7"] * 64), sections=names), ())
    assert chart_text(score).count("[Part ") == 64
    assert len(texts(chart_svg(score))) == 2 + 64 * 2
    assert max(map(len, chart_text(score).split("\n"))) <= 80


def test_a_change_of_meter_is_shown():
    made = timeline("C | F", meter="4/4")
    three = Meter(3, 4)
    bars = (made.bars[0], replace(made.bars[1], meter=three))
    chords = (made.chords[0], replace(made.chords[1], length_beats=Fraction(3)))
    sections = (SectionSpan(Fraction(0), Fraction(7), "A", 1),)
    score = Score("Turn", "straight", replace(made, bars=bars, chords=chords, sections=sections), ())
    assert "(3/4) F" in chart_text(score)
    assert "3/4" in texts(chart_svg(score))


def test_pushed_chords_have_a_sign_in_chart_and_tab_and_come_early_in_midi_and_captions():
    part = lead([fretted(onset, 4, 3, 5) for onset in (0, 4, 8)])
    score = Score("Early", "straight", timeline("G | <C | C"), (part,))
    text = chart_text(score)
    assert "| G        | <C       | C        ||" in text
    assert "< : the chord comes an eighth before its beat" in text
    assert "<C" in tab_text(score) and "eighth before" in tab_text(score)
    markers = [(at, text) for at, text in midi_markers(score)]
    assert markers == [(0, "G"), (3.5, "C")]
    assert [(c.onset_beats, c.end_beats) for c in chord_captions(score)] == [(0, 3.5), (3.5, 12)]


def midi_markers(score):
    """Markers with their times in quarter notes [package: mido 1.3]."""
    at, found = 0, []
    for message in mido.MidiFile(file=io.BytesIO(midi_bytes(score))).tracks[0]:
        at += message.time
        if message.type == "marker":
            found.append((at / 960, message.text))
    return found


def test_signs_of_a_jump_stand_over_their_bars_in_text_and_picture():
    recipe = parse_recipe("chords: 'Segno A | B To Coda | C | D D.S. al Coda | Coda E | %'\nkey: A\n")
    score = compose(recipe).score
    rows = chart_text(score).splitlines()
    at = rows.index("[A]")
    assert rows[at + 1 : at + 5] == [
        "  Segno               To Coda                  D.S. al Coda",
        "| A            | B            | C            | D            |",
        "  Coda",
        "| E            | %            ||",
    ]
    texts = [text.text for text in ElementTree.fromstring(chart_svg(score)).iter(f"{SVG}text")]
    assert {"Segno", "To Coda", "D.S. al Coda", "Coda"} <= set(texts)


def test_sections_that_only_name_their_chord_make_one_without_a_name():
    """As a study that takes a lick through chords has them: Gm7 over Gm7."""
    over = timeline(
        "Gm7 | Gm7 | C7 | Fmaj7 | Gm7", sections=[("Gm7", 2), ("C7", 1), ("F", 1), ("Gm7", 1)]
    )
    chart = chart_of(over)
    assert [(one.name, len(one.bars)) for one in chart.sections] == [("", 3), ("F", 1), ("Gm7", 1)]
    assert [bar.repeats for bar in chart.sections[0].bars] == [False, True, False]
    lone = chart_of(timeline("A | A | D | E", sections=[("A", 2), ("B", 2)]))
    assert [one.name for one in lone.sections] == ["A", "B"]
