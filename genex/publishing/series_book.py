"""A series' chord-type book: one file, and a page and pictures for each chord."""

from __future__ import annotations

from genex.export.handout import BookSettings, book_pdf, chord_pdf, chord_pngs
from genex.publishing.own_shapes import book_tuning
from genex.recipe import Series
from genex.recipe.slug import slug_of


def book_files(series: Series) -> dict[str, bytes]:
    """Names and contents of the book's files; none where the series asks for no book."""
    book = series.fields.book
    if book is None:
        return {}
    settings = BookSettings(
        paper=book.paper,
        tuning=book_tuning(series),
        left_handed=series.fields.left_handed,
        closed=book.closed,
        title=series.title,
        date=book.date or "",
        licence=book.licence or "",
    )
    files = {f"{series.slug}.book.pdf": book_pdf(series.chords, settings)}
    if book.pages:
        for chord in series.chords:
            name = slug_of(str(chord))
            files[f"{name}.pdf"] = chord_pdf(chord, settings)
            for number, picture in enumerate(chord_pngs(chord, settings), start=1):
                files[f"{name}-{number}.png"] = picture
    return files
