from __future__ import annotations

import numpy as np
import pytest

from genex.audio.room import Room, tail_samples


def answer(send: np.ndarray, rate_hz: int = 48_000) -> np.ndarray:
    """Left and right of the room alone, with its tail."""
    planes = np.zeros((2, len(send) + tail_samples(rate_hz)), np.float32)
    room = Room(rate_hz, planes, wrap=False)
    room.hear(send)
    room.hear(np.zeros(tail_samples(rate_hz), np.float32))
    room.ring_out()
    return planes


def response(rate_hz: int = 48_000, at: int = 0, frames: int = 400) -> np.ndarray:
    send = np.zeros(frames, np.float32)
    send[at] = 1
    return answer(send, rate_hz)


def test_the_room_is_always_the_same_one() -> None:
    assert np.array_equal(response(), response())


def test_it_only_depends_on_time_since_the_sound() -> None:
    """Every sample position, whatever its place between the quarter-rate samples."""
    first = response(at=100)
    for later in (101, 102, 103, 250):
        moved = response(at=later)
        shift = later - 100
        difference = moved[:, shift:30_000] - first[:, : 30_000 - shift]
        assert np.abs(difference).max() < 1e-3 * np.abs(first).max()


def test_it_is_linear() -> None:
    noise = np.random.RandomState(1).standard_normal((2, 9000)).astype(np.float32)
    both = answer(noise[0] + 2 * noise[1])
    apart = answer(noise[0]) + 2 * answer(noise[1])
    assert np.allclose(both, apart, atol=1e-4)


def test_nothing_comes_back_before_the_sound() -> None:
    early = response(at=2000, frames=4000)[:, : 2000 + 200]
    assert np.abs(early).max() < 1e-3 * np.abs(response()).max()


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_it_dies_away_within_a_second(rate_hz: int) -> None:
    tail = response(rate_hz)
    energy = (tail**2).sum(axis=0)
    remaining = 10 * np.log10(energy[::-1].cumsum()[::-1] / energy.sum() + 1e-12)
    thirty_down = np.argmax(remaining < -30) / rate_hz
    assert 0.2 < thirty_down < 0.6
    assert tail.shape[1] == 400 + tail_samples(rate_hz)
    assert np.abs(tail[:, -50:]).max() < 1e-4 * np.abs(tail).max()


def test_both_sides_get_the_same_energy_but_not_the_same_sound() -> None:
    left, right = response()
    assert (left**2).sum() == pytest.approx((right**2).sum(), rel=0.35)
    assert abs(np.corrcoef(left, right)[0, 1]) < 0.6
