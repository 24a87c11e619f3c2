from __future__ import annotations

import numpy as np
import pytest

from genex.audio import Sound
from genex.audio.low_cut import cut_lows
from tests.audio.material import decibels, power_share, signal_to_difference_db, sine


def cut(channel: np.ndarray, rate_hz: int = 48_000, *, wrap: bool) -> np.ndarray:
    planes = np.stack((channel, channel)).astype(np.float32)
    cut_lows(planes, rate_hz, wrap=wrap)
    assert np.array_equal(planes[0], planes[1])
    return planes[0]


def level_db(channel: np.ndarray) -> float:
    return decibels(float(np.sqrt((channel.astype(np.float64) ** 2).mean())))


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
@pytest.mark.parametrize("hertz", [0, 1, 5, 10, 15, 20])
def test_all_below_20_hz_is_gone(hertz: float, rate_hz: int) -> None:
    wave = sine(hertz, -6, 10, rate_hz, phase=1.0)
    assert level_db(cut(wave, rate_hz, wrap=True)) < level_db(wave) - 65
    middle = slice(rate_hz, -rate_hz)
    assert level_db(cut(wave, rate_hz, wrap=False)[middle]) < level_db(wave) - 65


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
@pytest.mark.parametrize("hertz", [30.87, 41.2, 110, 345, 375, 1000, 15_000])
def test_all_from_the_lowest_string_on_stays_as_it_is(hertz: float, rate_hz: int) -> None:
    wave = sine(hertz, -6, 10, rate_hz)
    heard = cut(wave, rate_hz, wrap=False)
    middle = slice(rate_hz, -rate_hz)
    both = (np.stack((x[middle], x[middle]), axis=1) for x in (wave, heard))
    assert signal_to_difference_db(*both) > 60


@pytest.mark.parametrize("frames", [1, 127, 128, 129, 5_000, 48_001, 200_000])
def test_a_loop_is_cut_as_it_repeats(frames: int) -> None:
    noise = (0.1 + np.random.RandomState(3).standard_normal(frames) * 0.1).astype(np.float32)
    once = cut(noise, wrap=True)
    times = 2 - (-300_000 // frames)
    several = cut(np.tile(noise, times), wrap=False)
    middle = times // 2 * frames
    assert (
        np.abs(several[middle : middle + frames] - once).max() < 1e-4
    )  # the rates fold a little of the noise
    assert abs(once.mean()) < 3e-5


def test_a_step_leaves_no_direct_current() -> None:
    wave = np.zeros(480_000, np.float32)
    wave[100_000:300_000] = 0.3
    sound = Sound.of_planes(np.stack((cut(wave, wrap=False),) * 2), 48_000)
    assert 10 * np.log10(power_share(sound, 0, 10)) < -40


def test_nothing_is_cut_from_nothing() -> None:
    assert cut(np.zeros(0, np.float32), wrap=True).shape == (0,)
