from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.audio import Sound, integrated_lufs, master, true_peak_dbtp
from genex.audio.loudness import LoudnessMeter, PeakMeter
from genex.audio.mastering import MOST_LEVELLING_DB, MOST_LIMITING_DB, Limiter
from tests.audio.material import both, sine


def music_like(seconds: float = 6, seed: int = 1) -> Sound:
    """Decaying noise bursts: a crest factor as of a band."""
    noise = np.random.RandomState(seed).standard_normal((round(seconds * 48_000), 2)).clip(-1.5, 1.5)
    envelope = np.exp(-(np.arange(len(noise)) % 12_000) / 9000) * (
        0.5 + 0.5 * (np.arange(len(noise)) % 48_000 > 24_000)
    )
    low = np.stack([np.convolve(c, np.hanning(64) / 16, mode="same") for c in noise.T], axis=1)
    return Sound((low * envelope[:, None] * 0.1).astype(np.float32), 48_000)


def limited(sound: Sound, ceiling_db: float, *, loop: bool) -> tuple[Sound, float]:
    copy = Sound.of_planes(sound.planes.copy(), sound.rate_hz)
    meters = PeakMeter(copy, loop=loop), LoudnessMeter(copy, loop=loop)
    with Limiter(copy, *meters, loop=loop) as limiter:
        return copy, limiter.limit(ceiling_db)


@pytest.mark.parametrize("target", [-14.0, -16.0, -23.0])
@pytest.mark.parametrize("loop", [True, False])
def test_the_target_is_met_and_the_ceiling_kept(target: float, loop: bool) -> None:
    mastered, measured = master(music_like(), target, loop=loop)
    assert integrated_lufs(mastered, loop=loop) == pytest.approx(target, abs=0.2)
    assert measured.integrated_lufs == pytest.approx(target, abs=0.2)
    peak = true_peak_dbtp(mastered, loop=loop)
    assert peak is not None and peak <= -1.0
    assert measured.true_peak_dbtp == pytest.approx(peak, abs=0.01)


def test_without_peaks_over_the_ceiling_the_gain_is_constant() -> None:
    quiet = both(sine(300, -40, 3))
    mastered, measured = master(both(sine(300, -40, 3)), -20.0)
    ratio = mastered.samples[1000:2000] / quiet.samples[1000:2000]
    assert measured.limited_db == 0
    assert np.allclose(
        ratio[np.abs(quiet.samples[1000:2000]) > 1e-3], 10 ** (measured.gain_db / 20), rtol=1e-4
    )


def test_the_limiter_touches_only_the_surroundings_of_peaks() -> None:
    calm = sine(300, -12, 2)
    calm[48_000] = 0.98
    calmer, depth = limited(both(calm), -3.0, loop=False)
    changed = np.flatnonzero((calmer.samples != both(calm).samples).any(axis=1))
    assert 2.0 < depth < 6.0
    assert changed[0] > 48_000 - 1200 and changed[-1] < 48_000 + 1200
    assert (true_peak_dbtp(calmer) or 0) <= -3.0


def test_the_limiter_has_no_corners() -> None:
    """Its gain moves by no more than a few thousandths a sample: no click."""
    loud = both(sine(80, 0, 1))
    softer, _ = limited(loud, -6.0, loop=True)
    strong = np.abs(loud.samples[:, 0]) > 0.05
    gain = np.where(strong, softer.samples[:, 0] / np.where(strong, loud.samples[:, 0], 1), np.nan)
    assert np.nanmax(np.abs(np.diff(gain))) < 0.005


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1000), st.sampled_from([700, 5000, 20_000]), st.booleans())
def test_limiting_can_be_taken_back(seed: int, frames: int, loop: bool) -> None:
    noise = np.random.RandomState(seed).standard_normal((2, frames)).astype(np.float32)
    sound = Sound.of_planes(noise.copy(), 48_000)
    meter = PeakMeter(sound, loop=loop)
    limiter = Limiter(sound, meter, LoudnessMeter(sound, loop=loop), loop=loop)
    before = meter.highest()
    assert limiter.limit(-3.0) > 3.0
    assert meter.highest() == pytest.approx(PeakMeter(sound, loop=loop).highest(), rel=1e-6)
    limiter.undo()
    assert np.array_equal(sound.planes, noise)
    assert meter.highest() == pytest.approx(before, rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 1000), st.floats(-12, 12), st.sampled_from([700, 5000, 48_000]), st.booleans())
def test_no_peak_passes_the_ceiling(seed: int, gain_db: float, frames: int, loop: bool) -> None:
    noise = np.random.RandomState(seed).standard_normal((frames, 2)).astype(np.float32)
    loud = Sound(noise * np.float32(0.2 * 10 ** (gain_db / 20)), 48_000)
    mastered, measured = master(loud, -10.0, loop=loop)
    assert (true_peak_dbtp(mastered, loop=loop) or -99) <= -1.0
    assert measured.limited_db <= MOST_LIMITING_DB + 1.0


def peaky(seed: int) -> Sound:
    """A few bursts of noise over something very soft: limiting changes the loudness a lot."""
    choose = np.random.RandomState(seed)
    frames = int(choose.randint(20_000, 150_000))
    samples = choose.standard_normal((2, frames)) * 10 ** choose.uniform(-4.5, -2)
    for _ in range(choose.randint(1, 9)):
        at, length = choose.randint(0, frames - 2000), choose.randint(20, 2000)
        burst = choose.standard_normal((2, length)) * np.exp(-np.arange(length) / (length / 6))
        samples[:, at : at + length] += burst * choose.uniform(0.05, 0.9)
    return Sound.of_planes(samples.astype(np.float32), 48_000)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 100_000), st.booleans(), st.sampled_from([-14.0, -18.0]))
def test_what_is_said_of_a_mastered_sound_is_what_it_measures(
    seed: int, loop: bool, target: float
) -> None:
    mastered, measured = master(peaky(seed), target, loop=loop)
    assert (true_peak_dbtp(mastered, loop=loop) or -99) <= -1.0
    assert measured.true_peak_dbtp == pytest.approx(true_peak_dbtp(mastered, loop=loop), abs=0.02)
    assert measured.integrated_lufs == pytest.approx(integrated_lufs(mastered, loop=loop), abs=0.01)


def test_a_lone_click_stays_quieter_than_the_target_instead_of_being_flattened() -> None:
    click = np.zeros(48_000, np.float32)
    click[:200] = np.hanning(200) * 0.5
    mastered, measured = master(both(click))
    assert measured.integrated_lufs is not None and measured.integrated_lufs < -20
    assert measured.limited_db <= MOST_LIMITING_DB + 1.0
    assert measured.levelled_db <= MOST_LEVELLING_DB + 0.1
    assert (true_peak_dbtp(mastered, loop=True) or 0) <= -1.0


def test_a_moment_is_levelled_slowly_where_limiting_would_take_too_much() -> None:
    """A stroke 7 dB over what the limiter may take is played softer as a whole: a wave of 80 Hz under
    it keeps its shape, and nothing changes further away."""
    rate = 48_000
    wave = 0.1 * sine(80, 0, 2)
    at = rate + rate // 320  # on a crest
    wave[at - 24 : at + 24] += 0.7 * np.hanning(48) * np.cos(np.arange(-24, 24) * 1.2)
    sound, before = both(wave), both(wave).samples
    peak_db = true_peak_dbtp(sound, loop=False) or 0.0
    mastered, measured = master(sound, -99, loop=False, gain_db=-1.1 + 7.0 - peak_db)
    assert measured.limited_db <= MOST_LIMITING_DB + 0.1
    assert measured.levelled_db == pytest.approx(7.0 - MOST_LIMITING_DB, abs=0.5)
    gain = 10 ** (measured.gain_db / 20)
    far = slice(rate // 2, at - rate // 8)  # off the edge, which the cut below 20 Hz rounds
    assert np.allclose(mastered.samples[far], before[far] * gain, atol=3e-3)
    near = slice(at - rate // 40, at - rate // 80)  # where the limiter does not reach
    share = np.abs(mastered.samples[near]).max() / (np.abs(before[near]).max() * gain)
    assert 10 ** (-measured.levelled_db / 20) - 0.02 < share < 0.95


def test_silence_stays_silence() -> None:
    silent = Sound(np.zeros((4800, 2), np.float32), 48_000)
    mastered, measured = master(silent)
    assert not mastered.samples.any()
    assert (measured.integrated_lufs, measured.true_peak_dbtp) == (None, None)
