"""The font that a recipe or a series names for letters that genex's own fonts lack."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from genex.errors import InputError, RecipeError
from genex.inputs import read_file
from genex.readers.font import MAX_BYTES, Font, read_font
from genex.recipe import Recipe, Series


def own_font(source: Recipe | Series) -> Font | None:
    """The font, read; None where none is named. Raises InputError, with its place."""
    path = _path(source)
    if path is None:
        return None
    place = source.source.place(("font",))
    try:
        return read_font(read_file(path, MAX_BYTES), str(path))
    except OSError as problem:
        raise RecipeError(
            f"the font {path} cannot be read: {problem.strerror}",
            hint="write the name of a .ttf or .otf file",
            place=place,
        ) from None
    except InputError as error:
        raise RecipeError(f"{path.name}: {error.message}", hint=error.hint, place=place) from None


def fonts_digest(sources: Iterable[Recipe | Series]) -> str:
    """A digest of the fonts that some recipes name, each file once. Raises OSError."""
    digest = hashlib.sha256()
    for path in dict.fromkeys(filter(None, map(_path, sources))):
        digest.update(hashlib.sha256(read_file(path, MAX_BYTES)).digest())
    return digest.hexdigest()


def _path(source: Recipe | Series) -> Path | None:
    named = source.fields.font
    return None if named is None else source.source.folder_of(("font",)) / named
