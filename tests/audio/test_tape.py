"""Long sounds lie in files: the same samples, and no more memory for more of them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from genex.audio import encode, loudness, mastering, tape
from genex.audio.encode import FORMATS, write_audio
from genex.audio.mastering import master
from genex.audio.mix import Track, mix_down
from genex.audio.sound import Sound, in_turn
from genex.score import Mix
from tests.audio.material import both, sine

FRAMES = 60_000


def made(folder: Path, *, loop: bool) -> dict[str, bytes]:
    """A mix with its room, limited, and written in every format."""
    from genex.audio.held import Note

    noise = np.random.RandomState(3).standard_normal((2, 9000)).astype(np.float32) * 0.3
    note = Note.whole(noise * np.linspace(1, 0, 9000, dtype=np.float32))
    track = Track(Mix(level_db=0.0, pan=0.3, room=0.4), [(at, note) for at in range(100, FRAMES, 7001)])
    once = mix_down([track], FRAMES, 48_000, wrap=loop)
    sound, measured = master(once.repeated(2), -9.0, loop=loop)
    assert measured.limited_db > 1
    found = {}
    for fmt in FORMATS:
        copy = Sound.of_planes(sound.planes.copy(), sound.rate_hz)
        write_audio(folder / fmt, copy, fmt, {"title": "x"}, loop=loop, ceiling_dbtp=-1.0)
        found[fmt] = (folder / fmt).read_bytes()
    return found


@pytest.mark.parametrize("loop", [True, False])
def test_a_sound_in_a_file_is_the_sound_in_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, loop: bool
) -> None:
    usual = made(tmp_path, loop=loop)
    for room in (tape, loudness):
        monkeypatch.setattr(room, "LONG_FRAMES", 1000)
    for room, name in ((encode, "_BLOCK_FRAMES"), (mastering, "_FRAMES_AT_ONCE")):
        assert getattr(room, name) > FRAMES
        monkeypatch.setattr(room, name, 1 << 15)
    monkeypatch.setattr(tape.stretches, "__defaults__", (1 << 16,))
    with tape.long_sounds_in(tmp_path):
        assert isinstance(tape.blank(1001).base, tape._Mapped)
        assert made(tmp_path, loop=loop) == usual


def test_sounds_in_turn_lie_where_it_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sounds = [both(sine(440, -6, seconds)) for seconds in (0.1, 0.3)]
    monkeypatch.setattr(tape, "LONG_FRAMES", 1000)
    with tape.long_sounds_in(tmp_path):
        whole, starts = in_turn(sounds, 500)
    lengths = [sound.length_samples for sound in sounds]
    assert starts == (500, 1000 + lengths[0]) and whole.length_samples == 1000 + sum(lengths)
    for sound, start in zip(sounds, starts, strict=True):
        assert not whole.samples[start - 500 : start].any()
        assert np.array_equal(whole.samples[start : start + sound.length_samples], sound.samples)


def test_stretches_change_no_loudness(monkeypatch: pytest.MonkeyPatch) -> None:
    noise = np.random.RandomState(8).standard_normal((2, 48_000 * 150 + 777)).astype(np.float32) * 0.1
    sound = Sound.of_planes(noise, 48_000)
    found = loudness.LoudnessMeter(sound, loop=True)._energies
    monkeypatch.setattr(loudness, "_HOPS_AT_ONCE", 1 << 20)
    assert np.array_equal(found, loudness.LoudnessMeter(sound, loop=True)._energies)


def test_very_many_peaks_are_held_piece_by_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    loud = Sound.of_planes(np.stack([sine(300, 0, 2)] * 2), 48_000)
    monkeypatch.setattr(mastering, "_BLOCKS_AT_ONCE", 50)
    monkeypatch.setattr(mastering, "_FRAMES_AT_ONCE", 10_000)
    mastering.held_under(-6.0, loud, loop=True)
    peak = loudness.true_peak_dbtp(loud, loop=True)
    assert peak is not None and -7.0 < peak <= -6.0


def test_no_file_is_left_and_none_has_a_name(tmp_path: Path) -> None:
    with tape.long_sounds_in(tmp_path):
        planes = tape.blank(tape.LONG_FRAMES + 1)
        planes[:, ::100_000] = 1
        assert not list(tmp_path.iterdir())
    assert planes[:, ::100_000].all()


def test_a_full_disk_is_told_before_anything_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "posix_fallocate", full, raising=False)
    with tape.long_sounds_in(tmp_path), pytest.raises(tape.TapeError) as caught:
        tape.blank(tape.LONG_FRAMES + 1)
    assert caught.value.errno == 28


_MASTERED = """
import resource, sys
from pathlib import Path
import numpy as np
from genex.audio import master, write_audio
from genex.audio.sound import Sound, in_turn
from genex.audio.tape import long_sounds_in
noise = np.random.RandomState(1).standard_normal((2, 2_000_000)).astype(np.float32) * 0.05
noise[:, ::50_000] = 0.9
with long_sounds_in(Path(sys.argv[1])):
    sound, _ = master(Sound.of_planes(noise, 48_000).repeated(int(sys.argv[2])), -14.0)
    write_audio(Path(sys.argv[1]) / "a", sound, sys.argv[3], loop=True)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


@pytest.mark.parametrize("fmt", ["wav24", "flac"])
def test_memory_does_not_grow_with_length(tmp_path: Path, fmt: str) -> None:
    """From 42 seconds to 4 minutes, 80 MB of samples more: less than 40 MB of it."""

    def most_kb(times: int) -> int:
        command = [sys.executable, "-c", _MASTERED, str(tmp_path), str(times), fmt]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        return int(done.stdout)

    assert most_kb(6) - most_kb(1) < 40_000
    assert encode._BLOCK_FRAMES < tape.LONG_FRAMES
