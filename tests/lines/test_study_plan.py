from dataclasses import replace
from fractions import Fraction

import pytest

from genex.errors import LineError
from genex.lines.study_plan import (
    CueSpan,
    PlannedBar,
    StudyPlan,
    TempoSteps,
    bars_of,
    in_tempo_steps,
    lay_out,
)
from genex.score import Meter, Note, Part, RepeatSpan, Role, TempoMap
from genex.theory import Key, Pitch, parse_chord
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


def test_a_reading_stays_with_its_chord():
    timeline = chart("Dm7 G7 | Cmaj7", key="C")
    (first, second) = bars_of(timeline)
    assert [first.reading_of(i, chord) for i, (chord, _) in enumerate(first.chords)] == [
        timeline.reading_of(span) for span in timeline.chords[:2]
    ]
    assert first.reading_of(0, parse_chord("G7")) is None, "another chord by now"
    assert replace(second, readings=()).reading_of(0, parse_chord("Cmaj7")) is None


def test_bars_each_must_be_one_or_more():
    timeline = chart("C | F")
    plan = StudyPlan(timeline, ())
    with pytest.raises(LineError, match="a bar or more"):
        in_tempo_steps(plan, TempoSteps(Fraction(60), Fraction(80), Fraction(5), bars_each=0))


def test_the_last_step_is_the_end_even_if_it_does_not_fit():
    assert TempoSteps(Fraction(60), Fraction(75), Fraction(10)).tempos == (60, 70, 75)
    assert TempoSteps(Fraction(60), Fraction(60), Fraction(10)).tempos == (60,)


def study(text, meter="4/4"):
    """A note a bar, and a caption over the last bar."""
    timeline = chart(text, meter=meter)
    notes = [Note(bar.onset_beats, Fraction(1), Pitch.parse("C4"), 80) for bar in timeline.bars]
    last = timeline.bars[-1]
    cue = CueSpan(last.onset_beats, last.meter.bar_beats, "listen", "listen")
    return StudyPlan(timeline, (Part.of("exercise", Role.EXERCISE, 25, notes),), (cue,))


def test_a_study_is_played_at_every_tempo_in_turn():
    made = in_tempo_steps(study("C | F"), TempoSteps(Fraction(60), Fraction(80), Fraction(10)))
    changes = [(change.onset_beats, change.tempo_bpm) for change in made.timeline.tempo.changes]
    assert changes == [(0, 60), (8, 70), (16, 80)]
    assert [note.onset_beats for note in made.parts[0].notes] == [0, 4, 8, 12, 16, 20]
    assert [cue.onset_beats for cue in made.cues] == [4, 12, 20]
    assert [(bar.number, bar.chorus) for bar in made.timeline.bars] == [
        (1, 1), (2, 1), (3, 2), (4, 2), (5, 3), (6, 3),
    ]  # fmt: skip
    assert [str(span.chord) for span in made.timeline.chords] == ["C", "F"] * 3
    assert [span.onset_beats for span in made.timeline.chords] == [0, 4, 8, 12, 16, 20]
    assert [(span.onset_beats, span.chorus) for span in made.timeline.sections] == [
        (0, 1), (8, 2), (16, 3),
    ]  # fmt: skip


def test_a_study_is_never_broken_off():
    steps = TempoSteps(Fraction(80), Fraction(60), Fraction(10), bars_each=3)
    made = in_tempo_steps(study("C | F"), steps)
    changes = [(change.onset_beats, change.tempo_bpm) for change in made.timeline.tempo.changes]
    assert changes == [(0, 80), (12, 70), (24, 60)]
    assert made.length_beats == 5 * 8  # nine bars of steps, in whole turns of two


def test_in_compound_meters_the_steps_are_dotted_quarters():
    """[common practice]: a pulse of 6/8 is a dotted quarter."""
    made = in_tempo_steps(study("C", "6/8"), TempoSteps(Fraction(60), Fraction(60), Fraction(1)))
    assert [change.tempo_bpm for change in made.timeline.tempo.changes] == [90]


def test_a_step_may_begin_inside_a_turn():
    steps = TempoSteps(Fraction(60), Fraction(80), Fraction(10), bars_each=1)
    made = in_tempo_steps(study("C | F"), steps)
    assert [change.onset_beats for change in made.timeline.tempo.changes] == [0, 4, 8]


def test_tempo_steps_are_above_nothing():
    for start, end, step in ((0, 60, 5), (60, 0, 5), (60, 80, 0)):
        with pytest.raises(LineError, match="above 0"):
            _ = TempoSteps(Fraction(start), Fraction(end), Fraction(step)).tempos


def test_every_turn_of_a_tempo_ladder_has_the_repeats_of_the_chart():
    # |: C |1. F :|2. G ||
    repeat = RepeatSpan(Fraction(0), Fraction(4), (Fraction(4), Fraction(4)))
    timeline = replace(chart("C | F | C | G"), repeats=(repeat,))
    made = in_tempo_steps(StudyPlan(timeline, ()), TempoSteps(Fraction(60), Fraction(70), Fraction(10)))
    assert [span.onset_beats for span in made.timeline.repeats] == [0, 16]
