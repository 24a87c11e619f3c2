"""Fields that recipes of a folder share: a defaults file beside them, or in a folder above.

# genex-defaults.yaml
letterhead: {school: Lantern Street Music School, logo: logo.svg}
handout: {paper: letter}

A recipe inherits each field that it does not have itself, of the nearest file that has it. Names of
files are seen from the file that they stand in.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from genex.errors import RecipeError
from genex.hints import did_you_mean
from genex.inputs import DEFAULTS_FILE, read_file
from genex.recipe.common_mistakes import WORDING
from genex.recipe.fields import RecipeFields
from genex.text.messages import validated
from genex.text.yaml_source import MAX_BYTES, Source, read_source

INHERITED = (
    "letterhead", "handout", "diagrams", "under_chords", "language", "note_names", "font", "outputs",
    "audio", "mix", "humanise", "tuning", "frets", "hand", "left_handed", "courtesy_accidentals",
    "fingerings",
)  # fmt: skip
"""What lessons have in common; what is a lesson's own (title, chart, tempo, exercise) stays its own."""
GROUPS = frozenset({"letterhead", "handout", "diagrams", "audio", "mix"})
"""Fields whose own fields are inherited one by one."""

_WORDING = replace(WORDING, name="defaults file", least="'letterhead: {school: …}'")


def with_defaults(source: Source, names: Sequence[str] = INHERITED) -> Source:
    """A recipe's file filled up with what it inherits of ``names``. Raises RecipeError."""
    for path in _places(source.file):
        defaults = _read(path)
        if defaults is not None:
            source = source.filled_up(defaults, names, GROUPS)
    return source


def inherited(source: Source) -> dict[str, str]:
    """What a file has inherited, such as ``audio.format``, and the file that it stands in."""
    files = {".".join(map(str, path)): source.place(path).file for path in source.lent}
    found = {field: file for field, file in files.items() if file != source.file}
    order = {name: at for at, name in enumerate(INHERITED)}
    return dict(sorted(found.items(), key=lambda one: (order.get(one[0].partition(".")[0], 0), one[0])))


def _places(file: str) -> Iterator[Path]:
    """Where defaults may lie, nearest first: up to the home folder, or to the top of the disk."""
    own = os.path.abspath(Path(file).parent)  # noqa: PTH100 - as a name, with .. taken out
    home, top = os.path.expanduser("~"), Path(own).anchor  # noqa: PTH111 - no error without a home
    for folder in (own, *map(str, Path(own).parents)):
        if folder != top:
            shown = folder if os.path.isabs(file) else os.path.relpath(folder)  # noqa: PTH117
            yield Path(shown, DEFAULTS_FILE)
        if folder == home:
            return


def _read(path: Path) -> Source | None:
    """A defaults file; None where there is none. Raises RecipeError."""
    try:
        read_file(path, MAX_BYTES)
        if _is_strangers(path):
            return None
    except FileNotFoundError:
        return None
    except OSError:
        if not os.path.lexists(path):
            return None  # a folder that cannot be looked into
    source = read_source(path)
    if isinstance(source.data, dict):
        for name in source.data:
            if name in RecipeFields.model_fields and name not in INHERITED:
                raise RecipeError(
                    f"'{name}' is a lesson's own and is not inherited",
                    hint=f"write it into the recipes; here belong: {', '.join(INHERITED)}",
                    place=source.place((name,), of_key=True),
                )
            if name not in RecipeFields.model_fields:
                raise RecipeError(
                    f"there is no field '{name}'",
                    hint=did_you_mean(name, INHERITED),
                    place=source.place((name,), of_key=True),
                )
    validated(RecipeFields, source, _WORDING)
    return source


def _is_strangers(path: Path) -> bool:
    """Whether a file is not to be trusted. Raises OSError."""
    if not hasattr(os, "geteuid"):
        return False
    return not is_trusted(path.parent.stat(), path.stat().st_uid, os.geteuid())


def is_trusted(folder: os.stat_result, owner: int, user: int) -> bool:
    """Whether a user follows a file: none that somebody else has put where everybody may put files."""
    is_shared = folder.st_mode & stat.S_ISVTX and folder.st_mode & stat.S_IWOTH
    return not is_shared or owner in (user, 0)
