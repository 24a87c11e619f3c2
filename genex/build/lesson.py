"""One lesson: a recipe's Score turned into files."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from genex import __version__
from genex.audio import (
    DEFAULT_RATE_HZ,
    Measurement,
    Renderer,
    Sound,
    loop_markers,
    master,
    take_markers,
    write_audio,
)
from genex.build.files import MANIFEST, Staging, writing
from genex.compose import compose
from genex.errors import InputError
from genex.export.midi import midi_bytes
from genex.export.tab import tab_text
from genex.recipe import Recipe, Version
from genex.resources import default_soundfont
from genex.score import Score

AUDIO_OUTPUTS = frozenset({"loop", "band", "take"})
Report = Callable[[str], None]
"""Is told, in a few words, what is being done."""


@dataclass(frozen=True)
class BuiltFile:
    """A file of a lesson. ``facts`` are what the manifest says beside kind, size and checksum."""

    name: str
    kind: str
    facts: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Lesson:
    """A finished lesson and where it lies."""

    recipe: Recipe
    folder: Path
    files: tuple[BuiltFile, ...]


@dataclass(frozen=True)
class Job:
    """A checked recipe, ready to be built. ``score`` is that of its first version."""

    recipe: Recipe
    score: Score


def prepare(recipe: Recipe) -> Job:
    """Compose a recipe's first version. Raises InputError for what cannot be played."""
    return Job(recipe, compose(recipe))


def soundfont_path(recipe: Recipe, override: Path | None) -> Path:
    """The soundfont of a lesson: the option's, the recipe's (relative to it), or the default."""
    if override is not None:
        return override
    written = recipe.fields.audio.soundfont
    if written is None:
        return default_soundfont()
    return Path(recipe.source.file).parent / Path(written).expanduser()


def build_lesson(job: Job, out: Path, *, soundfont: Path | None, report: Report) -> Lesson:
    """Write all files of a lesson into ``out/<slug>/``, or none. Raises GenexError."""
    recipe = job.recipe
    folder = out / recipe.slug
    font = soundfont_path(recipe, soundfont)
    with Staging(folder) as staging, ExitStack() as stack:
        renderer: Renderer | None = None
        if AUDIO_OUTPUTS & set(recipe.outputs):
            renderer = stack.enter_context(Renderer(font, DEFAULT_RATE_HZ))
        files: list[BuiltFile] = []
        for index, version in enumerate(recipe.versions):
            score = job.score if index == 0 else compose(recipe, version)
            writer = _VersionWriter(recipe, version, score, staging, report)
            writer.write_symbolic()
            if renderer is not None:
                writer.write_audio(renderer)
            files += writer.files
        staging.publish(_manifest(job, staging, files, font), stale=_earlier_files(folder))
    return Lesson(recipe, folder, tuple(files))


class _VersionWriter:
    """Stages the files of one key and tempo."""

    def __init__(
        self, recipe: Recipe, version: Version, score: Score, staging: Staging, report: Report
    ) -> None:
        self.recipe, self.version, self.score = recipe, version, score
        self.staging, self.report = staging, report
        self.stem = f"{recipe.slug}{version.suffix}"
        self.facts = {"key": str(version.key), "tempo": float(version.tempo)} if version.suffix else {}
        self.files: list[BuiltFile] = []

    def write_symbolic(self) -> None:
        """MIDI and text."""
        wanted, score = self.recipe.outputs, self.score
        self.report(f"{self.stem}: MIDI and tab")
        if "midi" in wanted:
            self._write(".mid", "midi", midi_bytes(score))
            if "take" in wanted:
                self._write(".take.mid", "midi take", midi_bytes(score, include_lead_in=True))
        if "tab" in wanted and score.lead_parts:
            self._write(".tab.txt", "tab", tab_text(score).encode())

    def write_audio(self, renderer: Renderer) -> None:
        """Loops and the take."""
        wanted, score = self.recipe.outputs, self.score
        band = score.only(*(part.name for part in score.parts if not part.role.is_lead))
        if "loop" in wanted:
            self.report(f"{self.stem}: the loop")
            self._write_sound("", "loop", renderer.loop(score), loops=True)
        if "band" in wanted and band.parts and len(band.parts) < len(score.parts):
            self.report(f"{self.stem}: the band")
            self._write_sound(".band", "band loop", renderer.loop(band), loops=True)
        if "take" in wanted:
            self.report(f"{self.stem}: the take")
            self._write_sound(".take", "take", renderer.take(score), loops=False)

    def _write(self, suffix: str, kind: str, data: bytes) -> None:
        name = f"{self.stem}{suffix}"
        self.staging.write(name, data)
        self.files.append(BuiltFile(name, kind, self.facts))

    def _write_sound(self, suffix: str, kind: str, sound: Sound, *, loops: bool) -> None:
        name = f"{self.stem}{suffix}.wav"
        audio = self.recipe.fields.audio
        mastered, measured = master(sound, audio.loudness, audio.ceiling, loop=loops)
        markers = (loop_markers if loops else take_markers)(self.score, DEFAULT_RATE_HZ)
        with writing(self.staging.folder / name):
            write_audio(
                self.staging.path(name),
                mastered,
                "wav24",
                _tags(self.recipe, self.version),
                markers,
                loop=loops,
            )
        self.files.append(BuiltFile(name, kind, self.facts | _sound_facts(mastered, measured, loops)))


def _sound_facts(sound: Sound, measured: Measurement, loops: bool) -> dict[str, Any]:
    return {
        "sample_rate_hz": sound.rate_hz,
        "length_samples": sound.length_samples,
        "integrated_lufs": _rounded(measured.integrated_lufs),
        "true_peak_dbtp": _rounded(measured.true_peak_dbtp),
        "loops": loops,
    }


def _tags(recipe: Recipe, version: Version) -> dict[str, str]:
    return {
        "title": recipe.title,
        "key": str(version.key),
        "tempo": f"{float(version.tempo):g}",
        "software": f"genex {__version__}",
    }


def _rounded(decibels: float | None) -> float | None:
    """Two decimals; silence has no level."""
    return None if decibels is None else round(decibels, 2)


def _manifest(job: Job, staging: Staging, files: list[BuiltFile], font: Path) -> bytes:
    recipe, score = job.recipe, job.score
    entries = []
    for file in sorted(files, key=lambda file: file.name):
        data = staging.path(file.name).read_bytes()
        entries.append(
            {
                "name": file.name,
                "kind": file.kind,
                "bytes": len(data),
                "sha256": hashlib.sha256(data).hexdigest(),
                **file.facts,
            }
        )
    manifest = {
        "genex": __version__,
        "recipe": Path(recipe.source.file).name,
        "slug": recipe.slug,
        "title": recipe.title,
        "key": str(recipe.versions[0].key),
        "meter": str(recipe.meter),
        "tempo": float(recipe.versions[0].tempo),
        "feel": score.feel,
        "seed": recipe.fields.seed,
        "bars": len(score.timeline.bars),
        "length_beats": str(score.length_beats),
        "parts": [part.name for part in score.parts],
        "soundfont": font.name,
        "files": entries,
    }
    return (json.dumps(manifest, ensure_ascii=False, indent=2) + "\n").encode()


def _earlier_files(folder: Path) -> frozenset[str]:
    """Names that the folder's manifest lists, if there is a readable one: they were ours."""
    try:
        listed = json.loads((folder / MANIFEST).read_text("utf-8"))["files"]
        names = {str(entry["name"]) for entry in listed}
    except (OSError, ValueError, KeyError, TypeError):
        return frozenset()
    return frozenset(name for name in names if Path(name).name == name and name not in ("", ".", ".."))


def require_distinct(jobs: list[Job]) -> None:
    """Two lessons of one build may not share a folder. Raises InputError."""
    seen: dict[str, Recipe] = {}
    for job in jobs:
        recipe = job.recipe
        if recipe.slug in seen:
            raise InputError(
                f"the lesson '{recipe.slug}' is also made by {seen[recipe.slug].source.file}",
                hint="give the two recipes different titles",
                place=recipe.place("title"),
            )
        seen[recipe.slug] = recipe
