"""Sounds to files: WAVE, FLAC, MP3, Ogg Vorbis and Opus, with tags, markers and loop points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from genex.audio.markers import Marker
from genex.audio.sound import Sound
from genex.audio.wav import write_wav


@dataclass(frozen=True, slots=True)
class AudioFormat:
    """A way to store sound. ``loops`` tells whether it repeats without a seam once decoded."""

    name: str
    suffix: str
    bits: int = 0
    is_float: bool = False
    loops: bool = True


FORMATS = {
    spec.name: spec
    for spec in (
        AudioFormat("wav16", ".wav", 16),
        AudioFormat("wav24", ".wav", 24),
        AudioFormat("wav32f", ".wav", 32, is_float=True),
    )
}


def write_audio(
    path: Path,
    sound: Sound,
    fmt: str = "wav24",
    tags: Mapping[str, str] | None = None,
    markers: Sequence[Marker] = (),
    *,
    loop: bool = False,
) -> AudioFormat:
    """Write a sound in one of ``FORMATS`` and return the format. Raises OSError, KeyError."""
    spec = FORMATS[fmt]
    write_wav(path, sound, bits=spec.bits, is_float=spec.is_float, tags=tags, markers=markers, loop=loop)
    return spec
