"""Conversions between beats, ticks, seconds and samples."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex import units


@pytest.mark.parametrize(
    ("beats", "ticks"), [(F(1), 960), (F(1, 3), 320), (F(1, 7), 137), (F(-1, 2), -480)]
)
def test_ticks_of_beats(beats, ticks):
    assert units.beats_to_ticks(beats) == ticks


@pytest.mark.parametrize(
    ("tempo", "microseconds"),
    # [published: Standard MIDI File 1.0, 07A120 hex for 120; 97 rounds to 618557]
    [(120, 0x07A120), (60, 1_000_000), (97, 618_557)],
)
def test_midi_tempo(tempo, microseconds):
    assert units.tempo_to_microseconds(F(tempo)) == microseconds


def test_a_bar_of_four_at_120_is_two_seconds():
    assert units.beats_to_seconds(F(4), F(120)) == 2
    assert units.seconds_to_samples(F(2), 48_000) == 96_000


@pytest.mark.parametrize(("value", "rounded"), [(F(1, 2), 1), (F(3, 2), 2), (F(-1, 2), 0), (F(5, 2), 3)])
def test_one_half_rounds_up(value, rounded):
    assert units.round_half_up(value) == rounded


@given(st.fractions(-1000, 1000), st.fractions(20, 400))
def test_a_beat_lasts_a_minute_over_the_tempo(beats, tempo):
    assert units.beats_to_seconds(beats, tempo) * tempo == 60 * beats


@given(st.fractions(-1000, 1000))
def test_a_tick_is_at_most_half_a_tick_away(beats):
    ticks = units.beats_to_ticks(beats)
    assert abs(units.ticks_to_beats(ticks) - beats) <= F(1, 2 * units.TICKS_PER_BEAT)
    assert units.beats_to_ticks(units.ticks_to_beats(ticks)) == ticks
