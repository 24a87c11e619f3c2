from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.audio.envelope import Envelope
from genex.audio.held import Held, Note, Scratch
from genex.audio.sound import BLOCK_SAMPLES, SILENCE

ENVELOPE = Envelope(delay=0, attack=2, hold=5, decay=900, sustain=0.2, release=40, choke=9)


def held(blocks: int = 60, sides: int = 2, envelope: Envelope | None = ENVELOPE) -> Held:
    planes = np.random.RandomState(blocks).standard_normal((sides, blocks * BLOCK_SAMPLES))
    return Held.of(np.broadcast_to(planes.astype(np.float32), (2, planes.shape[1])), blocks, envelope)


def test_equal_sides_are_kept_once() -> None:
    assert held(sides=1).planes.shape == (1, 3840)
    assert held(sides=2).planes.shape == (2, 3840)


@given(st.integers(0, 300), st.integers(1, 2))
def test_peaks_are_those_of_each_block(frames: int, sides: int) -> None:
    planes = np.random.RandomState(frames).standard_normal((sides, frames)).astype(np.float32)
    note = Held.of(np.broadcast_to(planes, (2, frames)), 9, None)
    expected = [np.abs(planes[:, n : n + 64]).max() for n in range(0, frames, 64)]
    assert note.peaks == pytest.approx(expected)


@settings(max_examples=50)
@given(st.integers(1, 70), st.integers(0, 70), st.lists(st.integers(1, 3000), max_size=8), st.data())
def test_a_note_is_the_same_however_it_is_cut_into_pieces(
    hold: int, choke: int, cuts: list[int], data: st.DataObject
) -> None:
    gains = data.draw(st.sampled_from([(1.0, 1.0), (0.5, 0.5), (0.25, 0.75), (1.0, 0.5)]))
    note = held(sides=data.draw(st.integers(1, 2))).released(hold, choke, gains)
    bus = np.zeros((2, note.frames), np.float32)
    ends = sorted({cut for cut in cuts if cut < note.frames} | {0, note.frames})
    scratch = Scratch(note.frames)
    for first, end in pairwise(ends):
        note.add_to(bus, first, first, end - first, scratch)
    assert np.allclose(bus, note.sounding(), atol=1e-6)


def test_the_gains_are_those_of_left_and_right() -> None:
    plain = held(sides=1).released(20, 0, (1.0, 1.0)).sounding()
    apart = held(sides=1).released(20, 0, (0.5, 0.25)).sounding()
    assert np.allclose(apart, plain * np.array([[0.5], [0.25]], np.float32), atol=1e-6)


def test_a_released_note_falls_in_straight_decibels_from_where_it_was() -> None:
    """SoundFont 2.04, 8.1.3: a release falls by 100 dB (96 in the synthesizer) within its time."""
    note = Held.of(np.ones((2, 6400), np.float32), 100, Envelope(0, 1, 1000, 10, 0.0, 50, 5))
    heard = note.released(30, 0, (1.0, 1.0)).sounding()[0]
    assert np.array_equal(heard[: 30 * 64], np.ones(30 * 64))
    decibels = 20 * np.log10(heard[[40 * 64, 50 * 64]])
    assert decibels == pytest.approx([-96 * 10 / 50, -96 * 20 / 50], abs=0.11)


@given(st.integers(1, 120), st.integers(0, 120), st.integers(1, 60), st.integers(1, 60))
def test_a_ramp_is_the_same_however_much_of_it_is_asked_for(
    hold: int, choke: int, some: int, more: int
) -> None:
    one, other = (ENVELOPE.ramp(hold, choke, blocks) for blocks in (some, more))
    shared = min(len(one.lines), len(other.lines))
    assert np.array_equal(one.lines[:shared], other.lines[:shared])
    assert len(one.lines) >= some or one.lines[-1, 1] == 0
    assert np.array_equal(one.highest, one.lines.max(axis=1))


@given(st.integers(1, 120), st.integers(0, 200), st.integers(1, 90), st.integers(1, 90))
def test_an_envelope_is_silent_at_its_end_and_not_long_before_a_cut_off_has_died_away(
    hold: int, choke: int, release: int, cut_off: int
) -> None:
    envelope = Envelope(0, 1, 1000, 10, 0.0, release, cut_off)
    first = min(hold, choke or hold)
    end = envelope.end(hold, choke)
    lines = envelope.ramp(hold, choke, 1024).lines
    assert len(lines) == end + 1 - first
    assert lines[-1, 1] == 0
    assert end >= (hold + release if not 0 < choke < hold + release else choke)


def test_a_slow_cut_off_in_a_quick_release_fades_on() -> None:
    envelope = Envelope(0, 1, 0, 0, 1.0, release=70, choke=218)
    lines = envelope.ramp(100, 110, 300).lines
    # Ten blocks of release, then 96 dB in 218 blocks instead of 70.
    decibels = 20 * np.log10(lines[[9, 69], 1])
    assert decibels == pytest.approx([-96 * 10 / 70, -96 * (10 / 70 + 60 / 218)], abs=0.11)


def test_a_note_ends_where_nothing_is_heard_any_more() -> None:
    note = Held.of(np.full((2, 6400), 0.01, np.float32), 100, Envelope(0, 1, 1000, 10, 0.0, 50, 5))
    released = note.released(10, 0, (1.0, 1.0))
    last = released.sounding()[0, -BLOCK_SAMPLES:]
    assert released.frames < 60 * BLOCK_SAMPLES
    assert SILENCE / 3 < np.abs(last).max() < SILENCE * 2


def test_a_note_without_an_envelope_sounds_as_it_is() -> None:
    planes = np.ones((2, 640), np.float32)
    assert Held.of(planes, 10, None).released(3, 0, (1.0, 1.0)).frames == 640
    assert np.array_equal(Note.whole(planes).sounding(), planes)
