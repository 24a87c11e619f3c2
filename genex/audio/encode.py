"""Sounds to files: WAVE, FLAC, MP3, Ogg Vorbis and Opus, with tags, markers and loop points.

WAVE files are written here; the others by libsndfile through soundfile. Every format decodes to
exactly the sound's length and repeats without a seam. MP3 says in its LAME tag, Opus in its
pre-skip and last granule position how much a decoder has to cut away; a player that ignores them
leaves a gap.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from genex.audio.loudness import true_peak_dbtp
from genex.audio.markers import Marker
from genex.audio.mastering import held_under
from genex.audio.mp3 import trimmed_mp3
from genex.audio.ogg import trimmed_opus, vendor_of, with_comments, with_fixed_serial
from genex.audio.sound import Samples, Sound
from genex.audio.tags import chapters_of, comment_packet, id3_tag, tagged_flac
from genex.audio.wav import quantised, write_wav
from genex.errors import InputError
from genex.lazy import lazy

if TYPE_CHECKING:
    import soundfile
else:
    soundfile = lazy("soundfile")  # WAVE does without

_OPUS_RATE_HZ = 48_000
_OPUS_BEFORE = 3840  # 80 ms, after which a decoder has settled
_OPUS_AFTER = 2 * 48_000  # at least as much as the longest page
_MP3_BEFORE = 2304  # two frames
_MP3_AFTER = 1152


@dataclass(frozen=True, slots=True)
class AudioFormat:
    """A way to store sound.

    name         what a recipe calls it
    suffix       of its files
    bits         a sample, where samples are stored as they are
    container    and ``subtype``: what libsndfile calls it; empty for WAVE
    compression  from 0 (largest file) to 1 (smallest), None where there is no choice
    """

    name: str
    suffix: str
    bits: int = 0
    is_float: bool = False
    container: str = ""
    subtype: str = ""
    compression: float | None = None


FORMATS = {
    spec.name: spec
    for spec in (
        AudioFormat("wav16", ".wav", 16),
        AudioFormat("wav24", ".wav", 24),
        AudioFormat("wav32f", ".wav", 32, is_float=True),
        AudioFormat("flac", ".flac", 24, container="FLAC", subtype="PCM_24", compression=0.6),
        AudioFormat("mp3", ".mp3", container="MP3", subtype="MPEG_LAYER_III", compression=0.1),
        AudioFormat("ogg", ".ogg", container="OGG", subtype="VORBIS", compression=0.2),
        AudioFormat("opus", ".opus", container="OGG", subtype="OPUS", compression=0.7),
    )
}

_ROUNDS = 6  # of coding anew, until what is decoded stays under the ceiling
_STEP_DB = 0.03
_MARGIN_DB = 0.1  # meters and decoders differ by up to this much


class Written(NamedTuple):
    """How a sound was stored, and the true peak of what a decoder makes of it.

    The peak is None where samples are stored as they are, or where no ceiling was asked for.
    """

    format: AudioFormat
    true_peak_dbtp: float | None = None


def write_audio(
    path: Path,
    sound: Sound,
    fmt: str = "wav24",
    tags: Mapping[str, str] | None = None,
    markers: Sequence[Marker] = (),
    *,
    chapters: Sequence[Marker] = (),
    loop: bool = False,
    ceiling_dbtp: float | None = None,
) -> Written:
    """Write a sound in one of ``FORMATS``.

    ``loop`` tells that the sound will repeat: WAVE gets loop points, and encoders that look
    beyond the ends of a sound see its other end there. WAVE has the markers, the others the
    chapters; tags that WAVE has no field for join its comment. A coder with losses may overshoot:
    with a ceiling the sound is coded until its true peak stays under that when decoded, and for
    it turned down around its peaks, where it lies. Raises InputError for an unknown format or a
    rate that it cannot have, OSError if the file cannot be written.
    """
    spec = FORMATS.get(fmt)
    if spec is None:
        raise InputError(f"'{fmt}' is not an audio format", hint=f"choose from {', '.join(FORMATS)}")
    if not spec.container:
        write_wav(
            path, sound, bits=spec.bits, is_float=spec.is_float, tags=tags, markers=markers, loop=loop
        )
        return Written(spec)
    coded = _encoded(sound, spec, loop=loop)
    peak = None
    if ceiling_dbtp is not None and not spec.bits:
        coded, peak = _under(ceiling_dbtp - _MARGIN_DB, coded, sound, spec, loop=loop)
    path.write_bytes(_tagged(coded, spec, tags or {}, chapters_of(chapters), sound))
    return Written(spec, peak)


def _under(
    ceiling_dbtp: float, coded: bytes, sound: Sound, spec: AudioFormat, *, loop: bool
) -> tuple[bytes, float | None]:
    """A sound coded so that its true peak stays under a ceiling when decoded, and that peak."""
    lower = ceiling_dbtp
    for _ in range(_ROUNDS):
        peak = _decoded_peak(coded, loop=loop)
        if peak is None or peak <= ceiling_dbtp:
            break
        lower -= peak - ceiling_dbtp + _STEP_DB
        held_under(lower, sound, loop=loop)
        coded = _encoded(sound, spec, loop=loop)
    return coded, _decoded_peak(coded, loop=loop)


def _decoded_peak(coded: bytes, *, loop: bool) -> float | None:
    samples, rate_hz = soundfile.read(io.BytesIO(coded), dtype="float32", always_2d=True)
    return true_peak_dbtp(Sound.of_planes(samples.T, rate_hz), loop=loop)


def _tagged(
    coded: bytes,
    spec: AudioFormat,
    tags: Mapping[str, str],
    chapters: Sequence[Marker],
    sound: Sound,
) -> bytes:
    """A coded sound with tags and chapters in the places that its format has for them."""
    rate_hz, frames = sound.rate_hz, sound.length_samples
    if spec.container == "FLAC":
        return tagged_flac(coded, tags, chapters, frames)
    if spec.container == "MP3":
        return id3_tag(tags, chapters, rate_hz, frames) + coded
    return with_comments(coded, comment_packet(vendor_of(coded), tags, chapters, rate_hz))


def _encoded(sound: Sound, spec: AudioFormat, *, loop: bool) -> bytes:
    if spec.bits:
        whole = np.ascontiguousarray(quantised(sound.planes, spec.bits).T) << (32 - spec.bits)
        return _through_libsndfile(whole, sound.rate_hz, spec)
    if spec.subtype == "OPUS":
        if sound.rate_hz != _OPUS_RATE_HZ:
            raise InputError(
                f"Opus files have {_OPUS_RATE_HZ} samples a second, not {sound.rate_hz}",
                hint="leave the sample rate at 48000 or choose another format",
            )
        samples = _with_surroundings(sound, _OPUS_BEFORE, _OPUS_AFTER, loop=loop)
        data = _through_libsndfile(samples, sound.rate_hz, spec)
        return trimmed_opus(data, _OPUS_BEFORE, sound.length_samples)
    if spec.subtype == "MPEG_LAYER_III":
        samples = _with_surroundings(sound, _MP3_BEFORE, _MP3_AFTER, loop=loop)
        data = _through_libsndfile(samples, sound.rate_hz, spec)
        return trimmed_mp3(data, _MP3_BEFORE, _MP3_AFTER)
    samples = np.ascontiguousarray(sound.samples)
    return with_fixed_serial(_through_libsndfile(samples, sound.rate_hz, spec))


def _with_surroundings(sound: Sound, before: int, after: int, *, loop: bool) -> Samples:
    """The sound between some of itself (in a loop) or of silence, for the decoder to cut away.

    Shape (before + n_samples + after, 2).

    A coder's blocks reach over both ends; so they hold there what they hold anywhere else.
    """
    frames = sound.length_samples
    index = np.arange(-before, frames + after)
    samples = np.take(sound.samples, index, axis=0, mode="wrap")
    if not loop:
        samples[(index < 0) | (index >= frames)] = 0
    return samples


def _through_libsndfile(
    samples: NDArray[np.float32 | np.int32], rate_hz: int, spec: AudioFormat
) -> bytes:
    buffer = io.BytesIO()
    options: dict[str, Any] = {"format": spec.container, "subtype": spec.subtype}
    if spec.compression is not None:
        options["compression_level"] = spec.compression
    if spec.subtype == "MPEG_LAYER_III":
        options["bitrate_mode"] = "VARIABLE"
    with soundfile.SoundFile(buffer, "w", rate_hz, 2, **options) as file:
        file.write(samples)
    return buffer.getvalue()
