"""Repeat signs and endings in MusicXML: valid, and played by other readers as the score says."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import compose
from genex.export.lead_sheet import lead_sheet_text
from genex.export.musicxml import musicxml_text
from genex.export.repeat_signs import chart_page, full_page, line_page, printed_once, signed_page
from genex.recipe import parse_recipe
from genex.score import RepeatSpan, Score, SectionSpan, Slide, TempoChange, TempoMap

from .builders import fretted, lead, timeline
from .test_musicxml import read, valid

ENDINGS = "|: Dm7 | G7 | [1. Cmaj7 | A7 :| [2. C6 | F7"


def composed(chords: str, more: str = "") -> Score:
    return compose(parse_recipe(f"chords: '{chords}'\n{more}")).score


def bar_lines(text: str) -> list[str]:
    """``1[ :`` a bar: what stands on its left, its number and what stands on its right."""
    found = []
    for measure in valid(text).find("part").iter("measure"):
        told = {"left": "", "right": ""}
        for line in measure.iter("barline"):
            for sign in line:
                if sign.tag == "ending":
                    told[line.get("location")] += f"{sign.get('number')}{sign.get('type')} "
                elif sign.tag == "repeat":
                    told[line.get("location")] += {"forward": "|:", "backward": ":|"}[
                        sign.get("direction")
                    ] + (sign.get("times") or "")
        left, right = told["left"].strip(), told["right"].strip()
        found.append(f"{left} ({measure.get('number')}) {right}".strip())
    return found


def played(text: str) -> list[tuple[Fraction, int, Fraction]]:
    """(onset, key, length) of the notes of the first staff with repeats taken [package: music21]."""
    found: list[tuple[Fraction, int, Fraction]] = []
    for note in read(text).parts[0].expandRepeats().flatten().notes:
        if "Harmony" in note.classes:
            continue
        length = Fraction(note.quarterLength).limit_denominator(1000)
        onset = Fraction(note.offset).limit_denominator(1000)
        if note.tie is not None and note.tie.type in ("continue", "stop"):
            start, midi, before = found.pop()
            assert (midi, start + before) == (note.pitch.midi, onset)
            found.append((start, midi, before + length))
        else:
            found.append((onset, note.pitch.midi, length))
    return found


def written(score: Score, name: str) -> list[tuple[Fraction, int, Fraction]]:
    return [(n.onset_beats, n.midi, n.duration_beats) for n in score.part(name).notes]


def played_chords(text: str) -> list[str]:
    """The chord that is in force at the end of each bar, as a player who takes the repeats sees it."""
    found, current = [], ""
    for measure in read(text).parts[0].expandRepeats().getElementsByClass("Measure"):
        for symbol in measure.getElementsByClass("Harmony"):
            current = symbol.figure
        found.append(current)
    return found


def test_endings_stand_in_brackets_with_repeat_signs():
    assert bar_lines(lead_sheet_text(composed(ENDINGS))) == [
        "|: (1)",
        "(2)",
        "1start (3)",
        "(4) 1stop :|",
        "2start (7)",
        "(8) 2discontinue",
    ]


def test_a_player_takes_the_endings_in_turn():
    text = lead_sheet_text(composed(ENDINGS))
    assert played_chords(text) == ["Dm7", "G7", "Cmaj7", "A7", "Dm7", "G7", "C6", "F7"]


@pytest.mark.parametrize(
    ("chart", "expected"),
    [
        ("C | |: F | G :| Am", ["(1)", "|: (2)", "(3) :|2", "(6)"]),
        ("|: F :|x3", ["|: (1) :|3"]),
        ("|: F :| |: G :|", ["|: (1) :|2", "|: (3) :|2"]),
        (
            "|: C | [1. F :| [2. G :| [3. Am",
            ["|: (1)", "1start (2) 1stop :|", "2start (4) 2stop :|", "3start (6) 3discontinue"],
        ),
        # The bracket of the last ending is as long as the first; what follows stands behind it.
        (
            "|: C | [1. F :| [2. G | Am | Dm",
            ["|: (1)", "1start (2) 1stop :|", "2start (4) 2discontinue", "(5)", "(6)"],
        ),
    ],
)
def test_bar_lines(chart, expected):
    assert bar_lines(lead_sheet_text(composed(chart))) == expected


def test_a_passage_played_more_than_twice_says_so():
    root = valid(lead_sheet_text(composed("|: F | G :|x3 C")))
    assert [w.text for w in root.iter("words")][1:] == ["3x"]
    assert [w.text for w in valid(lead_sheet_text(composed("|: F | G :| C"))).iter("words")][1:] == []


def test_a_chord_is_named_again_where_a_repeat_or_an_ending_begins():
    text = lead_sheet_text(composed("C | |: C | G | [1. G :| [2. G | C"))
    assert played_chords(text) == ["C", "C", "G", "G", "C", "G", "G", "C"]
    assert len(list(valid(text).iter("harmony"))) == 6


def test_a_line_that_is_the_same_is_drawn_once():
    for more in ("guide: {rhythm: half}\nparts: guide", "exercise: arpeggio\nparts: exercise"):
        score = composed(ENDINGS, more)
        text = musicxml_text(score, fold_repeats=True)
        assert len(bar_lines(text)) == 6
        assert played(text) == written(score, score.lead_parts[0].name)


def test_a_line_that_differs_from_pass_to_pass_is_written_out():
    chart = "|: Dm7 | G7 | Cmaj7 | Em7 A7 | Dm7 | G7 | [1. Cmaj7 | A7 :| [2. Cmaj7 | C6"
    score = composed(chart, "exercise: scales\nparts: exercise")
    text = musicxml_text(score, fold_repeats=True)
    assert len(bar_lines(text)) == 16
    assert played(text) == written(score, "exercise")
    assert len(bar_lines(lead_sheet_text(score))) == 10


def repeated(passes: int = 2) -> Score:
    """Two bars of quarters, played in two passes with endings of a bar each."""
    made = timeline("Gm7 | C7 | Gm7 | D7")
    repeat = RepeatSpan(Fraction(0), Fraction(4), (Fraction(4),) * passes)
    notes = [fretted(at, 1, 3, 3 + at % 4) for at in range(16)]
    return Score("Round", "swing", replace(made, repeats=(repeat,)), (lead(notes),))


def test_equal_passes_are_drawn_and_expand_to_the_notes_played():
    score = repeated()
    text = musicxml_text(score, fold_repeats=True)
    assert bar_lines(text) == ["|: (1)", "1start (2) 1stop :|", "2start (4) 2discontinue"]
    assert played(text) == written(score, "exercise")
    assert len(bar_lines(musicxml_text(score))) == 4, "written out unless asked for"


@pytest.mark.parametrize(
    "change",
    [
        {"pitch": fretted(0, 1, 3, 7).pitch},
        {"duration_beats": Fraction(1, 2)},
        {"fretting": fretted(0, 1, 4, 8).fretting},
        {"slide": Slide(-2, Fraction(1, 4))},
    ],
)
def test_passes_that_differ_are_written_out(change):
    score = repeated()
    notes = list(score.part("exercise").notes)
    notes[9] = replace(notes[9], **change)
    changed = replace(score, parts=(lead(notes),))
    text = musicxml_text(changed, fold_repeats=True)
    assert bar_lines(text) == ["(1)", "(2)", "(3)", "(4)"]
    assert played(text) == written(changed, "exercise")


def test_a_note_tied_into_an_ending_or_slid_into_one_keeps_the_passes_written_out():
    notes = [fretted(0, 6, 3, 3), fretted(6, 2, 3, 5), fretted(8, 6, 3, 3), fretted(14, 2, 3, 8)]
    tied = replace(repeated(), parts=(lead(notes),))
    assert signed_page(tied.timeline, tied.parts) == full_page(tied.timeline)
    slid = [fretted(at, 4, 3, 3) for at in (0, 4, 8)]
    slid.append(fretted(12, 4, 3, 5, slide=Slide(-2, Fraction(1, 4))))
    score = replace(repeated(), parts=(lead(slid),))
    assert signed_page(score.timeline, score.parts) == full_page(score.timeline)


def test_all_parts_of_a_document_have_the_same_bars():
    score = repeated()
    other = [replace(n, pitch=fretted(0, 1, 3, 9).pitch) for n in score.part("exercise").notes[:12]]
    both = replace(score, parts=(*score.parts, lead(other, name="second")))
    text = musicxml_text(both, fold_repeats=True)
    assert len({len(part.findall("measure")) for part in valid(text).iter("part")}) == 1
    assert played(text) == written(both, "exercise")


def test_a_turnaround_that_changes_a_pass_writes_it_out():
    kept = composed("|: Dm7 | G7 | [1. Cmaj7 :| [2. C6", "turnaround: A7")
    assert len(bar_lines(lead_sheet_text(kept))) == 4
    cut = composed("|: Dm7 | G7 | [1. Cmaj7 :| [2. C6", "turnaround: Em7 | A7")
    assert len(bar_lines(lead_sheet_text(cut))) == 6


def test_two_signs_never_meet_on_one_bar_line():
    text = lead_sheet_text(composed(ENDINGS, "repeats: 3"))
    assert bar_lines(text)[0] == "|: (1)" and bar_lines(text)[-1] == "(8) :|3"
    assert len(bar_lines(text)) == 8
    assert len(played_chords(text)) == 24
    assert [w.text for w in valid(text).iter("words")][1:] == ["3x"]


def test_endings_stand_inside_of_equal_choruses():
    chart = "Am | |: Dm7 | G7 | [1. Cmaj7 :| [2. C6 | F7"
    score = composed(chart, "repeats: 3\nexercise: arpeggio\nparts: exercise")
    text = lead_sheet_text(score)
    assert bar_lines(text) == [
        "|: (1)", "|: (2)", "(3)", "1start (4) 1stop :|", "2start (7) 2discontinue", "(8) :|3",
    ]  # fmt: skip
    assert played_chords(text) == ["Am", "Dm7", "G7", "Cmaj7", "Dm7", "G7", "C6", "F7"] * 3
    line = musicxml_text(score, fold_repeats=True)
    assert len(bar_lines(line)) == 6
    assert played(line) == written(score, "exercise")


def test_a_section_that_follows_itself_is_printed_once():
    recipe = (
        "sections: {A: 'Gm7 | C7', B: 'Fmaj7 | D7'}\nform: A A B A\nexercise: arpeggio\nparts: exercise"
    )
    score = compose(parse_recipe(recipe)).score
    text = lead_sheet_text(score)
    assert bar_lines(text) == ["|: (1)", "(2) :|2", "(5)", "(6)", "(7)", "(8)"]
    names = [r.text for r in valid(text).iter("rehearsal")]
    assert names == ["A", "B", "A"]
    assert played(musicxml_text(score, fold_repeats=True)) == written(score, "exercise")


def test_sections_are_repeats_inside_of_choruses():
    recipe = "sections: {V: Am, A: 'Gm7 | C7', B: Fmaj7}\nform: V A A A B\nrepeats: 2"
    text = lead_sheet_text(compose(parse_recipe(recipe)).score)
    assert bar_lines(text) == ["|: (1)", "|: (2)", "(3) :|3", "(8) :|2"]
    assert played_chords(text) == ["Am", *["Gm7", "C7"] * 3, "Fmaj7"] * 2


def test_sections_of_one_name_with_other_lengths_are_all_printed():
    recipe = "sections: {A: 'C | F | G', B: Dm}\nform: A A B"
    made = compose(parse_recipe(recipe)).score.timeline
    short = SectionSpan(Fraction(0), Fraction(8), "A", 1), SectionSpan(Fraction(8), Fraction(16), "A", 1)
    uneven = replace(made, sections=(*short, made.sections[2]))
    assert signed_page(uneven) == full_page(uneven)


def test_choruses_at_two_tempos_are_written_out():
    made = composed("Gm7 | C7", "repeats: 2").timeline
    assert len(signed_page(made)) == 2
    tempo = TempoMap((TempoChange(Fraction(0), Fraction(90)), TempoChange(Fraction(8), Fraction(100))))
    assert signed_page(replace(made, tempo=tempo)) == full_page(made)


def test_choruses_behind_an_intro_are_written_out_and_their_repeats_drawn():
    recipe = "sections: {I: Am, A: 'Am | |: Gm7 | C7 :|x3'}\nintro: I\nform: A\nrepeats: 2"
    score = compose(parse_recipe(recipe)).score
    text = lead_sheet_text(score)
    assert bar_lines(text) == ["(1)", "(2)", "|: (3)", "(4) :|3", "(9)", "|: (10)", "(11) :|3"]
    assert played_chords(text) == ["Am", *["Am", *["Gm7", "C7"] * 3] * 2]


def test_a_chart_and_a_line_tell_choruses_in_words_where_there_are_signs_inside():
    score = composed("Am | |: Gm7 | C7 :|", "repeats: 3\nexercise: arpeggio\nparts: exercise")
    for page in (chart_page(score.timeline), line_page(score.timeline, score.parts)):
        assert page.times == 3 and len(page.inner) == 1
        assert [(e.bar.number, e.signs.opens, e.signs.closes) for e in page.bars] == [
            (1, False, False), (2, True, False), (3, False, True),
        ]  # fmt: skip
    plain = composed("Am | Gm7", "repeats: 3")
    assert [e.signs.times for e in line_page(plain.timeline, ()).bars] == [0, 3]
    assert [e.signs.times for e in chart_page(plain.timeline).bars] == [0, 0]
    assert chart_page(plain.timeline).times == line_page(plain.timeline, ()).times == 3


def test_repeats_are_drawn_where_that_is_shorter_than_a_whole_chorus():
    text = lead_sheet_text(composed("|: Dm7 | G7 :|x8", "repeats: 2"))
    assert bar_lines(text) == ["|: (1)", "(2) :|8", "|: (17)", "(18) :|8"]
    assert len(played_chords(text)) == 32


def test_the_bars_on_the_page_are_those_written():
    score = composed("A | B | |: C | [1. D :| [2. E | F".replace("B", "Bb"))
    page = signed_page(score.timeline)
    names = [str(score.timeline.chord_at(entry.bar.onset_beats).chord) for entry in page]
    assert names == ["A", "Bb", "C", "D", "E", "F"]


CHORDS = ["C", "Dm7", "G7", "Am7", "F", "Bb7"]


@st.composite
def charts(draw):
    def bars():
        return " | ".join(draw(st.lists(st.sampled_from(CHORDS), min_size=1, max_size=2)))

    passages = []
    for _ in range(draw(st.integers(1, 3))):
        kind = draw(st.sampled_from(["once", "again", "endings"]))
        if kind == "once":
            passages.append(bars())
        elif kind == "again":
            passages.append(f"|: {bars()} :|x{draw(st.integers(2, 3))}")
        else:
            count = draw(st.integers(2, 3))
            endings = " :| ".join(f"[{number}. {bars()}" for number in range(1, count + 1))
            passages.append(f"|: {bars()} | {endings} :|")
    return " | ".join(passages)


@st.composite
def forms(draw):
    """The sections of a recipe, with repeats and endings in them, and the form they make."""
    names = "ABC"[: draw(st.integers(1, 3))]
    played_sections = [*names, *draw(st.lists(st.sampled_from(names), max_size=2))]
    sections = ", ".join(f"{name}: '{draw(charts())}'" for name in names)
    return f"sections: {{{sections}}}\nform: {' '.join(draw(st.permutations(played_sections)))}"


@given(forms(), st.integers(1, 3))
@settings(max_examples=20, deadline=None)
def test_any_chart_is_played_as_the_recipe_says(form, choruses):
    score = compose(parse_recipe(f"{form}\nkey: C\nrepeats: {choruses}\nparts: guide")).score
    text = lead_sheet_text(score)
    valid(text)
    in_force = [
        str(score.timeline.chord_at(bar.end_beats - Fraction(1, 100)).chord)
        for bar in score.timeline.bars
    ]
    assert [figure.replace("B-", "Bb") for figure in played_chords(text)] == in_force
    line = musicxml_text(score, fold_repeats=True)
    valid(line)
    assert played(line) == written(score, "guide")


def test_a_section_that_comes_again_is_printed_once():
    made = timeline("Gm7 | C7 | F | D7 | Gm7 | C7", sections=[("A", 2), ("B", 2), ("A", 2)])
    notes = [fretted(4 * bar + at, 1, 3, 5 + at, 1) for bar in range(6) for at in range(4)]
    page = printed_once(line_page(made, (lead(notes),)), made, lead(notes))
    assert [entry.bar.number for entry in page.bars] == [1, 2, 3, 4]
    assert page.also == {1: (5,)}


def test_a_section_that_is_played_otherwise_is_printed_again():
    made = timeline("Gm7 | C7 | F | D7 | Gm7 | C7", sections=[("A", 2), ("B", 2), ("A", 2)])
    notes = [fretted(4 * bar, 4, 3, 5 + bar, 1) for bar in range(6)]
    page = printed_once(line_page(made, (lead(notes),)), made, lead(notes))
    assert [entry.bar.number for entry in page.bars] == [1, 2, 3, 4, 5, 6]
    assert page.also == {}


def test_a_section_into_which_a_note_is_tied_is_printed_again():
    made = timeline("Gm7 | C7 | F | Gm7 | C7", sections=[("A", 2), ("B", 1), ("A", 2)])
    notes = [
        fretted(0, 4, 3, 5, 1),
        fretted(4, 4, 3, 5, 1),
        fretted(8, 8, 3, 7, 1),
        fretted(16, 4, 3, 5, 1),
    ]
    page = printed_once(line_page(made, (lead(notes),)), made, lead(notes))
    assert len(page.bars) == 5


JUMPS = [
    "A | Segno B | C To Coda | D D.S. al Coda | Coda E | F",
    "|: A | B Fine :| |: C | D :| D.C. al Fine",
    "A | <B | C | D | D.C.",
    "A | B To Coda | |: C :| D D.C. al Coda | Coda E | F",
]


@pytest.mark.parametrize("chart", JUMPS)
def test_a_lead_sheet_with_a_jump_is_played_in_its_order(chart: str) -> None:
    """[package: music21 10.5] expandRepeats; the file is valid by the schema."""
    score = composed(chart, "key: A")
    text = lead_sheet_text(score)
    root = valid(text)
    assert len(list(root.iter("measure"))) == len(re.findall(r"[A-F](?= |$)", chart))
    harmonies = read(text).parts[0].expandRepeats().recurse().getElementsByClass("Harmony")
    bars = score.timeline.bars
    roots = [score.timeline.chord_at(bar.onset_beats).chord.root for bar in bars]
    assert [one.root().name.replace("-", "b") for one in harmonies] == [str(name) for name in roots]


FORMS = [
    ("A B", {"A": "A | B Fine", "B": "C | D D.C. al Fine"}),
    ("A A B", {"A": "A | B Fine", "B": "C | D D.C. al Fine"}),
    ("A B C", {"A": "A | Segno B", "B": "C To Coda | D D.S. al Coda", "C": "Coda E | F"}),
]


@pytest.mark.parametrize(("form", "sections"), FORMS)
def test_a_jump_from_section_to_section_is_played_in_its_order(
    form: str, sections: dict[str, str]
) -> None:
    """[package: music21 10.5] expandRepeats; MIDI is as long as the bars."""
    written = "".join(f"  {name}: '{chart}'\n" for name, chart in sections.items())
    recipe = parse_recipe(f"key: A\nparts: bass\nsections:\n{written}form: {form}\n")
    score = compose(recipe).score
    harmonies = (
        read(lead_sheet_text(score)).parts[0].expandRepeats().recurse().getElementsByClass("Harmony")
    )
    bars = score.timeline.bars
    roots = [score.timeline.chord_at(bar.onset_beats).chord.root for bar in bars]
    assert [one.root().name.replace("-", "b") for one in harmonies] == [str(name) for name in roots]
    assert score.length_beats == 4 * len(bars)
    page = chart_page(score.timeline)
    assert len(page.bars) < len(bars), "what the jump plays again is written once"


@pytest.mark.parametrize(
    ("slow", "again", "is_folded"), [("B", "", True), ("B", "rit. ", False), ("C", "", False)]
)
def test_a_jump_over_a_section_of_another_tempo_keeps_its_signs(
    slow: str, again: str, is_folded: bool
) -> None:
    """What is played again has its own tempo: signs are drawn unless the jump leads to another one."""
    charts = {"A": f"A | Segno {again}B To Coda | C", "B": "D | E", "C": "F D.S. al Coda | Coda G"}
    sections = "".join(
        f"  {name}: {{chords: '{chart}'{', tempo: 72' if name == slow else ''}}}\n"
        for name, chart in charts.items()
    )
    recipe = parse_recipe(f"key: A\nparts: bass\nsections:\n{sections}form: A B C\n")
    score = compose(recipe, ending=bool(again)).score
    page = chart_page(score.timeline)
    assert (len(page.bars) < len(score.timeline.bars)) == is_folded
    if is_folded:
        played = read(lead_sheet_text(score)).parts[0].expandRepeats()
        assert played.quarterLength == score.length_beats


SEVERAL = "Segno A Fine | B To Coda | C D.S. al Coda | Coda D | E | F D.C. al Fine"


def test_several_jumps_are_signs_in_a_chart_and_written_out_in_a_file() -> None:
    score = composed(SEVERAL, "key: A")
    page = chart_page(score.timeline)
    assert [entry.signs.said for entry in page.bars] == [
        "Fine", "To Coda", "D.S. al Coda", "", "", "D.C. al Fine",
    ]  # fmt: skip
    assert [entry.signs.segno for entry in page.bars] == [True] + [False] * 5
    assert [entry.signs.coda for entry in page.bars] == [False] * 3 + [True] + [False] * 2
    assert len(signed_page(score.timeline)) == len(score.timeline.bars) == 9


def test_a_line_that_goes_on_differently_is_written_out_beside_a_chart_with_its_signs() -> None:
    score = composed(JUMPS[0], "key: A")
    onsets = [bar.onset_beats for bar in score.timeline.bars]
    same = lead([fretted(onset, 4, 3, 5) for onset in onsets])
    assert len(signed_page(score.timeline, (same,))) == 6
    # Bars 5 and 6 are the second and third again.
    other = lead([fretted(onset, 4, 3, 7 if index == 4 else 5) for index, onset in enumerate(onsets)])
    assert len(signed_page(score.timeline, (other,))) == 8
    assert len(chart_page(score.timeline).bars) == 6


def test_choruses_about_a_jump_are_told_in_words_or_written_out() -> None:
    score = composed(JUMPS[1], "repeats: 2")
    page = chart_page(score.timeline)
    assert (page.times, len(page.bars)) == (2, 4)
    assert [entry.signs.said for entry in page.bars] == ["", "Fine", "", "D.C. al Fine"]
    assert not any(entry.signs.said for entry in signed_page(score.timeline))


def test_a_turnaround_that_changes_what_is_played_again_has_it_written_out() -> None:
    score = composed("A | B | C | D | D.C.", "key: A\nturnaround: E7")
    assert len(chart_page(score.timeline).bars) == 8
