from dataclasses import replace
from fractions import Fraction

import pytest

from genex.errors import LineError
from genex.lines.study_plan import PlannedBar, StudyPlan, TempoSteps, bars_of, in_tempo_steps, lay_out
from genex.score import Meter, RepeatSpan, TempoMap
from genex.theory import Key, parse_chord
from tests.lines.line_charts import chart

TEMPO = TempoMap.constant(Fraction(100))


def test_bars_are_laid_end_to_end_and_sections_joined():
    bars = [
        PlannedBar.of(Meter(4, 4), parse_chord("C"), "one"),
        PlannedBar.of(Meter(4, 4), parse_chord("C"), "one"),
        PlannedBar.of(Meter(3, 4), None, "two"),
    ]
    timeline = lay_out(bars, Key.parse("C"), TEMPO)
    assert timeline.length_beats == 11
    assert [(s.name, s.onset_beats, s.length_beats) for s in timeline.sections] == [
        ("one", 0, 8),
        ("two", 8, 3),
    ]
    assert timeline.chord_at(Fraction(9)).chord is None


@pytest.mark.parametrize("text", ["C | F G | % | N.C.", "C F G Am | Dm7"])
def test_bars_of_a_timeline_lay_out_the_same_timeline(text):
    timeline = chart(text)
    again = lay_out(bars_of(timeline), timeline.key, timeline.tempo)
    assert again.bars == tuple(timeline.bars)
    assert again.chords == timeline.chords


def test_bars_each_must_be_one_or_more():
    timeline = chart("C | F")
    plan = StudyPlan(timeline, ())
    with pytest.raises(LineError, match="a bar or more"):
        in_tempo_steps(plan, TempoSteps(Fraction(60), Fraction(80), Fraction(5), bars_each=0))


def test_the_last_step_is_the_end_even_if_it_does_not_fit():
    assert TempoSteps(Fraction(60), Fraction(75), Fraction(10)).tempos == (60, 70, 75)
    assert TempoSteps(Fraction(60), Fraction(60), Fraction(10)).tempos == (60,)


def test_every_turn_of_a_tempo_ladder_has_the_repeats_of_the_chart():
    # |: C |1. F :|2. G ||
    repeat = RepeatSpan(Fraction(0), Fraction(4), (Fraction(4), Fraction(4)))
    timeline = replace(chart("C | F | C | G"), repeats=(repeat,))
    made = in_tempo_steps(StudyPlan(timeline, ()), TempoSteps(Fraction(60), Fraction(70), Fraction(10)))
    assert [span.onset_beats for span in made.timeline.repeats] == [0, 16]
