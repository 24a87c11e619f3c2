from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.audio import mix
from genex.audio.held import Note
from genex.audio.mix import Mixed, Shelf, Track, mix_down, pan_gains
from genex.score import Mix
from tests.audio.material import decibels

DRY = Mix(room=0.0)


@pytest.fixture(autouse=True, scope="module")
def with_all_lows() -> Iterator[None]:
    """Mixing by itself, to the sample; what is taken out below 20 Hz has its own tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(mix, "cut_lows", lambda planes, rate_hz, *, wrap: 0.0)
        yield


@given(st.floats(-1, 1), st.floats(-40, 6))
def test_panning_keeps_the_power(pan: float, level_db: float) -> None:
    left, right = pan_gains(Mix(level_db, pan))
    assert (left**2 + right**2) / 2 == pytest.approx(10 ** (level_db / 10))


def test_the_centre_is_unity_and_the_sides_are_alone() -> None:
    assert pan_gains(Mix(0.0, 0.0)) == pytest.approx((1, 1))
    assert pan_gains(Mix(0.0, -1.0)) == pytest.approx((2**0.5, 0))
    assert pan_gains(Mix(-6.0, 1.0)) == pytest.approx((0, 2**0.5 * 10 ** (-6 / 20)))


notes = st.lists(st.tuples(st.integers(-500, 1500), st.integers(0, 2500)), max_size=6)


@settings(max_examples=60)
@given(notes, st.integers(1, 900))
def test_in_a_loop_every_sample_lands_modulo_the_length(
    placed: list[tuple[int, int]], frames: int
) -> None:
    expected = np.zeros((2, frames))
    track = []
    for start, length in placed:
        planes = np.random.RandomState(length).standard_normal((2, length)).astype(np.float32)
        track.append((start, Note.whole(planes)))
        for channel in (0, 1):
            np.add.at(expected[channel], (start + np.arange(length)) % frames, planes[channel])
    mixed = mix_down([Track(DRY, track)], frames, 48_000, wrap=True)
    assert np.allclose(mixed.planes, expected, atol=1e-4)


@settings(max_examples=40)
@given(notes, st.integers(1, 900))
def test_outside_a_loop_what_does_not_fit_is_cut_off(placed: list[tuple[int, int]], frames: int) -> None:
    expected = np.zeros(frames)
    track = []
    for start, length in placed:
        track.append((start, Note.whole(np.ones((2, length), np.float32))))
        expected[max(0, start) : max(0, start + length)] += 1
    mixed = mix_down([Track(DRY, track)], frames, 48_000, wrap=False)
    assert np.allclose(mixed.planes, expected)


def test_notes_cross_the_stretches_they_are_mixed_in_without_a_trace() -> None:
    planes = np.random.RandomState(0).standard_normal((2, 100_000)).astype(np.float32)
    mixed = mix_down([Track(DRY, [(777, Note.whole(planes))])], 101_000, 48_000, wrap=False)
    assert np.array_equal(mixed.planes[:, 777:100_777], planes)


def test_the_room_of_a_loop_comes_round_to_its_start() -> None:
    click = np.ones((2, 50), np.float32)
    track = Track(Mix(room=0.5), [(30_000, Note.whole(click))])
    looped = mix_down([track], 31_000, 48_000, wrap=True).planes
    open_end = mix_down([track], 131_000, 48_000, wrap=False).planes
    folded = sum(
        np.pad(open_end, ((0, 0), (0, 24_000)))[:, n * 31_000 : (n + 1) * 31_000] for n in range(5)
    )
    assert decibels(float(np.abs(folded - looped).max())) < -110
    assert np.abs(looped[:, :20_000]).max() > 1e-4


def test_each_sound_has_its_own_gains() -> None:
    ones = np.ones((2, 10), np.float32)
    track = Track(Mix(-6.0, room=0.0), [(0, Note.whole(ones, (0.5, 0.25))), (5, Note.whole(ones))])
    level = 10 ** (-6 / 20)
    mixed = mix_down([track], 15, 48_000, wrap=False).planes
    assert np.allclose(mixed[0], [level * x for x in [0.5] * 5 + [1.5] * 5 + [1.0] * 5])
    assert np.allclose(mixed[1], [level * x for x in [0.25] * 5 + [1.25] * 5 + [1.0] * 5])


def shelved(shelf: Shelf, name: Mixed) -> np.ndarray:
    """The track, put on the shelf as by a mix that asks for it twice."""
    planes = np.zeros((2, name.frames), np.float32)
    for _ in range(2):
        if shelf.get(name) is None and shelf.wants(name, planes.nbytes):
            shelf.put(name, planes)
    return planes


def test_the_shelf_keeps_what_is_mixed_twice() -> None:
    shelf = Shelf(1 << 20)
    drums = Mixed("drums", 100, True)
    assert not shelf.wants(drums, 800)
    assert shelf.wants(drums, 800)
    assert shelved(shelf, drums) is shelf.get(drums)
    assert not shelf.wants(Mixed("bass", 100, True), 800)


def test_the_shelf_lets_the_oldest_go() -> None:
    shelf = Shelf(2 * 800)
    names = [Mixed(name, 100, True) for name in ("drums", "bass", "comping")]
    for name in names:
        shelved(shelf, name)
    assert [shelf.get(name) is not None for name in names] == [False, True, True]


def test_a_loop_in_another_tempo_makes_room_on_the_shelf() -> None:
    shelf = Shelf(1 << 20)
    loop, take, faster = Mixed("drums", 100, True), Mixed("drums", 130, False), Mixed("drums", 80, True)
    for name in (loop, take, faster):
        shelved(shelf, name)
    assert shelf.get(faster) is not None
    assert shelf.get(take) is not None
    assert shelf.get(loop) is None
