"""The letterhead of a recipe or a series, its logo read."""

from __future__ import annotations

from genex.errors import InputError, RecipeError
from genex.export.handout import Letterhead, require_glyphs, require_picture
from genex.inputs import read_file
from genex.readers.logo import MAX_BYTES, read_logo
from genex.recipe.fields import LetterheadFields
from genex.text.yaml_source import Source


def require_readable(fields: LetterheadFields | None, source: Source) -> Letterhead:
    """The head of a sheet, whose words can be set. Raises InputError with its place."""
    for name, text in dict(fields or LetterheadFields()).items():
        try:
            require_glyphs(text or "")
        except InputError as error:
            error.place = source.place(("letterhead", name))
            raise
    return letterhead_of(fields, source)


def require_letterhead(fields: LetterheadFields | None, source: Source) -> None:
    """Raise InputError, with its place, for what cannot be set at the head of a sheet.

    Whether a picture can, the typesetter is asked, whose threads stay.
    """
    if (logo := require_readable(fields, source).logo) is not None:
        try:
            require_picture(logo)
        except InputError as error:
            error.place = source.place(("letterhead", "logo"))
            raise


def letterhead_of(fields: LetterheadFields | None, source: Source) -> Letterhead:
    """The head of a sheet or a book. Raises InputError."""
    head = fields or LetterheadFields()
    logo = None
    if head.logo is not None:
        place = source.place(("letterhead", "logo"))
        path = source.folder_of(("letterhead", "logo")) / head.logo
        try:
            logo = read_logo(read_file(path, MAX_BYTES), str(path))
        except OSError as problem:
            raise RecipeError(
                f"the logo {path} cannot be read: {problem.strerror}",
                hint="write the name of an .svg or .png file",
                place=place,
            ) from None
    return Letterhead(
        head.school or "",
        head.teacher or "",
        head.contact or "",
        head.licence or "",
        head.link or "",
        logo,
    )
