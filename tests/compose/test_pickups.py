"""A pickup: before bar 1 in a take and on a page, at the end of a loop."""

from fractions import Fraction as F
from xml.etree import ElementTree

import music21
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import compose
from genex.errors import InputError
from genex.export.captions import timeline_rows
from genex.export.lead_sheet import lead_sheet_text
from genex.export.midi import midi_bytes
from genex.export.musicxml import musicxml_text
from genex.export.tab import tab_text
from genex.recipe import parse_recipe

WALK = "D2 | G2 A2 B2 d2 | e4 d4 | c2 B2 A2 F2 | G6"


def recipe_of(abc=WALK, head="key: G\nfeel: click", chords="G | C | D7 | G |", band=""):
    return parse_recipe(
        f"{head}\nchords: {chords}\nparts: {band} exercise\nexercise:\n  kind: line\n  abc: {abc}\n"
    )


def heard(score):
    (part,) = score.lead_parts
    return [(note.onset_beats, note.midi) for note in part.notes]


@pytest.fixture(scope="module")
def loop():
    return compose(recipe_of(band="drums")).score


@pytest.fixture(scope="module")
def take():
    return compose(recipe_of(band="drums"), ending=True).score


def test_a_loop_is_whole_bars_and_leads_back_with_the_pickup(loop):
    assert loop.length_beats == 16 and loop.timeline.pickup_beats == 0
    assert heard(loop)[0] == (0, 67) and heard(loop)[-1] == (15, 62)


def test_a_take_counts_up_to_the_pickup(take):
    assert take.length_beats == 16
    assert heard(take)[0] == (-1, 62) and heard(take)[1] == (0, 67)
    # a bar, and what the pickup lacks of another [common practice]
    assert take.lead_in_beats == 8
    assert [note.onset_beats for note in take.lead_in.part.notes] == [0, 2, 4, 5, 6]
    assert midi_bytes(take, include_lead_in=True)
    (drums,) = (part for part in take.parts if part.name == "drums")
    assert drums.notes[0].onset_beats == 0, "the band begins on bar 1"


def test_a_page_has_it_before_bar_1(loop):
    page = loop.written()
    assert heard(page) == [(-1, 62), *heard(loop)[:-1]]
    first, *_ = (line for line in tab_text(page).splitlines() if line.startswith("D |"))
    assert first.startswith("D |-12-|"), "in the tab it is a bar of its own, without a number"
    assert page.timeline.bar_at(F(-1)).number == 0
    measures = ElementTree.fromstring(musicxml_text(page).encode()).findall("part/measure")
    assert [measure.get("number") for measure in measures] == ["0", "1", "2", "3", "4"]
    assert [measure.get("implicit") for measure in measures] == ["yes", None, None, None, None]


def test_music21_reads_a_pickup(loop):
    """[package: music21]"""
    for text in (musicxml_text(loop.written()), lead_sheet_text(loop.written())):
        measures = music21.converter.parseData(text).parts[0].getElementsByClass("Measure")
        assert [measure.number for measure in measures] == [0, 1, 2, 3, 4]
        assert (measures[0].paddingLeft, measures[0].duration.quarterLength) == (3, 1)
        assert measures[1].offset == 1


def test_choruses_lead_from_one_to_the_next_with_it():
    score = compose(recipe_of(head="key: G\nfeel: click\nrepeats: 2")).score
    page = score.written()
    assert [at for at, midi in heard(page) if midi == 62] == [-1, 15, 31]
    numbers = [m.get("number") for m in ElementTree.fromstring(
        musicxml_text(page, fold_repeats=True).encode()).findall("part/measure")]  # fmt: skip
    assert numbers == ["0", "1", "2", "3", "4"], "alike choruses stand between repeat signs"


def test_the_chart_may_have_one_that_the_student_plays():
    recipe = parse_recipe("pickup: 1\nchords: G | C\nparts: drums\nfeel: click")
    score = compose(recipe, ending=True).score
    assert score.lead_in_beats == 8
    assert len(score.lead_in.part.notes) == 6, "it is counted through"
    assert compose(parse_recipe("pickup: 1\ncount_in: 0\nchords: G")).score.lead_in is None


def test_without_a_count_in_a_take_begins_with_it():
    score = compose(recipe_of(head="key: G\nfeel: click\ncount_in: 0"), ending=True).score
    assert score.lead_in_beats == 1 and not score.lead_in.part.notes
    assert heard(score)[0][0] == -1


def test_a_tempo_that_rises_step_by_step_begins_with_it_once():
    head = "key: G\nfeel: click\ntempo_steps: {start: 80, end: 90}"
    score = compose(recipe_of(head=head), ending=True).score
    assert [at for at, midi in heard(score) if midi == 62] == [-1, 15, 31]


@pytest.mark.parametrize(
    ("meter", "written", "beats"),
    [("4/4", "1", 1), ("4/4", "0.5", F(1, 2)), ("4/4", "3/8", F(3, 2)), ("6/8", "1/8", F(1, 2)),
     ("6/8", "1", F(3, 2)), ("2/2", "1/4", 1), ("3/4", "2", 2), ("4/4", "1/16", F(1, 4))],
)  # fmt: skip
def test_its_length_is_beats_or_a_note_value(meter, written, beats):
    recipe = parse_recipe(f"meter: {meter}\npickup: {written}\nchords: G | C")
    assert recipe.pickup_beats == beats


@pytest.mark.parametrize("written", ["4", "0", "1/1", "5/4", "1/3", "one", "-1", "1/0", "0.3", "9/8 x"])
def test_what_is_no_pickup_is_told(written):
    with pytest.raises(InputError) as caught:
        parse_recipe(f"meter: 4/4\npickup: '{written}'\nchords: G | C")
    assert str(caught.value.place) == "recipe.yaml:2:9"
    assert "1/8" in caught.value.hint


def test_a_chart_and_a_line_agree():
    assert compose(recipe_of(head="key: G\nfeel: click\npickup: 2")).score.pickup_beats == 2
    with pytest.raises(InputError, match="the chart one of 0") as caught:
        compose(recipe_of(head="key: G\nfeel: click\npickup: 0.5"))
    assert str(caught.value.place) == "recipe.yaml:3:9"
    with pytest.raises(InputError, match="'pickup' has no effect on a study"):
        parse_recipe("pickup: 1\nchords: C\nexercise: shapes")


def test_the_rows_of_a_take_begin_with_its_beats(take, loop):
    rows = timeline_rows(take, 48000, include_lead_in=True)
    assert [(row.bar, row.beat, row.chord) for row in rows[:2]] == [(0, 4, ""), (1, 1, "G")]
    assert rows[1].sample - rows[0].sample == take.tempo.sample_at(F(1), 48000)
    assert timeline_rows(loop, 48000)[0].bar == 1


@settings(max_examples=8, deadline=None)
@given(
    st.sampled_from([("4/4", 8), ("3/4", 6), ("6/8", 6), ("5/4", 10)]),
    st.integers(1, 5),
)
def test_any_pickup_reads_back_from_its_tab(meter, eighths):
    name, full = meter
    abc = f"{'A' * eighths} | " + " | ".join(["d2" * (full // 2)] * 3 + [f"A{full - eighths}"])
    head = f"key: D\nmeter: {name}\nfeel: click"
    score = compose(recipe_of(abc, head, "D | G | A7 | D")).score
    assert score.length_beats == 4 * F(full, 2)
    page = score.written()
    assert page.timeline.pickup_beats == F(eighths, 2)
    tab = "\n".join(f"    {line}" for line in tab_text(page).splitlines())
    again = parse_recipe(
        f"{head}\nchords: D | G | A7 | D\nparts: exercise\nexercise:\n  kind: line\n  tab: |\n{tab}\n"
    )
    assert heard(compose(again).score.written()) == heard(page)
