"""How much the versions of a lesson will be: files, sound, disk, memory and work.

Sizes are close for sound that is stored as it is and a fair guess for the rest; memory is that of the
longest sound, of which a stretch is held while it is mixed and mastered.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from genex.audio import FORMATS, LONG_FRAMES, AudioFormat
from genex.compose import Composer
from genex.publishing.maker import Job
from genex.publishing.version_files import Outlined
from genex.recipe import Recipe

_CHANNELS = 2
_BYTES_A_SECOND = {"flac": 160_000, "mp3": 32_000, "ogg": 24_000, "opus": 20_000}
"""Measured on the examples."""
OTHER_FILE_BYTES = 40_000
PAGE_BYTES = 700_000
_BASE_MEMORY_BYTES, _MEMORY_BYTES_A_SAMPLE, _MEMORY_BYTES_BEYOND = 160 << 20, 12, 1
"""Measured: for each sample of a sound that is held as a whole, and for each of a longer one."""
_LONG_BYTES_A_SAMPLE = 8
"""Of a long sound while it is made: two planes of 32-bit samples. See ``_room_to_make``."""
_MOST_WORKERS = 4
_VERSION_WORK_SECONDS, _OTHER_WORK_SECONDS = 0.06, 0.02
_WORK_SECONDS = {"page": 1.5, "handout": 0.5, "large handout": 0.7, "diagrams": 0.1, "leadsheet": 0.3}
_SOUND_WORK = 0.005
_CODING_WORK = {"flac": 0.003, "mp3": 0.065, "ogg": 0.055, "opus": 0.15}
"""Of one processor, as ``bench_series`` measures it: for a version, files, a second of sound."""
LARGE_SECONDS, LARGE_BYTES = 30 * 60, 1 << 30
"""From here on a build says beforehand how much it will be."""


@dataclass(frozen=True)
class Outlook:
    """How much something will be.

    ``making`` is the room on the disk that long sounds take beside their files, largest first, while
    they are made: as many as are made at once. ``work_seconds`` are those of one processor.
    """

    files: int = 0
    seconds: float = 0.0
    longest_seconds: float = 0.0
    size_bytes: int = 0
    memory_bytes: int = 0
    making: tuple[int, ...] = ()
    work_seconds: float = 0.0

    def __add__(self, other: Outlook) -> Outlook:
        return Outlook(
            self.files + other.files,
            self.seconds + other.seconds,
            max(self.longest_seconds, other.longest_seconds),
            self.size_bytes + other.size_bytes,
            max(self.memory_bytes, other.memory_bytes),
            tuple(sorted((*self.making, *other.making), reverse=True)[:_MOST_WORKERS]),
            self.work_seconds + other.work_seconds,
        )

    @property
    def disk_bytes(self) -> int:
        """Room that has to be on the disk: that of the files, and of long sounds while they are made."""
        return self.size_bytes + sum(self.making)

    @property
    def is_large(self) -> bool:
        """Whether one should know before it begins."""
        return self.seconds > LARGE_SECONDS or self.disk_bytes > LARGE_BYTES

    def as_json(self) -> dict[str, Any]:
        """As data."""
        return {
            "files": self.files,
            "sound_seconds": round(self.seconds, 1),
            "longest_seconds": round(self.longest_seconds, 1),
            "disk_bytes": self.disk_bytes,
            "memory_bytes": self.memory_bytes,
            "work_seconds": round(self.work_seconds, 1),
        }

    def __str__(self) -> str:
        """``14 files, 12:30 of sound, 216 MB on disk, 190 MB of memory``."""
        parts = [f"{self.files} file{'s' if self.files != 1 else ''}"]
        if self.seconds:
            parts.append(f"{clock(self.seconds)} of sound")
        more = f" and {size_text(sum(self.making))} more while it is made" if self.making else ""
        parts.append(f"{size_text(self.size_bytes)} on disk{more}")
        if self.seconds:
            parts.append(f"{size_text(self.memory_bytes)} of memory")
        return ", ".join(parts)


def amounts_of(job: Job) -> list[Outlook]:
    """How much each version of a job is. Composes nothing but its first version."""
    recipe = job.recipe
    with job.inputs.active():
        writer = job.writer(recipe.versions[0], job.piece, Composer(recipe), None, print)
        files = writer.outline()
    found = []
    for number, version in enumerate(recipe.versions):
        longer = float(recipe.versions[0].tempo / version.tempo)
        own = files if number == 0 else [file for file in files if file.kind != "page"]
        found.append(_of_version(own, recipe, longer))
    return found


def _of_version(files: Sequence[Outlined], recipe: Recipe, longer: float) -> Outlook:
    audio = recipe.fields.audio
    spec = FORMATS[audio.format]
    total, making = Outlook(), 0
    for file in files:
        if file.samples is None:
            size = PAGE_BYTES if file.kind == "page" else OTHER_FILE_BYTES
            work = _WORK_SECONDS.get(file.kind, _OTHER_WORK_SECONDS)
            total += Outlook(1, size_bytes=size, work_seconds=work)
            continue
        seconds = file.samples * longer / audio.rate
        rate = _BYTES_A_SECOND.get(audio.format, audio.rate * _CHANNELS * spec.bits // 8)
        samples = int(file.samples * longer)
        held = min(samples, LONG_FRAMES)
        memory = held * _MEMORY_BYTES_A_SAMPLE + (samples - held) * _MEMORY_BYTES_BEYOND
        memory += _BASE_MEMORY_BYTES
        work = seconds * (_SOUND_WORK + _CODING_WORK.get(audio.format, 0.0))
        total += Outlook(1, seconds, seconds, int(seconds * rate), memory, work_seconds=work)
        if samples > LONG_FRAMES:
            making = max(making, _room_to_make(samples, int(seconds * rate), audio.passes, spec))
    # One process makes them in turn.
    return total + Outlook(making=(making,) if making else (), work_seconds=_VERSION_WORK_SECONDS)


def _room_to_make(samples: int, size_bytes: int, passes: int, spec: AudioFormat) -> int:
    """What a long sound takes of the disk beside its file while it is made.

    It lies there as samples; beside it while it is laid out the loop once, where it has passes, and
    later what the coder made and, of a format that loses something, what the decoder makes of that.
    """
    coded = size_bytes if spec.container else 0
    beside = 1.0 if coded and not spec.bits else 1 / passes if passes > 1 else 0.0
    return int(samples * _LONG_BYTES_A_SAMPLE * (1 + beside)) + coded


def clock(seconds: float) -> str:
    """``0:07``, ``12:30`` or ``2:05:00``."""
    whole = round(seconds)
    hours, minutes = divmod(whole // 60, 60)
    head = f"{hours}:{minutes:02}" if hours else str(minutes)
    return f"{head}:{whole % 60:02}"


def in_time(seconds: float) -> str:
    """How long something takes, no more exactly than it can be foreseen: ``12 seconds``, ``3 hours``."""
    for name, length in (("hour", 3600), ("minute", 60)):
        if seconds >= 2 * length:
            return f"{round(seconds / length)} {name}s"
    whole = max(1, round(seconds))
    return f"{whole} second{'s' if whole != 1 else ''}"


def size_text(count: int) -> str:
    """``216 MB``."""
    if count < 1_000_000:
        return f"{max(1, round(count / 1000))} kB"
    return f"{count / 1e9:.1f} GB" if count >= 1_000_000_000 else f"{round(count / 1_000_000)} MB"
