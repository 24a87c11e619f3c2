"""Beats of a piece as times of a file of it."""

from dataclasses import replace
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.score import FileClock, LeadIn, Part, Role, Score, TempoChange, TempoMap
from tests.score.test_timeline import timeline

RATE = 48_000


def score(tempo=120, lead_in_beats=0, changes=()):
    made = timeline(["C", "F"], tempo=tempo)
    if changes:
        made = replace(made, tempo=TempoMap(tuple(TempoChange(F(b), F(t)) for b, t in changes)))
    click = LeadIn(F(lead_in_beats), Part("count-in", Role.CLICK, 0, ())) if lead_in_beats else None
    return Score("t", "f", made, (), click)


def test_a_bar_of_a_take_begins_behind_the_count_in():
    # A minute holds 120 quarters: four of them last two seconds, 96 000 samples at 48 kHz.
    take = FileClock.of(score(lead_in_beats=4), include_lead_in=True)
    assert take.lead_in_beats == 4
    assert take.beats(F(0)) == 4
    assert [take.seconds(F(beats)) for beats in (-4, 0, 4)] == [0, 2, 4]
    assert [take.sample(F(beats), RATE) for beats in (-4, 0, 4)] == [0, 96_000, 192_000]
    assert take.milliseconds(F(1, 2)) == 2250


def test_a_loop_leaves_the_count_in_out():
    loop = FileClock.of(score(lead_in_beats=4))
    assert loop.lead_in_beats == 0
    assert (loop.seconds(F(0)), loop.sample(F(0), RATE)) == (0, 0)


def test_a_count_in_has_the_first_tempo():
    take = FileClock.of(score(changes=[(0, 60), (4, 120)], lead_in_beats=2), include_lead_in=True)
    assert [take.seconds(F(beats)) for beats in (0, 4, 8)] == [2, 6, 8]
    assert [(c.onset_beats, c.tempo_bpm) for c in take.tempo.changes] == [(0, 60), (6, 120)]


def test_later_passes_of_a_loop_begin_one_pass_later():
    loop = FileClock.of(score())
    assert [loop.seconds(F(1), turn) for turn in (0, 1, 2)] == [F(1, 2), F(9, 2), F(17, 2)]
    assert [loop.sample(F(0), RATE, turn) for turn in (0, 1, 2)] == [0, 192_000, 384_000]
    assert loop.milliseconds(F(1), 2) == 8500


def test_a_pass_is_a_whole_number_of_samples():
    # 8 beats at 97 a minute: 480/97 s are 237 525.77… samples at 48 kHz, the file has 237 526.
    loop = FileClock.of(score(tempo=97))
    assert loop.sample(F(8), RATE) == 237_526
    assert loop.sample(F(0), RATE, 3) == 3 * 237_526


def test_no_time_lies_before_the_file():
    assert FileClock.of(score()).milliseconds(F(-1)) == 0


def test_one_half_of_a_millisecond_rounds_up():
    # At 60 a minute a beat is a second.
    assert FileClock.of(score(tempo=60)).milliseconds(F(1, 2000)) == 1


@given(
    st.lists(st.integers(1, 7), unique=True, max_size=3),
    st.integers(0, 8),
    st.fractions(0, 8, max_denominator=24),
    st.integers(0, 3),
)
@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_samples_are_the_nearest_to_the_seconds_of_the_first_pass(rate, onsets, lead, beats, turn):
    changes = [(0, 90), *((onset, 91 + onset) for onset in sorted(onsets))]
    clock = FileClock.of(score(changes=changes, lead_in_beats=lead), include_lead_in=True)
    frames = clock.sample(beats, rate, turn) - clock.sample(F(0), rate, turn)
    assert abs(clock.seconds(beats) * rate - clock.sample(beats, rate)) <= F(1, 2)
    assert frames == clock.sample(beats, rate) - clock.sample(F(0), rate)
