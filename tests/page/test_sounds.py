from __future__ import annotations

import base64
import io
import json

import numpy as np
import pytest
import soundfile

from genex.audio.presets import Presets
from genex.errors import SoundfontError
from genex.page.moves import shifts_of
from genex.page.sounds import PILOT_AT, mp3, preset_name, sounds_of
from genex.resources import default_soundfont
from tests.page.pages import tune

FONT = default_soundfont()


@pytest.fixture(scope="module")
def sounds() -> dict:
    return sounds_of([tune().score], FONT)


def decoded(text: str) -> tuple[np.ndarray, int]:
    samples, rate = soundfile.read(io.BytesIO(base64.b64decode(text)), dtype="float32")
    return samples, rate


def below(samples: np.ndarray, hertz: int, rate: int) -> np.ndarray:
    spectrum = np.fft.rfft(samples)
    spectrum[int(hertz * len(samples) / rate) :] = 0
    return np.fft.irfft(spectrum, len(samples))


def test_every_part_has_its_preset(sounds: dict) -> None:
    assert {preset_name(part) for part in tune().score.parts} <= set(sounds["presets"])


def test_every_strike_in_all_keys_has_a_voice_and_every_voice_a_recording(sounds: dict) -> None:
    for part in tune().score.parts:
        voices = sounds["presets"][preset_name(part)]["voices"]
        for note in part.notes:
            for key in {note.midi + shift for shift in shifts_of(part)}:
                hit = [
                    voice
                    for voice in voices
                    if voice["keys"][0] <= key <= voice["keys"][1]
                    and voice["velocities"][0] <= note.velocity <= voice["velocities"][1]
                ]
                assert hit, (part.name, key)
                assert all(voice["recording"] in sounds["recordings"] for voice in hit)


def test_recordings_are_stored_once_and_are_those_of_the_soundfont(sounds: dict) -> None:
    presets = Presets(FONT)
    for number, told in sounds["recordings"].items():
        whole = presets.samples(presets.recording(int(number)))
        heard, rate = decoded(told["data"])
        assert rate == told["rate"] == presets.recording(int(number)).rate_hz
        assert len(heard) == told["frames"] <= len(whole)
        meant = whole[: len(heard)]
        one, other = below(heard, 6_000, rate), below(meant, 6_000, rate)
        # MP3 lets much of a cymbal go, above 16 kHz all of it; what carries the pitch is there.
        assert np.corrcoef(one, other)[0, 1] > 0.95
    presets.close()


def test_all_sounds_of_five_parts_in_twelve_keys_are_under_a_megabyte(sounds: dict) -> None:
    assert len(json.dumps(sounds)) < 1_000_000


def test_a_pilot_lies_where_it_is_said_to_lie(sounds: dict) -> None:
    for text in sounds["pilots"].values():
        heard, _ = decoded(text)
        assert int(np.argmax(np.abs(heard))) == PILOT_AT


def test_loops_lie_inside_of_what_is_stored(sounds: dict) -> None:
    for preset in sounds["presets"].values():
        for voice in preset["voices"]:
            told = sounds["recordings"][voice["recording"]]
            if voice["loop"]:
                start, end = voice["loop"]
                assert 0 <= voice["at"] <= start < end <= told["frames"] / told["rate"]


def test_levels_of_keys_are_those_of_rendered_files(sounds: dict) -> None:
    assert sounds["presets"]["program 26"]["levels"]["velocities"]
    assert sounds["presets"]["kit 32"]["levels"] is None


def test_the_room_is_short_and_small(sounds: dict) -> None:
    heard, rate = decoded(sounds["room"]["data"])
    assert heard.shape[1] == 2
    assert 0.5 < len(heard) / rate < 1.2  # seconds: a furnished room
    assert len(sounds["room"]["data"]) < 40_000


def test_the_same_lesson_has_the_same_sounds(sounds: dict) -> None:
    assert sounds_of([tune().score], FONT) == sounds


def test_coding_keeps_the_length() -> None:
    # [package: libsndfile 1.2.2 with LAME's gapless tag]
    for frames in (1, 100, 1152, 5000):
        heard, _ = soundfile.read(io.BytesIO(mp3(np.zeros(frames, np.float32), 22_050)))
        assert len(heard) == frames


def test_what_is_no_soundfont_is_refused(tmp_path) -> None:
    path = tmp_path / "font.sf2"
    path.write_bytes(b"RIFF")
    with pytest.raises(SoundfontError):
        sounds_of([tune().score], path)
