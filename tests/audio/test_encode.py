from __future__ import annotations

import hashlib
import io
import struct
from pathlib import Path
from typing import Any

import mutagen
import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.audio import FORMATS, Marker, Sound, master, rewrite_audio, true_peak_dbtp, write_audio
from genex.audio.mp3 import trim_mp3
from genex.audio.ogg import pages, trimmed_opus
from genex.audio.tags import id3_key
from genex.errors import InputError

TAGS = {"title": "Rain", "key": "G minor", "tempo": "97"}


def chord(frames: int, rate_hz: int = 48_000) -> Sound:
    """Tones that close on themselves: a loop without a seam of its own."""
    time = np.arange(frames) / frames
    sides = [
        sum(
            np.sin(2 * np.pi * round(hertz * frames / rate_hz) * time + phase)
            for hertz in (220, 277, 660)
        )
        for phase in (0.3, 1.9)
    ]
    return Sound((0.2 * np.stack(sides, axis=1)).astype(np.float32), rate_hz)


def read(path: Path) -> np.ndarray:
    samples, _ = soundfile.read(path, dtype="float32")
    return np.asarray(samples)


def bend_at_seam(samples: np.ndarray) -> tuple[float, float]:
    """Second difference across the seam, and the largest inside."""
    wrapped = np.concatenate((samples[-2:], samples[:2]))
    return tuple(float(np.abs(np.diff(s, n=2, axis=0)).max()) for s in (wrapped, samples))  # type: ignore[return-value]


@pytest.mark.parametrize("fmt", FORMATS)
@pytest.mark.parametrize("frames", [48_123, 90_001])
def test_every_format_decodes_to_the_exact_length_without_a_seam(
    tmp_path: Path, fmt: str, frames: int
) -> None:
    sound = chord(frames)
    written = write_audio(tmp_path / "loop", sound, fmt, TAGS, loop=True)
    decoded = read(tmp_path / "loop")
    assert written.format is FORMATS[fmt]
    assert len(decoded) == frames
    coding_noise = float(np.abs(decoded - sound.samples)[5000:-5000].max())
    assert coding_noise < 0.02
    assert np.abs(decoded - sound.samples).max() <= 1.5 * coding_noise + 1e-6  # at the ends no worse
    at_seam, inside = bend_at_seam(decoded)
    assert at_seam <= inside + 2 * coding_noise


@pytest.mark.parametrize("fmt", ["flac", "mp3", "ogg"])
def test_the_lower_rate_is_exact_too(tmp_path: Path, fmt: str) -> None:
    write_audio(tmp_path / "loop", chord(44_321, 44_100), fmt, loop=True)
    with soundfile.SoundFile(tmp_path / "loop") as file:
        assert (file.samplerate, file.frames) == (44_100, 44_321)


def test_flac_keeps_every_one_of_its_24_bits(tmp_path: Path) -> None:
    sound = chord(5000)
    write_audio(tmp_path / "a.flac", sound, "flac")
    write_audio(tmp_path / "a.wav", sound, "wav24")
    assert np.array_equal(read(tmp_path / "a.flac"), read(tmp_path / "a.wav"))


@pytest.mark.parametrize("fmt", FORMATS)
def test_the_same_sound_is_the_same_file(tmp_path: Path, fmt: str) -> None:
    for name in ("a", "b"):
        write_audio(tmp_path / name, chord(30_000), fmt, TAGS, loop=True)
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()


@pytest.mark.parametrize("fmt", FORMATS)
def test_tags_can_be_read_back(tmp_path: Path, fmt: str) -> None:
    """By libsndfile [package: soundfile 0.13] and mutagen [package: mutagen 1.47]."""
    path = tmp_path / f"loop{FORMATS[fmt].suffix}"
    write_audio(path, chord(9000), fmt, TAGS)
    if fmt == "mp3":
        frames = mutagen.File(path).tags
        assert (frames["TIT2"], frames["TKEY"], frames["TBPM"]) == ("Rain", "Gm", "97")
        return
    with soundfile.SoundFile(path) as file:
        assert file.title == "Rain"
    if fmt.startswith("wav"):
        assert soundfile.SoundFile(path).comment == "key: G minor; tempo: 97"
    else:
        assert mutagen.File(path).tags["KEY"] == ["G minor"]
        assert mutagen.File(path).tags["BPM"] == ["97"]


CHAPTERS = [Marker(0, "A"), Marker(30_000, "Bridge"), Marker(60_123, "A, chorus 2")]


def test_flac_has_a_cue_sheet(tmp_path: Path) -> None:
    """A track a chapter and the lead-out [published: RFC 9639, section 8.7; package: mutagen 1.47]."""
    path = tmp_path / "loop.flac"
    write_audio(path, chord(90_001), "flac", TAGS, chapters=CHAPTERS)
    sheet = mutagen.File(path).cuesheet
    tracks = [(track.start_offset, track.track_number, len(track.indexes)) for track in sheet.tracks]
    assert tracks == [(0, 1, 1), (30_000, 2, 1), (60_123, 3, 1), (90_001, 255, 0)]
    assert not sheet.compact_disc and sheet.lead_in_samples == 0
    assert len(read(path)) == 90_001


def test_mp3_has_chapter_frames(tmp_path: Path) -> None:
    """[published: ID3v2 Chapter Frame Addendum 1.0; package: mutagen 1.47]"""
    path = tmp_path / "loop.mp3"
    write_audio(path, chord(90_001), "mp3", TAGS, chapters=CHAPTERS)
    tags = mutagen.File(path).tags
    assert tags["CTOC:toc"].child_element_ids == ["ch0", "ch1", "ch2"]
    chapters = [tags[f"CHAP:ch{number}"] for number in range(3)]
    assert [(c.start_time, c.end_time) for c in chapters] == [(0, 625), (625, 1252), (1252, 1875)]
    assert [str(c.sub_frames["TIT2"]) for c in chapters] == ["A", "Bridge", "A, chorus 2"]


@pytest.mark.parametrize("fmt", FORMATS)
def test_other_tags_around_a_sound_are_as_if_it_had_been_written_with_them(
    tmp_path: Path, fmt: str
) -> None:
    def write(path: Path, **how: Any) -> None:
        write_audio(path, chord(20_001), fmt, **how)

    bare: dict[str, Any] = {"loop": True}
    few: dict[str, Any] = {"loop": True, "tags": TAGS, "markers": CHAPTERS[:1], "chapters": CHAPTERS[:1]}
    many = few | {"tags": TAGS | {"title": "Snow " * 3000}, "markers": CHAPTERS, "chapters": CHAPTERS}
    for number, how in enumerate((bare, few, many)):
        write(tmp_path / str(number), **how)
    for source, how, target in ((0, few, 1), (1, many, 2), (2, few, 1), (2, bare, 0)):
        digest = rewrite_audio(tmp_path / str(source), tmp_path / "new", 20_001, 48_000, fmt, **how)
        made = (tmp_path / "new").read_bytes()
        assert made == (tmp_path / str(target)).read_bytes()
        assert digest == hashlib.sha256(made).hexdigest()


def test_what_is_no_such_sound_is_not_rewritten(tmp_path: Path) -> None:
    source = tmp_path / "other"
    source.write_bytes(b"RIFF0000WAVE" + bytes(60))
    for fmt in ("wav24", "flac", "ogg"):
        with pytest.raises(ValueError, match="not a"):
            rewrite_audio(source, tmp_path / "new", 501, 48_000, fmt)
    write_audio(source, chord(501))
    source.write_bytes(source.read_bytes()[:2000])
    with pytest.raises(ValueError, match="ends too early"):
        rewrite_audio(source, tmp_path / "new", 501, 48_000)
    for fmt in ("flac", "ogg"):
        write_audio(source, chord(501), fmt)
        whole = source.read_bytes()
        for size in (0, 4, 44):  # somebody else is just writing it
            source.write_bytes(whole[:size])
            with pytest.raises(ValueError, match=r"not a|ends too early"):
                rewrite_audio(source, tmp_path / "new", 501, 48_000, fmt)


@pytest.mark.parametrize("fmt", ["ogg", "opus"])
@pytest.mark.parametrize("count", [1, 3, 400])
def test_ogg_has_chapters_as_comments(tmp_path: Path, fmt: str, count: int) -> None:
    """Many of them make the header longer than a page [package: mutagen 1.47]."""
    path = tmp_path / f"loop.{fmt}"
    chapters = [Marker(number * 200, "long name " * 20) for number in range(count)]
    write_audio(path, chord(90_001), fmt, TAGS, chapters=chapters)
    tags = mutagen.File(path).tags
    assert tags["CHAPTER000"] == ["00:00:00.000"]
    names = [name for name, _ in tags if name.lower().endswith("name")]
    assert len(names) == min(count, 200)  # of 400 every second
    assert len(read(path)) == 90_001


@pytest.mark.parametrize("frames", [100, 48_000, 90_001, 143_999])
def test_only_the_last_opus_packet_is_cut_short(tmp_path: Path, frames: int) -> None:
    """[published: RFC 7845, section 4.4]: at 20 ms a packet."""
    write_audio(tmp_path / "a", chord(frames), "opus", loop=True)
    with (tmp_path / "a").open("rb") as file:
        found = list(pages(file))[2:]
    packets = sum(sum(size < 255 for size in page.body[1 : page.body[0] + 1]) for page in found)
    assert 0 <= packets * 960 - found[-1].granule < 960


@pytest.mark.parametrize("fmt", ["mp3", "ogg", "opus"])
@pytest.mark.parametrize("loop", [True, False])
def test_what_is_decoded_stays_under_the_ceiling(tmp_path: Path, fmt: str, loop: bool) -> None:
    noise = np.random.RandomState(5).standard_normal((96_000, 2))
    noise *= np.exp(-(np.arange(96_000) % 12_000) / 3000)[:, None]
    mastered, _ = master(Sound((noise * 0.2).astype(np.float32), 48_000), -9.0, loop=loop)
    write_audio(tmp_path / "free", mastered, fmt, loop=loop)
    free = true_peak_dbtp(Sound(read(tmp_path / "free"), 48_000), loop=loop)
    written = write_audio(tmp_path / "held", mastered, fmt, loop=loop, ceiling_dbtp=-1.0)
    held = true_peak_dbtp(Sound(read(tmp_path / "held"), 48_000), loop=loop)
    assert free is not None and held is not None
    assert free > -1.0 >= held
    assert written.true_peak_dbtp == pytest.approx(held, abs=0.01)


@pytest.mark.parametrize(
    ("key", "written"),
    [("C major", "C"), ("Bb minor", "Bbm"), ("F# dorian", "F#m"), ("Eb mixolydian", "Eb"), ("?", "o")],
)
def test_a_key_in_three_characters(key: str, written: str) -> None:
    """[published: ID3v2.4.0 native frames, TKEY]"""
    assert id3_key(key) == written


@pytest.mark.parametrize("fmt", FORMATS)
def test_a_take_is_not_wrapped_round(tmp_path: Path, fmt: str) -> None:
    silent_start = chord(48_000)
    silent_start.samples[:24_000] = 0
    write_audio(tmp_path / "take", silent_start, fmt)
    decoded = read(tmp_path / "take")
    assert len(decoded) == 48_000
    assert np.abs(decoded[:12_000]).max() < 1e-3


def test_a_minute_as_vorbis_does_not_fill_the_stack(tmp_path: Path) -> None:
    """More than 8 MB of it were taken, and the process ended."""
    frames = 2_900_000
    quiet = Sound(np.zeros((frames, 2), np.float32), 48_000)
    write_audio(tmp_path / "a.ogg", quiet, "ogg", loop=True)
    assert soundfile.info(tmp_path / "a.ogg").frames == frames


def test_opus_has_one_sample_rate_only(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="48000 samples a second, not 44100"):
        write_audio(tmp_path / "a.opus", chord(5000, 44_100), "opus")


def test_an_unknown_format_is_answered_with_those_there_are(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="'wma' is not an audio format") as caught:
        write_audio(tmp_path / "a", chord(5000), "wma")
    assert "mp3" in str(caught.value)


def checksum(page: bytes) -> int:
    """The page checksum bit by bit, after RFC 3533 [published]."""
    state = 0
    for byte in page:
        state ^= byte << 24
        for _ in range(8):
            state = ((state << 1) ^ (0x04C11DB7 if state & 0x8000_0000 else 0)) & 0xFFFF_FFFF
    return state


@settings(max_examples=20)
@given(st.binary(max_size=300), st.integers(0, 2**40))
def test_rewritten_pages_have_right_checksums(payload: bytes, granule: int) -> None:
    table = [255] * (len(payload) // 255) + [len(payload) % 255]
    head = struct.pack("<4sBBqIIIB", b"OggS", 0, 2, granule, 123, 0, 0, len(table))
    page = b"".join(page.whole() for page in pages(io.BytesIO(head + bytes(table) + payload)))
    assert int.from_bytes(page[22:26], "little") == checksum(page[:22] + bytes(4) + page[26:])
    assert page[27:] == bytes(table) + payload
    assert [again.whole() for again in pages(io.BytesIO(page))] == [page]


def test_what_is_no_opus_stream_is_refused() -> None:
    with pytest.raises(ValueError, match="not an Ogg stream"):
        list(pages(io.BytesIO(b"RIFF" + bytes(60))))
    page = struct.pack("<4sBBqIIIB", b"OggS", 0, 2, 0, 1, 0, 0, 1) + bytes([20]) + bytes(20)
    with pytest.raises(ValueError, match="not an Opus stream"):
        list(trimmed_opus(pages(io.BytesIO(page)), 0, 1))


def test_an_mp3_without_the_tag_is_refused() -> None:
    with pytest.raises(ValueError, match="no LAME tag"):
        trim_mp3(io.BytesIO(b"\xff\xfb" + bytes(500)), 1, 1)
