"""The meter against EBU Tech 3341, BS.1770 and an independent meter.

Signals and expected values: EBU Tech 3341 [published], ITU-R BS.1770-4 [published]; what other
meters read: see tests/data/audio/loudness_cases.csv (pyloudnorm 0.2.0, libebur128 1.2.6,
ffmpeg 5.1.9) [package].
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.audio import Sound, integrated_lufs, true_peak_dbtp
from genex.audio.k_weighting import k_weighting
from genex.audio.loudness import LoudnessMeter
from tests.audio.material import both, sine

CASES = {
    row["case"]: row
    for row in csv.DictReader(
        (Path(__file__).parents[1] / "data/audio/loudness_cases.csv").read_text().splitlines()
    )
}


def steps(*parts: tuple[float, float]) -> Sound:
    """A 1 kHz tone on both sides at each level in dBFS for some seconds."""
    levels = np.concatenate([np.full(round(s * 48_000), 10 ** (db / 20)) for db, s in parts])
    tone = sine(1000, 0, len(levels) / 48_000)
    return both((tone * levels).astype(np.float32))


def one_side(channel: np.ndarray) -> Sound:
    return Sound(np.stack((channel, np.zeros_like(channel)), axis=1), 48_000)


def peaks(divisor: int, degrees: float, amplitude: float) -> Sound:
    """A tone at a fraction of the sample rate, faded in and out so that it starts without a click."""
    tone = sine(48_000 / divisor, 20 * math.log10(amplitude), 1, phase=math.radians(degrees))
    fade = np.minimum(1, np.minimum(np.arange(48_000), np.arange(48_000)[::-1]) / 4800)
    return both((tone * fade).astype(np.float32))


LOUDNESS_SIGNALS = {
    "3341-1": lambda: steps((-23, 20)),
    "3341-2": lambda: steps((-33, 20)),
    "3341-3": lambda: steps((-36, 10), (-23, 60), (-36, 10)),
    "3341-4": lambda: steps((-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)),
    "3341-5": lambda: steps((-26, 20), (-20, 20.1), (-26, 20)),
    "BS1770: 997Hz 0dBFS left only": lambda: one_side(sine(997, 0, 20)),
    "BS1770: 997Hz 0dBFS mono": lambda: one_side(sine(997, 0, 20)),
}
PEAK_SIGNALS = {
    "3341-15": lambda: peaks(4, 0, 0.5),
    "3341-16": lambda: peaks(4, 45, 0.5),
    "3341-17": lambda: peaks(6, 60, 0.5),
    "3341-18": lambda: peaks(8, 67.5, 0.5),
    "3341-19": lambda: peaks(4, 45, 1.41),
}


def within(case: str, value: float | None) -> bool:
    low, high = (float(part) for part in CASES[case]["tolerance"].split("/"))
    expected = float(CASES[case]["expected"])
    return value is not None and expected + low <= value <= expected + high


@pytest.mark.parametrize("case", LOUDNESS_SIGNALS)
def test_published_loudness_signals(case: str) -> None:
    assert within(case, integrated_lufs(LOUDNESS_SIGNALS[case]()))


@pytest.mark.parametrize("case", PEAK_SIGNALS)
def test_published_true_peak_signals(case: str) -> None:
    assert within(case, true_peak_dbtp(PEAK_SIGNALS[case]()))


def test_the_filters_at_48_khz_are_the_printed_ones() -> None:
    """Coefficients from tables 1 and 2 of BS.1770 [published]."""
    shelf = (
        [1.53512485958697, -2.69169618940638, 1.19839281085285],
        [1, -1.69065929318241, 0.73248077421585],
    )
    high_pass = ([1.0, -2.0, 1.0], [1, -1.99004745483398, 0.99007225036621])
    b, a = k_weighting(48_000)
    assert np.allclose(b, np.convolve(shelf[0], high_pass[0]), atol=1e-10)
    assert np.allclose(a, np.convolve(shelf[1], high_pass[1]), atol=1e-10)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_an_independent_meter_reads_the_same(rate_hz: int) -> None:
    """pyloudnorm rounds its filters a little differently: 0.06 LU are allowed [package: 0.2.0]."""
    import pyloudnorm

    noise = np.random.RandomState(1).standard_normal((rate_hz * 7 + 321, 2)) * 0.1
    noise[rate_hz * 3 : rate_hz * 5] *= 0.02
    expected = pyloudnorm.Meter(rate_hz).integrated_loudness(noise)
    measured = integrated_lufs(Sound(noise.astype(np.float32), rate_hz))
    assert measured == pytest.approx(expected, abs=0.06)


def test_block_filtering_is_the_sample_by_sample_recursion() -> None:
    from scipy.signal import lfilter

    noise = np.random.RandomState(2).standard_normal((48_000 * 2, 2)).astype(np.float32)
    weighted = lfilter(*k_weighting(48_000), noise.astype(float), axis=0)
    expected = (weighted.reshape(20, 4800, 2) ** 2).mean(axis=1).sum(axis=1)
    measured = LoudnessMeter(Sound(noise, 48_000), loop=False)._energies
    assert np.allclose(10 * np.log10(measured / expected), 0, atol=0.00002)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 9999), st.booleans(), st.lists(st.floats(0, 1), min_size=1, max_size=4))
def test_a_meter_follows_changes(seed: int, loop: bool, places: list[float]) -> None:
    noise = np.random.RandomState(seed).standard_normal((2, 200_000 + seed)).astype(np.float32) * 0.1
    sound = Sound.of_planes(noise, 8000)
    meter = LoudnessMeter(sound, loop=loop)
    starts = [int(at * (sound.length_samples - 300)) for at in places]
    where = np.unique(np.concatenate([np.arange(300) + start for start in starts]))
    sound.planes[:, where] *= 7
    meter.refresh([(start, start + 300) for start in starts])
    assert np.allclose(meter._energies, LoudnessMeter(sound, loop=loop)._energies, rtol=1e-4)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(st.integers(3000, 40_000), st.integers(1, 40_000))
def test_a_loop_measures_the_same_from_wherever_it_starts(frames: int, turn: int) -> None:
    noise = np.random.RandomState(frames).standard_normal((frames, 2)).astype(np.float32) * 0.1
    noise[: frames // 3] *= 0.05
    whole, turned = (
        integrated_lufs(Sound(samples, 8000), loop=True)
        for samples in (noise, np.roll(noise, turn, axis=0))
    )
    assert whole == pytest.approx(turned, abs=0.1)  # windows fall on other samples
    assert true_peak_dbtp(Sound(noise, 8000), loop=True) == pytest.approx(
        true_peak_dbtp(Sound(np.roll(noise, turn, axis=0), 8000), loop=True), abs=1e-4
    )


def test_a_loop_is_measured_as_it_repeats() -> None:
    bar = np.concatenate((sine(200, -10, 0.5), np.zeros(24_123, np.float32)))
    looped = integrated_lufs(both(bar), loop=True)
    repeated = integrated_lufs(both(np.tile(bar, 40)))
    assert looped == pytest.approx(repeated, abs=0.05)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 700))
def test_peaks_are_those_of_plain_oversampling(seed: int, frames: int) -> None:
    """Against a polyphase resampler of scipy, which has another filter: 0.3 dB are allowed."""
    from scipy.signal import resample_poly

    rough = np.random.RandomState(seed).standard_normal((frames + 120, 2))
    samples = np.zeros((frames + 400, 2), np.float32)
    smooth = np.stack([np.convolve(c, np.hanning(9), mode="same") for c in rough.T], axis=1)
    samples[140 : 140 + len(smooth)] = smooth * np.hanning(len(smooth))[:, None]
    expected = 20 * np.log10(np.abs(resample_poly(samples, 4, 1, axis=0)).max())
    assert true_peak_dbtp(Sound(samples, 48_000)) == pytest.approx(expected, abs=0.3)


def test_silence_has_no_loudness_and_no_peak() -> None:
    silent = Sound(np.zeros((48_000, 2), np.float32), 48_000)
    assert integrated_lufs(silent) is None
    assert integrated_lufs(silent, loop=True) is None
    assert true_peak_dbtp(silent) is None
    assert true_peak_dbtp(Sound(np.zeros((0, 2), np.float32), 48_000)) is None


@pytest.mark.parametrize("loop", [True, False])
def test_a_single_sample_has_a_true_peak(loop: bool) -> None:
    sample = Sound(np.full((1, 2), 0.5, np.float32), 48_000)
    assert true_peak_dbtp(sample, loop=loop) == pytest.approx(20 * math.log10(0.5), abs=0.1)


def test_sounds_shorter_than_a_gating_block_are_measured() -> None:
    click = both(sine(1000, -6, 0.05))
    assert integrated_lufs(click) is not None
    looped = integrated_lufs(click, loop=True)
    assert looped == pytest.approx(-6 + 0.0, abs=0.2)
