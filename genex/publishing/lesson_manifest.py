"""What is told of a lesson that was made: in its folder's manifest, and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from genex import __version__
from genex.plain_text import clean
from genex.publishing.amounts import clock
from genex.publishing.manifest import manifest_bytes
from genex.publishing.plan import Claim
from genex.publishing.version_files import BuiltFile
from genex.recipe import Recipe


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
    pieces: Mapping[str, Mapping[str, Any]],
    recipe: Recipe,
    files: Sequence[BuiltFile],
    font: Path,
    claim: Claim,
) -> bytes:
    """The manifest of a lesson's folder: of one of several exercises with the music of each.

    ``pieces`` are what ``LessonFacts`` tell of the music, by slug, ``claim`` that of the recipe's file.
    """
    music: dict[str, Any]
    if recipe.exercises:
        music = {"exercises": [{"slug": slug, **pieces[slug]} for slug in sorted(pieces)]}
    else:
        music = {name: fact for name, fact in pieces[recipe.slug].items() if name != "title"}
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
