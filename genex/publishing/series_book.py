"""What a series has on paper beside its lessons: the chord-type book, posters, all sheets bound."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from genex.errors import GenexError
from genex.export.handout import (
    BookSettings,
    book_pdf,
    bound_pdf,
    chord_pdf,
    chord_pngs,
    poster_pdf,
)
from genex.publishing.fonts import own_font
from genex.publishing.letterheads import letterhead_of, require_letterhead
from genex.publishing.maker import Job
from genex.publishing.own_shapes import book_tuning
from genex.publishing.printed_files import chord_names, handout_settings, sheet_parts
from genex.publishing.series_files import bound_name
from genex.publishing.worded import tag_of
from genex.recipe import Series
from genex.theory import Chord, Key, NoteName, interval_between


def book_files(series: Series, processes: int = 1) -> dict[str, bytes]:
    """Names and contents of the book's files, made by so many processes at the most; none where the
    series asks for no book."""
    book = series.fields.book
    if book is None:
        return {}
    settings = BookSettings(
        paper=book.paper,
        tuning=book_tuning(series),
        left_handed=series.fields.left_handed,
        language=tag_of(series),
        closed=book.closed,
        title=series.title,
        font=own_font(series),
        date=book.date or "",
        licence=book.licence or "",
        letterhead=letterhead_of(series),
    )
    with _telling_faults_of_the_logo(series):
        files = {_book_name(series): book_pdf(series.chords, settings, processes=processes)}
    if book.pages:
        for chord, name in zip(series.chords, chord_names(series.chords), strict=True):
            files[f"{name}.pdf"] = chord_pdf(chord, settings)
            for number, picture in enumerate(chord_pngs(chord, settings), start=1):
                files[f"{name}-{number}.png"] = picture
    for name, chord in _posters(series).items():
        files[name] = poster_pdf(chord, settings)
    return files


def book_names(series: Series) -> list[str]:
    """Names of the book's files. Pages of single chords have to be made to be counted."""
    if series.fields.book is not None and series.fields.book.pages:
        return list(book_files(series))
    return [_book_name(series), *_posters(series)]


def _book_name(series: Series) -> str:
    return f"{series.slug}.book.pdf"


def _posters(series: Series) -> dict[str, Chord]:
    """The chord of each poster by its name; none where the series asks for no posters."""
    if series.fields.book is None or not series.fields.book.posters:
        return {}
    firsts = {chord.quality: chord for chord in reversed(series.chords)}
    # On C, so that it has the same name whatever roots the book has.
    on_c = [
        chord.transpose(interval_between(Key(chord.root), Key(NoteName.parse("C"))))
        for chord in reversed(firsts.values())
    ]
    names = (f"{name}.poster.pdf" for name in chord_names(on_c))
    return dict(zip(names, on_c, strict=True))


def bound_files(series: Series, jobs: Sequence[Job]) -> dict[str, bytes]:
    """The handouts of the lessons that have one as one PDF; of several keys and tempos the first."""
    lessons = [
        (
            job.recipe.title,
            sheet_parts(job.music),
            handout_settings(job.recipe, job.piece),
        )
        for job in jobs
        if "handout" in job.recipe.outputs
    ]
    date = series.fields.book.date if series.fields.book else None
    head = letterhead_of(series)
    with _telling_faults_of_the_logo(series):
        bound = bound_pdf(series.title, lessons, date=date or "", letterhead=head)
    return {bound_name(series): bound}


@contextmanager
def _telling_faults_of_the_logo(series: Series) -> Iterator[None]:
    """A page that cannot be set because of the logo says so, with its place. To be asked beforehand
    would cost the book its helpers, as the typesetter's threads keep a process from being copied."""
    try:
        yield
    except GenexError:
        require_letterhead(series)
        raise
