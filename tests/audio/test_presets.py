"""The reader of presets against the synthesizer, which reads the same file by itself."""

from __future__ import annotations

import numpy as np
import pytest

from genex.audio import Soundfont
from genex.audio.presets import Presets
from genex.audio.timing import Strike
from genex.errors import SoundfontError
from genex.resources import default_soundfont

MELODIC = (0, 4, 11, 16, 24, 25, 26, 27, 29, 32, 33, 35, 48, 65, 66, 71, 73, 89)
KITS = (0, 8, 32, 40)


@pytest.fixture(scope="module")
def presets() -> Presets:
    return Presets(default_soundfont())


def voices_of(soundfont: Soundfont, *, kit: bool, program: int, key: int, velocity: int) -> list:
    """The synthesizer's own voices of a note-on, as functions from a generator to its value."""
    soundfont._select(0, kit=kit, program=program)
    soundfont._player.noteon(0, key, velocity)
    return soundfont._voices().get(0, [])


@pytest.mark.parametrize(("kit", "program"), [(False, p) for p in MELODIC] + [(True, k) for k in KITS])
def test_voices_and_generators_are_those_that_the_synthesizer_reads(
    presets: Presets, soundfont: Soundfont, kit: bool, program: int
) -> None:
    # [package: libfluidsynth of pygame-ce] Offsets, loops, filter, envelopes, place, level, tuning.
    compared = (8, 9, 11, 13, 17, 21, 22, 25, 26, 28, 29, 30, 33, 34, 35, 36, 37, 38, 51, 52, 54, 56)
    for key in (40, 55, 69) if not kit else (36, 38, 42, 51):
        for velocity in (40, 100):
            theirs = voices_of(soundfont, kit=kit, program=program, key=key, velocity=velocity)
            ours = [v for v in presets.voices(program, kit=kit) if v.sounds(key, velocity)]
            read = sorted(tuple(round(voice(number)) for number in compared) for voice in theirs)
            assert sorted(tuple(v.value(n) for n in compared) for v in ours) == read
            soundfont._silence()


def test_a_recording_played_at_its_own_pitch_is_what_the_synthesizer_plays(
    presets: Presets, soundfont: Soundfont
) -> None:
    voice = next(v for v in presets.voices(32, kit=False) if v.sounds(43, 100))
    (_, planes) = next(iter(soundfont.render([Strike(False, 32, 43, 100, 200)])))
    samples = presets.samples(voice.recording)[voice.start :]
    rate = 2 ** (voice.cents(43) / 1200) * voice.recording.rate_hz / 48_000
    frames = np.arange(9600)
    again = np.interp(frames * rate, np.arange(len(samples)), samples)
    heard = planes.sum(axis=0)[: len(frames)]
    assert np.corrcoef(again, heard)[0, 1] > 0.99


def test_a_missing_program_is_played_by_its_neighbour_as_the_synthesizer_does(presets: Presets) -> None:
    assert presets.voices(34, kit=False) == presets.voices(33, kit=False)
    assert presets.voices(127, kit=True) == presets.voices(0, kit=True)


def test_a_family_that_is_missing_is_told(presets: Presets) -> None:
    with pytest.raises(SoundfontError, match="no sound for program 100"):
        presets.voices(100, kit=False)


def test_a_file_without_its_tables_is_refused(tmp_path) -> None:
    path = tmp_path / "empty.sf2"
    path.write_bytes(b"RIFF\x04\x00\x00\x00sfbk")
    with pytest.raises(SoundfontError):
        Presets(path)
