"""Sounds to files: WAVE, FLAC, MP3, Ogg Vorbis and Opus, with tags, markers and loop points.

WAVE files are written here; the others by libsndfile through soundfile. Every format decodes to
exactly the sound's length and repeats without a seam. MP3 says in its LAME tag, Opus in its
pre-skip and last granule position how much a decoder has to cut away; a player that ignores them
leaves a gap.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from genex.audio.loudness import true_peak_dbtp
from genex.audio.markers import Marker
from genex.audio.mastering import held_under
from genex.audio.mp3 import trim_mp3
from genex.audio.ogg import pages, trimmed_opus, with_comments
from genex.audio.pieces import write_pieces
from genex.audio.sound import Samples, Sound
from genex.audio.tags import chapters_of, comment_packet, flac_head, id3_tag, skip_id3
from genex.audio.tape import blank, scratch_file, stretches
from genex.audio.wav import quantised, rewrite_wav, write_wav
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
_BLOCK_FRAMES, _WHOLE_FRAMES = 1 << 18, 1 << 20
_COPIED_BYTES = 1 << 20
_KEPT_BYTES = 8 << 20  # of a coded sound in memory


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
    """How a sound was stored, the SHA-256 of the file, and the true peak of what a decoder makes of it.

    The peak is None where samples are stored as they are, or where no ceiling was asked for.
    """

    format: AudioFormat
    sha256: str
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
        checksum = write_wav(
            path, sound, bits=spec.bits, is_float=spec.is_float, tags=tags, markers=markers, loop=loop
        )
        return Written(spec, checksum)
    with scratch_file(_KEPT_BYTES) as coded:
        _encode(sound, coded, spec, loop=loop)
        peak = None
        if ceiling_dbtp is not None and not spec.bits:
            peak = _hold_under(ceiling_dbtp - _MARGIN_DB, coded, sound, spec, loop=loop)
        coded.seek(0)
        frames = sound.length_samples
        tagged = _tagged(coded, spec, tags or {}, chapters_of(chapters), frames, sound.rate_hz)
        checksum = write_pieces(path, tagged)
    return Written(spec, checksum, peak)


def rewrite_audio(
    source: Path,
    path: Path,
    frames: int,
    rate_hz: int,
    fmt: str = "wav24",
    tags: Mapping[str, str] | None = None,
    markers: Sequence[Marker] = (),
    *,
    chapters: Sequence[Marker] = (),
    loop: bool = False,
) -> str:
    """Write the sound of a file that ``write_audio`` wrote in the same format, with other tags, markers
    and chapters: byte for byte what ``write_audio`` would write. Nothing is coded or decoded.

    SHA-256 of the file. Raises OSError, ValueError for a file that is none of these.
    """
    spec = FORMATS[fmt]
    with source.open("rb") as coded:
        if not spec.container:
            return rewrite_wav(
                coded, path, frames, rate_hz, bits=spec.bits, is_float=spec.is_float,
                tags=tags or {}, markers=markers, loop=loop,
            )  # fmt: skip
        if spec.container == "MP3":
            skip_id3(coded)
        return write_pieces(
            path, _tagged(coded, spec, tags or {}, chapters_of(chapters), frames, rate_hz)
        )


def _hold_under(
    ceiling_dbtp: float, coded: IO[bytes], sound: Sound, spec: AudioFormat, *, loop: bool
) -> float | None:
    """Code a sound anew until its true peak stays under a ceiling when decoded; that peak."""
    lower = ceiling_dbtp
    for _ in range(_ROUNDS):
        peak = _decoded_peak(coded, loop=loop)
        if peak is None or peak <= ceiling_dbtp:
            return peak
        lower -= peak - ceiling_dbtp + _STEP_DB
        held_under(lower, sound, loop=loop)
        _encode(sound, coded, spec, loop=loop)
    return _decoded_peak(coded, loop=loop)


def _decoded_peak(coded: IO[bytes], *, loop: bool) -> float | None:
    coded.seek(0)
    with soundfile.SoundFile(coded) as file:
        planes = blank(file.frames)
        for first, end in stretches(planes, _BLOCK_FRAMES):
            planes[:, first:end] = file.read(end - first, "float32", always_2d=True).T
        return true_peak_dbtp(Sound.of_planes(planes, file.samplerate), loop=loop)


def _tagged(
    coded: IO[bytes],
    spec: AudioFormat,
    tags: Mapping[str, str],
    chapters: Sequence[Marker],
    frames: int,
    rate_hz: int,
) -> Iterator[bytes]:
    """A coded sound with tags and chapters in the places that its format has for them, in pieces.

    Those that it has already are left away.
    """
    if spec.container == "OGG":

        def comments(vendor: bytes) -> bytes:
            return comment_packet(vendor, tags, chapters, rate_hz)

        for page in with_comments(pages(coded), comments):
            yield page.whole()
        return
    if spec.container == "FLAC":
        yield flac_head(coded, tags, chapters, frames)
    else:
        yield id3_tag(tags, chapters, rate_hz, frames)
    while piece := coded.read(_COPIED_BYTES):
        yield piece


def _encode(sound: Sound, coded: IO[bytes], spec: AudioFormat, *, loop: bool) -> None:
    """Code a sound into a file, in place of what is there."""
    rate_hz = sound.rate_hz
    if spec.bits:
        integers = (quantised(block.T, spec.bits).T << (32 - spec.bits) for block in _blocks(sound))
        _through_libsndfile(integers, coded, rate_hz, spec)
    elif spec.subtype == "OPUS":
        if rate_hz != _OPUS_RATE_HZ:
            raise InputError(
                f"Opus files have {_OPUS_RATE_HZ} samples a second, not {rate_hz}",
                hint="leave the sample rate at 48000 or choose another format",
            )
        with scratch_file(_KEPT_BYTES) as whole:
            blocks = _blocks(sound, _OPUS_BEFORE, _OPUS_AFTER, loop=loop)
            _through_libsndfile(blocks, whole, rate_hz, spec)
            whole.seek(0)
            _empty(coded)
            for page in trimmed_opus(pages(whole), _OPUS_BEFORE, sound.length_samples):
                coded.write(page.whole())
    elif spec.subtype == "MPEG_LAYER_III":
        blocks = _blocks(sound, _MP3_BEFORE, _MP3_AFTER, loop=loop)
        _through_libsndfile(blocks, coded, rate_hz, spec)
        trim_mp3(coded, _MP3_BEFORE, _MP3_AFTER)
    else:
        _through_libsndfile(_blocks(sound), coded, rate_hz, spec)


def _blocks(sound: Sound, before: int = 0, after: int = 0, *, loop: bool = False) -> Iterator[Samples]:
    """The sound between some of itself (in a loop) or of silence, for the decoder to cut away.

    Block by block, shape (n_samples, 2). A coder's blocks reach over both ends; so they hold there
    what they hold anywhere else.
    """
    planes, frames = sound.planes, sound.length_samples

    def beyond(first: int, count: int) -> Samples:
        index = np.arange(first, first + count)
        samples = np.stack([np.take(plane, index, mode="wrap") for plane in planes], axis=1)
        return samples if loop else np.zeros_like(samples)

    if before:
        yield beyond(-before, before)
    # Of what comes first, the coder of Vorbis guesses what may have been before: so a short sound is
    # handed over as a whole. Of a longer one it would take more of the stack for that than there is
    # (libvorbis has four bytes a frame there), and end the process.
    size = _WHOLE_FRAMES if frames <= _WHOLE_FRAMES else _BLOCK_FRAMES
    for first, end in stretches(planes, size):
        yield np.ascontiguousarray(planes[:, first:end].T)
    if after:
        yield beyond(frames, after)


def _through_libsndfile(
    blocks: Iterable[NDArray[np.float32 | np.int32]], coded: IO[bytes], rate_hz: int, spec: AudioFormat
) -> None:
    options: dict[str, Any] = {"format": spec.container, "subtype": spec.subtype}
    if spec.compression is not None:
        options["compression_level"] = spec.compression
    if spec.subtype == "MPEG_LAYER_III":
        options["bitrate_mode"] = "VARIABLE"
    _empty(coded)
    with soundfile.SoundFile(coded, "w", rate_hz, 2, **options) as file:
        for block in blocks:
            file.write(block)


def _empty(file: IO[bytes]) -> None:
    file.seek(0)
    file.truncate()
