"""One lesson: a recipe's Score turned into files."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from genex import __version__
from genex.audio.encode import write_audio
from genex.audio.markers import loop_markers, take_markers
from genex.audio.mastering import Measurement, master
from genex.audio.render import Renderer
from genex.audio.sound import Sound
from genex.build.files import MANIFEST, Staging, writing
from genex.compose import compose
from genex.errors import InputError
from genex.export.midi import midi_bytes
from genex.export.tab import tab_text
from genex.recipe import Recipe
from genex.resources import default_soundfont
from genex.score import Score

SAMPLE_RATE_HZ = 48_000
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
    score: Score
    folder: Path
    files: tuple[BuiltFile, ...]


@dataclass(frozen=True)
class Job:
    """A checked recipe with its Score, ready to be built."""

    recipe: Recipe
    score: Score


def prepare(recipe: Recipe) -> Job:
    """Compose a recipe. Raises InputError for what cannot be played."""
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
    recipe, score = job.recipe, job.score
    folder = out / recipe.slug
    with Staging(folder) as staging:
        report(f"{recipe.slug}: writing MIDI and tab")
        files = _symbolic_files(job, staging)
        font = soundfont_path(recipe, soundfont)
        files += _audio_files(job, staging, font, report)
        staging.publish(_manifest(job, staging, files, font), stale=_earlier_files(folder))
    return Lesson(recipe, score, folder, tuple(files))


def _symbolic_files(job: Job, staging: Staging) -> list[BuiltFile]:
    recipe, score = job.recipe, job.score
    slug, wanted = recipe.slug, recipe.outputs
    files: list[BuiltFile] = []

    def write(suffix: str, kind: str, data: bytes) -> None:
        staging.write(f"{slug}{suffix}", data)
        files.append(BuiltFile(f"{slug}{suffix}", kind))

    if "midi" in wanted:
        write(".mid", "midi", midi_bytes(score))
        if "take" in wanted:
            write(".take.mid", "midi take", midi_bytes(score, include_lead_in=True))
    if "tab" in wanted and score.lead_parts:
        write(".tab.txt", "tab", tab_text(score).encode())
    return files


def _audio_files(job: Job, staging: Staging, font: Path, report: Report) -> list[BuiltFile]:
    recipe, score = job.recipe, job.score
    wanted = set(recipe.outputs) & {"loop", "band", "take"}
    if not wanted:
        return []
    renderer = Renderer(font, SAMPLE_RATE_HZ)
    files: list[BuiltFile] = []
    band = score.only(*(part.name for part in score.parts if not part.role.is_lead))

    def write(suffix: str, kind: str, sound: Sound, content: Score, *, loops: bool) -> None:
        name = f"{recipe.slug}{suffix}.wav"
        audio = recipe.fields.audio
        mastered, measured = master(
            sound, target_lufs=audio.loudness, ceiling_dbtp=audio.ceiling, loop=loops
        )
        markers = (loop_markers if loops else take_markers)(content, SAMPLE_RATE_HZ)
        with writing(staging.folder / name):
            write_audio(staging.path(name), mastered, "wav24", _tags(job), markers, loop=loops)
        files.append(BuiltFile(name, kind, _sound_facts(mastered, measured, loops)))

    if "loop" in wanted:
        report(f"{recipe.slug}: rendering the loop")
        write("", "loop", renderer.loop(score), score, loops=True)
    if "band" in wanted and band.parts and len(band.parts) < len(score.parts):
        report(f"{recipe.slug}: rendering the band")
        write(".band", "band loop", renderer.loop(band), band, loops=True)
    if "take" in wanted:
        report(f"{recipe.slug}: rendering the take")
        write(".take", "take", renderer.take(score), score, loops=False)
    return files


def _sound_facts(sound: Sound, measured: Measurement, loops: bool) -> dict[str, Any]:
    return {
        "sample_rate_hz": sound.rate_hz,
        "length_samples": sound.length_samples,
        "integrated_lufs": _rounded(measured.integrated_lufs),
        "true_peak_dbtp": _rounded(measured.true_peak_dbtp),
        "loops": loops,
    }


def _tags(job: Job) -> dict[str, str]:
    recipe = job.recipe
    return {
        "title": recipe.title,
        "key": str(recipe.key),
        "tempo": f"{recipe.fields.tempo:g}",
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
        "key": str(recipe.key),
        "meter": str(recipe.meter),
        "tempo": recipe.fields.tempo,
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
