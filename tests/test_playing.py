"""A lesson played aloud: a stub in place of the library that knows sound devices."""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

import genex as face
from genex import playing
from genex.publishing.listening import Choice, Listening, Turning

RECIPE = "title: Rain\nchords: {chords}\ntempo: 240\nexercise: arpeggio\noutputs: tab\n"


class Device:
    """A library with an output that is heard block by block."""

    class PortAudioError(Exception):
        pass

    def __init__(self, fault: str = "") -> None:
        self.fault, self.streams = fault, []

    def OutputStream(self, **how: Any) -> Any:
        if self.fault:
            raise self.PortAudioError(self.fault)
        stream = SimpleNamespace(how=how, started=False, closed=False)
        stream.start = lambda: setattr(stream, "started", True)
        stream.close = lambda: setattr(stream, "closed", True)
        self.streams.append(stream)
        return stream

    def heard(self, frames: int) -> np.ndarray:
        out = np.empty((frames, 2), np.float32)
        self.streams[-1].how["callback"](out, frames, None, None)
        return out


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> Device:
    found = Device()
    monkeypatch.setitem(sys.modules, "sounddevice", found)
    return found


def rounds(monkeypatch: pytest.MonkeyPatch, *steps: Any) -> None:
    """In place of waiting: each step in turn, then what Ctrl-C does while it waits."""
    left = iter(steps)

    def wait(self: Listening) -> Any:
        for step in left:
            step()
            if found := self._saved():
                return found
        return {}

    monkeypatch.setattr(Listening, "_wait", wait)


def test_the_loop_sounds_and_a_saved_one_goes_on_where_it_is(genex, tmp_path, monkeypatch, device):
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE.format(chords="Gm7 | C7 |"))
    blocks = []

    def save(text: str) -> Any:
        def step() -> None:
            blocks.append(device.heard(24_000))
            path.write_text(text)

        return step

    rounds(
        monkeypatch,
        save(RECIPE.format(chords="Gm7 | F7 |")),
        save("chords: Hm"),
        lambda: blocks.append(device.heard(96_000)),
    )
    answer = genex("play", path)
    assert answer.code == 0 and "Rain: F major at 240, 2 bars, 0:02.0 a pass" in answer.out
    assert "s (rain.yaml was saved)" in answer.out
    assert "not a chord symbol" in answer.err and "goes on sounding" in answer.err
    (stream,) = device.streams
    assert stream.started and stream.closed
    assert stream.how["samplerate"] == 48_000 and stream.how["channels"] == 2

    first, second = (
        face.render_score(face.compose_recipe(face.parse_recipe(RECIPE.format(chords=chords))).score)
        for chords in ("Gm7 | C7 |", "Gm7 | F7 |")
    )
    assert np.array_equal(blocks[0], first[:24_000])
    assert np.array_equal(blocks[1][960:], second[24_960:48_000])
    assert np.array_equal(blocks[2], np.concatenate([second[48_000:], second[:48_000]]))


def test_a_key_and_a_tempo_of_its_own(genex, tmp_path, monkeypatch, device):
    """As ``genex build`` makes that version; what is saved is heard in it too."""
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE.format(chords="Gm7 | C7 |"))
    blocks = []

    def save() -> None:
        blocks.append(device.heard(144_000))
        path.write_text(RECIPE.format(chords="Gm7 | F7 |"))

    rounds(monkeypatch, save, lambda: blocks.append(device.heard(144_000)))
    answer = genex("play", path, "--key", "Eb", "--tempo", 160)
    assert answer.code == 0 and "Rain: Eb major at 160, 2 bars, 0:03.0 a pass" in answer.out
    for block, chords in zip(blocks, ("Gm7 | C7 |", "Gm7 | F7 |"), strict=True):
        recipe = face.parse_recipe(RECIPE.format(chords=chords))
        piece = face.compose_recipe(recipe, key="Eb", tempo=160)
        assert np.array_equal(block[960:], face.render_score(piece.score)[960:])


EXERCISES = (
    "title: Two\nchords: Gm7 | C7 |\ntempo: 240\noutputs: handout\nexercises:\n"
    "  - {title: Low, exercise: {kind: arpeggio, position: 3}}\n"
    "  - {title: High, exercise: {kind: arpeggio, position: 8}}\n"
)


@pytest.mark.parametrize(
    ("text", "words", "said"),
    [
        (EXERCISES, ["--exercise", 3], "there is no exercise 3"),
        (RECIPE.format(chords="Gm7 | C7 |"), ["--exercise", 2], "it has only one"),
        (RECIPE.format(chords="Gm7 | C7 |"), ["--key", "H"], "'H'"),
        (RECIPE.format(chords="Gm7 | C7 |"), ["--key", "C minor"], "write C major"),
        (RECIPE.format(chords="Gm7 | C7 |"), ["--tempo", 5], "the tempo 5 is out of range"),
        (
            RECIPE.format(chords="C |") + "tempo_steps: {start: 200, end: 240, step: 20}\n",
            ["--tempo", 100],
            "step by step",
        ),
    ],
)
def test_what_cannot_be_chosen(genex, tmp_path, device, text, words, said):
    path = tmp_path / "rain.yaml"
    path.write_text(text)
    answer = genex("play", path, *words)
    assert answer.code == 2 and said in answer.err and not device.streams


def test_one_of_several_exercises(tmp_path):
    path = tmp_path / "two.yaml"
    path.write_text(EXERCISES)
    for number, title in ((None, "Low"), (1, "Low"), (2, "High")):
        recipe, version = Choice(exercise=number).of(face.read_recipe(path))
        assert recipe.title == title and version == recipe.versions[0]


def test_another_length_is_entered_at_the_same_share_and_without_a_click():
    one = np.full((1_000, 2), 0.5, np.float32)
    other = np.tile(np.linspace(-0.5, 0.5, 2_000, dtype=np.float32)[:, np.newaxis], (1, 2))
    turning = Turning(one, 1_000)
    out = np.empty((500, 2), np.float32)
    turning.fill(out)
    turning.exchange(other)
    turning.fill(out)
    assert np.array_equal(out[20:], other[1_020:1_500])  # half of it, after a fade of 20 ms
    assert np.abs(np.diff(out[:, 0], prepend=np.float32(0.5))).max() < 0.06
    turning.fill(out)
    turning.fill(out)
    assert np.array_equal(out, other[:500])


def test_what_is_missing_is_told(genex, tmp_path, monkeypatch):
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE.format(chords="Gm7 | C7 |"))
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    answer = genex("play", path)
    assert answer.code == 1 and "pip install 'genex[play]'" in answer.err

    def no_library(name: str) -> Any:
        raise OSError("PortAudio library not found")

    with monkeypatch.context() as patch:
        patch.setattr(playing.importlib, "import_module", no_library)
        answer = genex("play", path)
    assert answer.code == 1 and "libportaudio2" in answer.err
    monkeypatch.setitem(sys.modules, "sounddevice", Device("Error querying device -1"))
    answer = genex("play", path)
    assert answer.code == 1 and "no sound can be played on this machine: Error querying" in answer.err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("chords: Hm", "not a chord symbol"),
        ("title: Many\nlessons: [rain.yaml]\n", "is a series of lessons"),
        ("chords: C |\nform: x\n", "form"),
    ],
)
def test_what_cannot_be_played_at_first_ends_it(genex, tmp_path, device, text, said):
    (tmp_path / "rain.yaml").write_text(RECIPE.format(chords="Gm7 | C7 |"))
    path: Path = tmp_path / "bad.yaml"
    path.write_text(text)
    answer = genex("play", path)
    assert answer.code == 2 and said in answer.err and not device.streams


def test_a_very_long_loop_is_refused(genex, tmp_path, device, monkeypatch):
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE.format(chords="Gm7 | C7 |"))
    monkeypatch.setattr("genex.publishing.listening.LONGEST_SECONDS", 1)
    answer = genex("play", path)
    assert answer.code == 2 and "too long to be played" in answer.err
