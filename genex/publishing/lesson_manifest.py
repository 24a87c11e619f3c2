"""What is told of a lesson that was made: in its folder's manifest, and in words."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from genex import __version__
from genex.plain_text import clean
from genex.publishing.maker import Job
from genex.publishing.manifest import manifest_bytes
from genex.publishing.outlook import clock
from genex.publishing.plan import Claim
from genex.publishing.version_files import BuiltFile
from genex.recipe import Recipe
from genex.score import Score


def lesson_summary(title: str, folder: Path, files: Sequence[BuiltFile]) -> str:
    """What was built, one line a file."""
    lines = [f"{title}: {folder}"]
    for file in files:
        line = f"  {file.name}"
        if "length_samples" in file.facts:
            seconds = file.facts["length_samples"] / file.facts["sample_rate_hz"]
            line += f"  {int(seconds // 60)}:{seconds % 60:05.2f}"
            if "integrated_lufs" in file.facts:
                loudness = file.facts["integrated_lufs"]
                line += ", silent" if loudness is None else f", {loudness:.1f} LUFS"
        lines.append(line)
    return "\n".join(lines)


def lesson_in_a_line(title: str, folder: Path, files: Sequence[BuiltFile]) -> str:
    """What was built, of one lesson of many."""
    sounds = [file.facts for file in files if "length_samples" in file.facts]
    line = f"{title}: {folder}, {len(files)} file{'s' if len(files) != 1 else ''}"
    if sounds:
        line += (
            f", {clock(sum(one['length_samples'] / one['sample_rate_hz'] for one in sounds))} of sound"
        )
    return line


def lesson_manifest(
    jobs: Sequence[Job], recipe: Recipe, files: Sequence[BuiltFile], font: Path, claim: Claim
) -> bytes:
    """The manifest of a lesson's folder: of one of several exercises with the music of each.

    ``jobs`` are those that made its ``files``, ``claim`` that of the recipe's file.
    """
    pieces = {one.slug: (one, piece.score) for job in jobs for one, piece in job.music}
    if recipe.exercises:
        music: dict[str, Any] = {
            "exercises": [
                {"slug": slug, "title": one.title, **_music(one, score)}
                for slug, (one, score) in sorted(pieces.items())
            ]
        }
    else:
        music = _music(*pieces[recipe.slug])
    entries = [
        {
            "name": file.name,
            "kind": file.kind,
            "bytes": file.size_bytes,
            "sha256": file.sha256,
            **file.facts,
        }
        for file in sorted(files, key=lambda file: file.name)
    ]
    return manifest_bytes(
        {
            "genex": __version__,
            "recipe": clean(Path(recipe.source.file).name),
            "owner": claim.owner,
            "slug": recipe.slug,
            "title": recipe.title,
            **music,
            "soundfont": clean(font.name),
            "files": entries,
        }
    )


def _music(recipe: Recipe, score: Score) -> dict[str, Any]:
    """What a manifest tells of a piece."""
    return {
        "key": str(recipe.versions[0].key),
        "meter": str(recipe.meter),
        "tempo": float(recipe.versions[0].tempo),
        "feel": score.feel,
        "seed": recipe.fields.seed,
        "bars": len(score.timeline.bars),
        "length_beats": str(score.length_beats),
        "parts": [part.name for part in score.parts],
    }
