"""Phrases that follow the form."""

from random import Random

import pytest

from genex.compose import compose
from genex.lines.form_plan import cut, last_pulse, plan_of
from genex.recipe import parse_recipe
from tests.lines.line_charts import chart

EIGHT = "Dm7 | G7 | Cmaj7 | % | Dm7 | G7 | Cmaj7 | %"


def form(text="form: A A B A"):
    sections = f"sections:\n  A: {EIGHT}\n  B: Fm7 | Bb7 | Ebmaj7 | % | Ebm7 | Ab7 | Dbmaj7 | G7\n"
    return compose(parse_recipe(f"{sections}{text}\nkey: C\nparts: bass")).score.timeline


@pytest.mark.parametrize("bars", [*range(1, 25), 32])
@pytest.mark.parametrize("level", range(1, 7))
def test_sections_are_cut_into_phrases(bars, level):
    for seed in range(10):
        for fast in (False, True):
            lengths = cut(bars, level, Random(seed), fast=fast)
            assert sum(lengths) == bars
            assert all(length in (2, 4, 8) for length in lengths[:-1])
            if bars % 4 == 0:
                assert set(lengths) <= {2, 4, 8}
            if fast and bars % 4 == 0:
                assert min(lengths) >= 4
            if level < 5 and not fast:
                assert max(lengths) <= 5


def test_phrases_end_where_sections_end():
    timeline = form()
    ends = {section.end_beats for section in timeline.sections}
    for level in range(1, 7):
        for seed in range(20):
            plan = plan_of(timeline, level, f"{seed}")
            last = [phrase for phrase in plan if phrase.ending != "open"]
            found = {timeline.bars[p.first_bar + p.bars - 1].end_beats for p in last}
            assert ends <= found
            assert [p.ending for p in plan].count("final") == 1 and plan[-1].ending == "final"
            covered = [bar for p in plan for bar in range(p.first_bar, p.first_bar + p.bars)]
            assert covered == list(range(32))


def test_a_section_that_comes_again_begins_like_its_first_time():
    plan = plan_of(form(), 4, "x")
    first = {phrase.first_bar: phrase for phrase in plan}
    for bar in (8, 24):
        assert first[bar].like == 0
    assert first[16].like is None


def test_the_peak_lies_past_the_middle_and_is_the_highest():
    timeline = form()
    for seed in range(40):
        plan = plan_of(timeline, 4, f"{seed}")
        (peak,) = [phrase for phrase in plan if phrase.peaks]
        assert 10 <= peak.first_bar <= 26 and peak is not plan[-1]
        assert peak.lift == 1 and all(phrase.lift < 1 for phrase in plan if phrase is not peak)
        tops = [phrase.compass(50, 70)[1] for phrase in plan if phrase is not peak]
        assert peak.compass(50, 70)[1] == 70 and max(tops) < 70
        assert peak.density == max(phrase.density for phrase in plan)


def test_question_and_answer():
    plan = plan_of(chart(EIGHT + "|" + EIGHT), 3, "x", bars=2)
    assert [p.role for p in plan[:4]] == ["statement", "answer", "development", "close"]
    assert [p.ending for p in plan[:4]] == ["open", "closed", "open", "closed"]
    assert [p.like for p in plan[:4]] == [None, 0, 0, None]


def test_bars_without_a_chord_are_left_out():
    plan = plan_of(chart("C | N.C. | G | C N.C. | F | C"), 3, "x")
    assert [bar for p in plan for bar in range(p.first_bar, p.first_bar + p.bars)] == [0, 2, 4, 5]


def test_the_pulse_of_the_last_chord():
    timeline = chart("Dm7 G7 | C | Dm7 G7 C")
    assert [last_pulse(timeline, bar) for bar in timeline.bars] == [2, 0, 3]
