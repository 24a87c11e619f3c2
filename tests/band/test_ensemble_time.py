"""Drift: bounded, without a mean, without a seam, kept by a longer form."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from statistics import fmean, stdev

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.band import FeelTiming
from genex.band.ensemble_time import SHARED, Drift, Ensemble
from genex.band.feel_timing import Touch
from genex.score import TempoMap
from tests.band.charts import timeline

F = Fraction
BARS = timeline(" | ".join(["C"] * 32), choruses=3).bars
TIMES = [F(i, 2) for i in range(8 * 96)]


def values(seed: int = 1, name: str = "band") -> list[float]:
    drift = Drift(BARS, seed, name)
    return [drift.at(time) for time in TIMES]


@settings(max_examples=30)
@given(st.integers(0, 10**6))
def test_drift_is_about_nought_and_never_large(seed):
    found = values(seed)
    assert max(map(abs, found)) <= 2
    assert abs(fmean(found)) < 0.35
    assert 0.4 < stdev(found) < 1.3


def test_drift_is_slow():
    """Half a beat later it is nearly where it was; independent scatter would move by its own width."""
    found = values()
    steps = [abs(a - b) for a, b in pairwise(found)]
    assert fmean(steps) < 0.25 * stdev(found)
    assert max(steps) < 1


@given(st.integers(0, 10**6))
def test_a_loop_has_no_seam(seed):
    drift = Drift(BARS, seed, "band")
    assert drift.at(F(0)) == 0 == drift.at(BARS[-1].end_beats)
    assert abs(drift.at(BARS[-1].end_beats - F(1, 8))) < 0.1


def test_more_choruses_leave_the_drift_of_the_first_ones_alone():
    longer = timeline(" | ".join(["C"] * 32), choruses=5).bars
    one, other = Drift(BARS, 1, "band"), Drift(longer, 1, "band")
    # the very last bar leads back to the beginning, or on
    assert all(one.at(time) == other.at(time) for time in TIMES if time < 4 * 95)


def test_players_share_most_of_it_and_none_is_exact_with_no_looseness():
    feel = FeelTiming(TempoMap.constant(F(120)))
    ensemble = Ensemble(BARS, feel, seed=1, drift_ms=5, humanise=1)
    drums, bass = ensemble.player("drums", Touch()), ensemble.player("bass", Touch())
    both = [(drums.drift_ms(time), bass.drift_ms(time)) for time in TIMES]
    mean = [fmean(values) for values in zip(*both, strict=True)]
    covariance = fmean((a - mean[0]) * (b - mean[1]) for a, b in both)
    spread = [stdev(values) for values in zip(*both, strict=True)]
    assert SHARED**2 - 0.25 < covariance / (spread[0] * spread[1]) < SHARED**2 + 0.25
    exact = ensemble.player("drums", Touch(looseness=0.0))
    assert all(exact.drift_ms(time) == 0 for time in TIMES)


@pytest.mark.parametrize("ratio", [1.0, 2.0])
def test_a_note_leaves_room_for_the_next_one_however_early(ratio):
    feel = FeelTiming(TempoMap.constant(F(90)), ratio)
    touch = Touch(3.0, 5.0, -4.0)
    time = Ensemble(BARS, feel, seed=3, drift_ms=6, humanise=1).player("bass", touch)
    for onset, end in pairwise(TIMES):
        latest = feel.milliseconds(onset, touch.latest_ms(1) + time.drift_ms(onset))
        earliest = feel.milliseconds(end, time.drift_ms(end) - touch.earliest_ms(1))
        start = onset + feel.offset(onset) + latest
        assert start + time.room(onset, end) <= end + feel.offset(end) + earliest
