"""The letterhead of a recipe or a series, its logo read."""

from __future__ import annotations

from genex.errors import InputError, RecipeError
from genex.export.handout import Letterhead, require_glyphs, require_picture
from genex.inputs import read_file
from genex.publishing.fonts import own_font
from genex.readers.logo import MAX_BYTES, read_logo
from genex.recipe import Recipe, Series
from genex.recipe.fields import LetterheadFields


def require_readable(source: Recipe | Series) -> Letterhead:
    """The head of a sheet, whose words can be set. Raises InputError with its place."""
    for name, text in dict(source.fields.letterhead or LetterheadFields()).items():
        try:
            require_glyphs(text or "", own_font(source))
        except InputError as error:
            error.place = source.source.place(("letterhead", name))
            raise
    return letterhead_of(source)


def require_letterhead(source: Recipe | Series) -> None:
    """Raise InputError, with its place, for what cannot be set at the head of a sheet.

    Whether a picture can, the typesetter is asked, whose threads stay.
    """
    if (logo := require_readable(source).logo) is not None:
        try:
            require_picture(logo)
        except InputError as error:
            error.place = source.source.place(("letterhead", "logo"))
            raise


def letterhead_of(source: Recipe | Series) -> Letterhead:
    """The head of a sheet or a book. Raises InputError."""
    head = source.fields.letterhead or LetterheadFields()
    logo = None
    if head.logo is not None:
        place = source.source.place(("letterhead", "logo"))
        path = source.source.folder_of(("letterhead", "logo")) / head.logo
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
