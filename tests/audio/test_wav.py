from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.audio import Marker, Sound, write_audio
from genex.audio.wav import quantised


def noise(frames: int = 5001, rate_hz: int = 48_000) -> Sound:
    samples = np.random.RandomState(frames).uniform(-1, 1, (frames, 2)).astype(np.float32)
    return Sound(samples, rate_hz)


def chunks(data: bytes) -> dict[str, bytes]:
    """The chunks of a RIFF file, read after the specification: layouts.md [published]."""
    riff, size, form = struct.unpack("<4sI4s", data[:12])
    assert (riff, form, size) == (b"RIFF", b"WAVE", len(data) - 8)
    found, at = {}, 12
    while at < len(data):
        name, length = struct.unpack("<4sI", data[at : at + 8])
        body = data[at + 8 : at + 8 + length]
        assert len(body) == length
        kind = name.decode() + (":" + body[:4].decode() if name == b"LIST" else "")
        found[kind] = body
        at += 8 + length + length % 2
    return found


MARKERS = [Marker(0, "bar 1 | Gm7"), Marker(1000, "C7"), Marker(2400, "bar 2 | F♯ø")]


def test_a_loop_file_has_loop_points_markers_and_labels(tmp_path: Path) -> None:
    path = tmp_path / "loop.wav"
    write_audio(path, noise(), markers=MARKERS, loop=True, tags={"title": "Rain", "key": "G minor"})
    found = chunks(path.read_bytes())
    assert struct.unpack("<HHIIHH", found["fmt "]) == (1, 2, 48_000, 288_000, 6, 24)
    assert len(found["data"]) == 5001 * 6
    smpl = struct.unpack("<15I", found["smpl"])
    assert smpl[:9] == (0, 0, 20_833, 60, 0, 0, 0, 1, 0)
    assert smpl[9:] == (0, 0, 0, 5000, 0, 0)  # the end is inclusive
    count = struct.unpack("<I", found["cue "][:4])[0]
    points = [struct.unpack("<II4sIII", found["cue "][4 + 24 * n : 28 + 24 * n]) for n in range(count)]
    assert points == [(n + 1, m.sample, b"data", 0, 0, m.sample) for n, m in enumerate(MARKERS)]
    labels = found["LIST:adtl"]
    for number, marker in enumerate(MARKERS, 1):
        text = marker.label.encode() + b"\0"
        assert b"labl" + struct.pack("<II", 4 + len(text), number) + text in labels
    assert b"INAM\x05\0\0\0Rain\0" in found["LIST:INFO"]
    assert b"key: G minor\0" in found["LIST:INFO"]


def test_an_independent_reader_sees_the_same_loop(tmp_path: Path) -> None:
    """libsndfile through soundfile [package: soundfile 0.13]: length, format, samples."""
    path = tmp_path / "loop.wav"
    write_audio(path, noise(), markers=MARKERS, loop=True, tags={"title": "Rain"})
    with soundfile.SoundFile(path) as file:
        assert (file.samplerate, file.channels, file.subtype, file.frames) == (48_000, 2, "PCM_24", 5001)
        read = file.read(dtype="float32")
        assert file.title == "Rain"
    assert np.abs(read - noise().samples).max() <= 2.0**-24 + 1e-7


@pytest.mark.parametrize(("fmt", "step"), [("wav24", 2.0**-23), ("wav32f", 0.0)])
def test_samples_are_rounded_to_the_nearest_step(tmp_path: Path, fmt: str, step: float) -> None:
    path = tmp_path / "sound.wav"
    write_audio(path, noise(70_003), fmt)
    read, _ = soundfile.read(path, dtype="float64")
    assert np.abs(read - noise(70_003).samples).max() <= step / 2 + 1e-7 * (step > 0) + step / 2 * (
        step > 1e-5
    )


def test_16_bits_are_dithered(tmp_path: Path) -> None:
    """A tone of a third of a step is kept, and the error knows nothing of it."""
    wave = np.sin(2 * np.pi * 1000 * np.arange(480_000) / 48_000) / 3
    path = tmp_path / "soft.wav"
    write_audio(
        path, Sound((np.stack((wave, wave), axis=1) / 32_768).astype(np.float32), 48_000), "wav16"
    )
    read, _ = soundfile.read(path, dtype="int16")
    error = read - wave[:, None]
    assert (error * wave[:, None]).mean() / (wave**2).mean() == pytest.approx(0, abs=0.02)
    # A step's own twelfth and the dither's sixth [published: Lipshitz et al. 1992].
    assert (error**2).mean() == pytest.approx(1 / 4, rel=0.02)
    assert abs((error[:, 0] * error[:, 1]).mean()) < 0.01


def test_a_plain_file_has_no_loop_points(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    write_audio(path, noise())
    assert set(chunks(path.read_bytes())) == {"fmt ", "data"}


def test_the_same_sound_is_the_same_file(tmp_path: Path) -> None:
    for name in ("a.wav", "b.wav"):
        write_audio(tmp_path / name, noise(), markers=MARKERS, loop=True, tags={"title": "Rain"})
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()


@settings(max_examples=50)
@given(st.lists(st.floats(-4, 4, width=32), min_size=1, max_size=9), st.sampled_from([16, 24]))
def test_quantising_rounds_and_never_wraps_round(values: list[float], bits: int) -> None:
    planes = np.array([values, values], np.float32)
    full = 1 << (bits - 1)
    expected = [
        min(full - 1, max(-full, float(np.rint(np.float32(v) * np.float32(full))))) for v in values
    ]
    assert quantised(planes, bits)[0].tolist() == expected


@settings(max_examples=20)
@given(st.integers(0, 40))
def test_packing_of_24_bits_is_that_of_any_length(frames: int) -> None:
    from genex.audio.wav import _encoded

    planes = noise(frames).planes
    packed = bytes(_encoded(planes, 24, False))
    plain = io.BytesIO()
    for frame in quantised(planes, 24).T:
        for value in frame:
            plain.write(int(value).to_bytes(3, "little", signed=True))
    assert packed == plain.getvalue()


def test_tags_with_a_nul_or_odd_length_keep_the_file_whole(tmp_path: Path) -> None:
    path = tmp_path / "odd.wav"
    write_audio(
        path, noise(3), "wav24", tags={"title": "a\0b", "comment": "odd"}, markers=[Marker(0, "")]
    )
    assert b"a b\0" in chunks(path.read_bytes())["LIST:INFO"]
