"""A poster of one chord type: the whole neck on each of twelve roots, on one large sheet."""

from __future__ import annotations

from typing import Any

from genex.export.diagrams import DiagramStyle, neck_svg
from genex.export.handout.content import page_data
from genex.export.handout.pictures import paper_picture
from genex.export.handout.settings import MARGIN_MM, STANDARD_BOOK, BookSettings, Paper
from genex.export.handout.typeset import pdf
from genex.export.neck_marks import chord_marks
from genex.export.note_names import chord_name, note_name
from genex.export.phrases import capitalised, words
from genex.export.spoken import chord_in_words, type_names
from genex.export.typography import with_signs
from genex.theory import Chord, Key, NoteName, interval_between, key_cycle

POSTER_MM: dict[Paper, tuple[float, float]] = {"a4": (420.0, 594.0), "letter": (431.8, 558.8)}
"""Four times the area of two sheets of the paper [published: ISO 216, A2; ANSI/ASME Y14.1, C]."""

POSTER_FRETS = 12
"""Then the neck begins anew."""
COLUMNS = 2
GAP_MM = 12.0


def poster_pdf(chord: Chord, settings: BookSettings = STANDARD_BOOK) -> bytes:
    """The type of a chord over the twelve roots; the same bytes for the same chord and settings."""
    return pdf("poster", poster_data(chord, settings))


def poster_data(chord: Chord, settings: BookSettings) -> dict[str, Any]:
    """Everything that ``templates/poster.typ`` sets."""
    phrases = words(settings.language)
    wide_mm, high_mm = POSTER_MM[settings.paper]
    cell_mm = (wide_mm - 2 * MARGIN_MM - GAP_MM * (COLUMNS - 1)) / COLUMNS
    last = min(POSTER_FRETS, settings.tuning.last_fret)
    cells = []
    for root in (key.tonic for key in key_cycle(Key(NoteName.parse("C")), "chromatic")):
        moved = chord.transpose(interval_between(Key(chord.root), Key(root)))
        marks = chord_marks(moved, settings.tuning, last_fret=last)
        style = DiagramStyle(left_handed=settings.left_handed)
        svg = neck_svg(marks, settings.tuning, style, frets=(1, last), language=settings.language)
        told = ", ".join(with_signs(note_name(note, phrases)) for note in moved.notes)
        picture = paper_picture(svg, cell_mm, alt=chord_in_words(moved, phrases))
        cells.append({"symbol": with_signs(chord_name(moved, phrases)), "notes": told, "neck": picture})
    name = type_names(chord, phrases)[0]
    return {
        **page_data(capitalised(name), settings.paper, settings.language, settings.font),
        "width_mm": wide_mm,
        "height_mm": high_mm,
        "columns": COLUMNS,
        "gap_mm": GAP_MM,
        "degrees": " ".join(with_signs(str(degree)) for degree in chord.degrees),
        "cells": cells,
    }
