"""Presets of a SoundFont 2 file, voice by voice: which recording, at what pitch, level and place, with
which filter and envelopes.

The synthesizer plays soundfonts for itself. This is for whoever has notes played elsewhere: the
practice page schedules recordings in a browser. What a note-on velocity does is that of the default
modulators: amplitude goes with its square, filters stay as they are (the default soundfont switches
that modulator off). Soundfonts with other modulators sound a little different there.

Literature: SoundFont Technical Specification 2.04, sections 7 (the hydra), 8.1 (generators) and 9.4
(which generators of a preset add to those of an instrument).
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np

from genex.audio.sf2 import chunks, require_whole
from genex.audio.sound import Samples
from genex.errors import SoundfontError
from genex.lazy import lazy

if TYPE_CHECKING:
    import soundfile
else:
    soundfile = lazy("soundfile")

DRUM_BANK = 128
ATTENUATION_SCALE = 0.4
"""Of initialAttenuation, as libfluidsynth reads it: that of the hardware such files were made for."""

_RECORDS = {
    b"phdr": struct.Struct("<20sHHHIII"),
    b"pbag": struct.Struct("<HH"),
    b"pgen": struct.Struct("<HH"),
    b"inst": struct.Struct("<20sH"),
    b"ibag": struct.Struct("<HH"),
    b"igen": struct.Struct("<HH"),
    b"shdr": struct.Struct("<20sIIIIIBbHH"),
}
_VORBIS = 0x10  # sample type of compressed soundfonts
_KEY_RANGE, _VELOCITY_RANGE, _INSTRUMENT, _SAMPLE = 43, 44, 41, 53
_RANGES = frozenset({_KEY_RANGE, _VELOCITY_RANGE})
_OF_INSTRUMENTS_ONLY = frozenset({0, 1, 2, 3, 4, 12, 45, 46, 47, 50, 54, 57, 58})
_DEFAULTS = {8: 13500, 56: 100, 46: -1, 47: -1, 58: -1} | dict.fromkeys(
    (21, 23, 25, 26, 27, 28, 30, 33, 34, 35, 36, 38), -12000
)
Generators = dict[int, int]


@dataclass(frozen=True)
class Recording:
    """A recording: its place in the file, frames a second, loop (frames from its start), pitch."""

    number: int
    name: str
    start: int
    end: int
    loop: tuple[int, int]
    rate_hz: int
    root_key: int
    correction_cents: int
    is_vorbis: bool


@dataclass(frozen=True)
class Voice:
    """One voice of a preset: a recording and all generators, preset and instrument added up."""

    recording: Recording
    keys: tuple[int, int]
    velocities: tuple[int, int]
    generators: tuple[tuple[int, int], ...]

    @cached_property
    def _values(self) -> Generators:
        return _DEFAULTS | dict(self.generators)

    def value(self, number: int) -> int:
        """A generator's value, its default where nothing is written."""
        return self._values.get(number, 0)

    def sounds(self, key: int, velocity: int) -> bool:
        """Whether a note-on starts this voice."""
        return (
            self.keys[0] <= key <= self.keys[1] and self.velocities[0] <= velocity <= self.velocities[1]
        )

    @property
    def loop(self) -> tuple[int, int] | None:
        """The loop in frames from the start that is played; None where there is none."""
        if self.value(54) & 1 == 0:
            return None
        first, last = self.recording.loop
        moved = self.value(2) + 32768 * self.value(45), self.value(3) + 32768 * self.value(50)
        return first + moved[0] - self.start, last + moved[1] - self.start

    @property
    def start(self) -> int:
        """First frame of the recording that is played."""
        return self.value(0) + 32768 * self.value(4)

    def cents(self, key: int) -> float:
        """How much higher than recorded a key sounds."""
        root = self.value(58)
        root = self.recording.root_key if root < 0 else root
        tune = 100 * self.value(51) + self.value(52) + self.recording.correction_cents
        return self.value(56) * (key - root) + tune

    @property
    def attenuation_db(self) -> float:
        """How much softer than recorded it is, without what the velocity does."""
        return self.value(48) / 10 * ATTENUATION_SCALE


class Presets:
    """The presets of one file. Raises SoundfontError for a file that is none."""

    def __init__(self, path: Path) -> None:
        require_whole(path)
        self.path = path
        self._file = path.open("rb")
        try:
            self._places = dict(_places(self._file))
            self._tables = {
                name: list(record.iter_unpack(self._chunk(name, record.size)))
                for name, record in _RECORDS.items()
            }
        except (KeyError, struct.error) as problem:
            self._file.close()
            raise SoundfontError(
                f"{path} is not a soundfont that can be read", hint="give the path of an .sf2 file"
            ) from problem

    def _chunk(self, name: bytes, size: int) -> bytes:
        at, length = self._places[name]
        return self._read(at, length // size * size)

    def _read(self, at: int, size: int) -> bytes:
        self._file.seek(at)
        return self._file.read(size)

    @cached_property
    def numbers(self) -> dict[tuple[int, int], int]:
        """Of each preset by bank and program: which one in the file."""
        return {(row[2], row[1]): index for index, row in enumerate(self._tables[b"phdr"][:-1])}

    def voices(self, program: int, *, kit: bool) -> tuple[Voice, ...]:
        """The voices of a General MIDI program or kit; of the nearest one where it is missing.

        Which one that is follows the synthesizer. Raises SoundfontError.
        """
        bank = DRUM_BANK if kit else 0
        family = range(program // 8 * 8, program // 8 * 8 + 8)
        choices = [program, 0] if kit else sorted(family, key=lambda p: (abs(p - program), p))
        for choice in choices:
            if (bank, choice) in self.numbers:
                return tuple(self._voices(self.numbers[bank, choice]))
        raise SoundfontError(f"{self.path} has no sound for {'kit' if kit else 'program'} {program}")

    def _voices(self, number: int) -> Iterator[Voice]:
        tables = self._tables
        first, after = tables[b"phdr"][number][3], tables[b"phdr"][number + 1][3]
        for outer, instrument in _zones(
            tables[b"pbag"][first : after + 1], tables[b"pgen"], _INSTRUMENT
        ):
            begin, end = tables[b"inst"][instrument][1], tables[b"inst"][instrument + 1][1]
            bags = tables[b"ibag"][begin : end + 1]
            for inner, sample in _zones(bags, tables[b"igen"], _SAMPLE):
                keys, velocities = (
                    _overlap(_range(outer.get(kind)), _range(inner.get(kind)))
                    for kind in (_KEY_RANGE, _VELOCITY_RANGE)
                )
                if keys[0] > keys[1] or velocities[0] > velocities[1]:
                    continue
                values = {n: v for n, v in inner.items() if n not in _RANGES}
                for n, v in outer.items():
                    if n not in _RANGES and n not in _OF_INSTRUMENTS_ONLY:
                        values[n] = values.get(n, _DEFAULTS.get(n, 0)) + v
                yield Voice(self.recording(sample), keys, velocities, tuple(sorted(values.items())))

    @cache  # noqa: B019 - as many as the file has
    def recording(self, number: int) -> Recording:
        """A recording by its number."""
        name, start, end, loop_start, loop_end, rate, key, cents, _, kind = self._tables[b"shdr"][number]
        is_vorbis = bool(kind & _VORBIS)
        base = 0 if is_vorbis else start
        return Recording(
            number,
            name.split(b"\0")[0].decode("latin-1"),
            start,
            end,
            (loop_start - base, loop_end - base),
            rate,
            key,
            cents,
            is_vorbis,
        )

    def samples(self, recording: Recording) -> Samples:
        """The frames of a recording, full scale at ±1, shape (n_samples,)."""
        at, _ = self._places[b"smpl"]
        if recording.is_vorbis:
            packed = io.BytesIO(self._read(at + recording.start, recording.end - recording.start))
            data: Any = soundfile.read(packed, dtype="float32")[0]
            return np.asarray(data, np.float32)
        raw = self._read(at + 2 * recording.start, 2 * (recording.end - recording.start))
        return np.frombuffer(raw, "<i2").astype(np.float32) / np.float32(32768)

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()


def _places(file: BinaryIO) -> Iterator[tuple[bytes, tuple[int, int]]]:
    """Where the body of each chunk lies, and its length."""
    file.seek(12)
    for name, size in chunks(file):
        at = file.tell()
        if name == b"LIST":
            file.seek(at + 4)
            for inner, length in chunks(file, at + size):
                yield inner, (file.tell(), length)


def _zones(
    bags: Sequence[tuple[int, ...]], records: Sequence[tuple[int, ...]], end: int
) -> Iterator[tuple[Generators, int]]:
    """The zones of some bags that end in the generator ``end``, with its value.

    A first zone that does not end in it is global: the others begin with what it says.
    """
    common: Generators = {}
    for index, (bag, after) in enumerate(pairwise(bags)):
        found = {number: _signed(number, value) for number, value in records[bag[0] : after[0]]}
        target = found.pop(end, None)
        if target is not None:
            yield common | found, target
        elif index == 0:
            common = found


def _signed(number: int, value: int) -> int:
    """Amounts are signed but for ranges and the numbers of records."""
    unsigned = number in _RANGES or number in (_INSTRUMENT, _SAMPLE)
    return value if unsigned or value < 32768 else value - 65536


def _range(value: int | None) -> tuple[int, int]:
    return (0, 127) if value is None else (value & 0xFF, value >> 8)


def _overlap(one: tuple[int, int], other: tuple[int, int]) -> tuple[int, int]:
    return max(one[0], other[0]), min(one[1], other[1])
