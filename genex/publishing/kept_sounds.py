"""Sounds of an earlier build that are heard in a new one too: another title renders nothing again.

A sound has a key: a digest of its strikes and their mix (``audio.Laid``), how it is brought to its
loudness and coded, the soundfont, and the versions of genex and its libraries. A file with that key, as
it was made, holds the same samples; what else it holds (title, markers, chapters) is written anew around
them. So the key is taken from what was composed and not from fields of the recipe: no list says what is
heard and what is not.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from genex.publishing.kept_files import KeptFile, kept_file
from genex.publishing.stamps import Known
from genex.publishing.up_to_date import Note, versions
from genex.publishing.version_files import BuiltFile


@dataclass(frozen=True)
class KeptSounds:
    """Sounds by their keys, each with the folder that it lies in, and what is ``known`` of files by
    their paths. ``font`` is the soundfont's digest; empty where there is none, or where nothing shall be
    kept."""

    font: str = ""
    files: Mapping[str, tuple[Path, BuiltFile]] = field(default_factory=dict)
    known: Mapping[str, Known] = field(default_factory=dict)

    def key(self, *what: object) -> str:
        """The key of a sound, by plain values that say what is heard; empty where none is kept."""
        if not self.font:
            return ""
        text = repr((self.font, sorted(versions().items()), what))
        return hashlib.sha256(text.encode()).hexdigest()

    def find(self, key: str) -> KeptFile | None:
        """The file with a key, if it is there as it was made."""
        if not key or key not in self.files:
            return None
        folder, file = self.files[key]
        try:
            return kept_file(file, folder, self.known)
        except OSError:
            return None


def earlier_sounds(note: Note | None, out: Path) -> dict[str, tuple[Path, BuiltFile]]:
    """What the last build made, by key."""
    if note is None or note.versions != versions():
        return {}
    found = {}
    for below, files in note.made.values():
        for entry in files:
            if entry.get("sound"):
                found[str(entry["sound"])] = out / below, BuiltFile(**entry)
    return found
