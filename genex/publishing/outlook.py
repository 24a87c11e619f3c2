"""How much a build will be: files, sound, disk and memory, told before anything is made.

Sizes are close for sound that is stored as it is and a fair guess for the rest; memory is that of
the longest sound, of which a stretch is held while it is mixed and mastered. What is far beyond a
lesson is refused: see ``MOST_``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from genex.audio import FORMATS, LONG_FRAMES, AudioFormat
from genex.compose import Composer
from genex.errors import RecipeError
from genex.lazy import lazy
from genex.publishing.contents_page import CONTENTS_PAGE
from genex.publishing.maker import Job
from genex.publishing.manifest import MANIFEST
from genex.publishing.series_files import CONTENTS, book_key, bound_name, has_page, page_name
from genex.publishing.units import LessonWork, Unit
from genex.publishing.version_files import Outlined
from genex.recipe import Recipe

if TYPE_CHECKING:
    from genex.publishing import series_book
else:
    series_book = lazy("genex.publishing.series_book")

MOST_MINUTES_A_SOUND = 60
MOST_HOURS = 24
MOST_GIGABYTES = 32
_CHANNELS = 2
_BYTES_A_SECOND = {"flac": 160_000, "mp3": 32_000, "ogg": 24_000, "opus": 20_000}
"""Measured on the examples."""
_OTHER_FILE_BYTES = 40_000
_PAGE_BYTES = 700_000
_BASE_MEMORY_BYTES, _MEMORY_BYTES_A_SAMPLE, _MEMORY_BYTES_BEYOND = 160 << 20, 12, 1
"""Measured: for each sample of a sound that is held as a whole, and for each of a longer one."""
_LONG_BYTES_A_SAMPLE = 8
"""Of a long sound while it is made: two planes of 32-bit samples. See ``_room_to_make``."""
_MOST_WORKERS = 4
_VERSION_WORK_SECONDS, _OTHER_WORK_SECONDS = 0.06, 0.02
_WORK_SECONDS = {"page": 1.5, "handout": 0.5, "large handout": 0.7, "diagrams": 0.1, "leadsheet": 0.3}
_SOUND_WORK = 0.006
_CODING_WORK = {"flac": 0.004, "mp3": 0.01, "ogg": 0.02, "opus": 0.02}
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
        more = f" and {_size(sum(self.making))} more while it is made" if self.making else ""
        parts.append(f"{_size(self.size_bytes)} on disk{more}")
        if self.seconds:
            parts.append(f"{_size(self.memory_bytes)} of memory")
        return ", ".join(parts)


def outlook_of(unit: Unit, *, to_make_only: bool = False) -> Outlook:
    """How much a unit is, or what of it is still to be made. Composes nothing."""
    total = Outlook()
    for work in unit.lessons:
        recipe = work.job.recipe
        with unit.inputs.active():
            writer = work.job.writer(recipe.versions[0], work.job.piece, Composer(recipe), None, print)
            files = writer.outline()
        for number in work.numbers if to_make_only else range(len(recipe.versions)):
            longer = float(recipe.versions[0].tempo / recipe.versions[number].tempo)
            own = files if number == 0 else [file for file in files if file.kind != "page"]
            total += _of_version(own, recipe, longer)
    total += sum((Outlook(1, size_bytes=_OTHER_FILE_BYTES) for _ in unit.folders), Outlook())
    if unit.series is not None:
        if has_page(unit.series):
            total += Outlook(1, size_bytes=_PAGE_BYTES)
        if unit.series.fields.bound:
            total += Outlook(1, size_bytes=len(unit.lessons) * _OTHER_FILE_BYTES)
        total += Outlook(4, size_bytes=total.size_bytes)  # the zip holds all of it once more
    return total


def version_bytes(job: Job) -> int:
    """About how large the files of a version are, by the first one. Composes nothing."""
    recipe = job.recipe
    with job.inputs.active():
        writer = job.writer(recipe.versions[0], job.piece, Composer(recipe), None, print)
        return _of_version(writer.outline(), recipe, 1.0).size_bytes


def _of_version(files: Sequence[Outlined], recipe: Recipe, longer: float) -> Outlook:
    audio = recipe.fields.audio
    spec = FORMATS[audio.format]
    total, making = Outlook(), 0
    for file in files:
        if file.samples is None:
            size = _PAGE_BYTES if file.kind == "page" else _OTHER_FILE_BYTES
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


def require_within(units: Sequence[Unit]) -> Outlook:
    """How much all of it is. Raises RecipeError, at the recipe that leads beyond a limit."""
    total = Outlook()
    for unit in units:
        one = outlook_of(unit)
        total += one
        if one.longest_seconds > MOST_MINUTES_A_SOUND * 60:
            raise _beyond(
                unit,
                f"a sound would last {clock(one.longest_seconds)}",
                f"at most {MOST_MINUTES_A_SOUND} minutes each: fewer 'repeats' or 'passes', or parts",
            )
        if total.seconds > MOST_HOURS * 3600:
            raise _beyond(
                unit,
                f"that makes {clock(total.seconds)} of sound",
                f"at most {MOST_HOURS} hours in one build: fewer 'keys', 'tempos' or 'outputs', or "
                "recipes one after the other",
            )
        if total.size_bytes > MOST_GIGABYTES << 30:
            raise _beyond(
                unit,
                f"that makes {_size(total.size_bytes)}",
                f"at most {MOST_GIGABYTES} GB in one build: another 'audio: {{format: flac}}', fewer "
                "'keys', 'tempos' or 'outputs'",
            )
    return total


def _beyond(unit: Unit, message: str, hint: str) -> RecipeError:
    names = ("repeats", "tempos", "keys", "audio", "outputs", "lessons", "matrix")
    source = unit.source.source
    found = next((name for name in names if (name,) in source.values), None)
    return RecipeError(message, hint=hint, place=source.place((found,) if found else ()))


def names_of(work: LessonWork, unit: Unit) -> Iterator[tuple[int, str]]:
    """Files of a lesson that are to be made: the number of the version, and the name.

    Composes each key once.
    """
    if work.to_make is None:
        return
    recipe = work.to_make.recipe
    composer = Composer(recipe)
    with unit.inputs.active():
        pieces = {str(recipe.versions[0].key): work.to_make.piece}
        for number, version in zip(work.numbers, recipe.versions, strict=True):
            key = str(version.key)
            if key not in pieces and not recipe.exercises:
                pieces[key] = composer.piece(version)
            writer = work.to_make.writer(version, pieces.get(key), composer, None, print)
            yield from ((number, file.name) for file in writer.outline())


def wanted_of(unit: Unit) -> dict[str, str | None]:
    """Paths below a unit's folder as they will be, with the digests of what is kept."""
    wanted: dict[str, str | None] = {MANIFEST: None}
    for work in unit.lessons:
        below = f"{work.below}/" if work.below else ""
        wanted[below + MANIFEST] = None
        for kept in work.kept.values():
            wanted |= {below + one.file.name: one.file.sha256 for one in kept}
        wanted |= {below + name: None for _, name in names_of(work, unit)}
    if unit.series is not None and unit.series.chords:
        with unit.inputs.active():
            kept_book = unit.kept_of(book_key(unit.series))
            if kept_book is None:
                wanted |= dict.fromkeys(series_book.book_names(unit.series))
            else:
                wanted |= {one.file.name: one.file.sha256 for one in kept_book}
    if unit.series is not None and unit.lessons:
        wanted |= {CONTENTS: None, CONTENTS_PAGE: None}
        if has_page(unit.series):
            wanted[page_name(unit.series)] = None
        if unit.series.fields.bound:
            wanted[bound_name(unit.series)] = None
    return wanted


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


def _size(count: int) -> str:
    if count < 1_000_000:
        return f"{max(1, round(count / 1000))} kB"
    return f"{count / 1e9:.1f} GB" if count >= 1_000_000_000 else f"{round(count / 1_000_000)} MB"
