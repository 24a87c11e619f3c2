"""The chord-type book: title, colophon, contents, two facing pages a chord, an index; its pages alone.

The left page has the chord over the whole neck and its shapes, the right one the practice path
of every shape in notation and tab. Each is one page, whatever the paper and the neck: what would be
higher is drawn smaller. So the first chord is on page 4, and none is a blank.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

from genex.errors import InputError
from genex.export.diagrams import DiagramStyle, neck_svg
from genex.export.handout.content import (
    Json,
    ShapeGrid,
    chord_data,
    page_data,
    tuning_text,
)
from genex.export.handout.pictures import paper_picture, system_pictures
from genex.export.handout.settings import (
    GUTTER_MM,
    MARGIN_MM,
    PAPER_MM,
    STANDARD_BOOK,
    TOP_AND_BOTTOM_MM,
    BookSettings,
    text_width_mm,
)
from genex.export.handout.shape_score import path_score
from genex.export.handout.system_breaks import engrave_path
from genex.export.handout.typeset import pdf, plain_text, png_pages
from genex.export.musicxml import parts_document
from genex.export.neck_marks import chord_marks
from genex.export.neck_text import shape_heading
from genex.export.note_names import chord_name, root_name
from genex.export.phrases import words
from genex.export.repeat_signs import full_page
from genex.export.spoken import bar_sentence, chord_in_words, spoken_bars, type_names
from genex.export.typography import with_signs
from genex.fretboard import Shape
from genex.theory import Chord, NoteName, Pitch, describe, parse_chord

MOST_CHORDS = 400
"""A book of more would be a mistake in a list, not a book."""

OVERVIEW_FRETS = 15
COLUMNS, MANY_COLUMNS = 2, 3
MANY_SHAPES = 6
LARGEST_UNIT_MM = 0.27
"""Two columns of larger diagrams fill the left page; three where a chord has an open form too, or
shapes of the player's own."""

_HEAD_MM, _HEADING_MM = 11.0, 9.6
_SMALLEST = 0.75
"""Height of the right page's head and of the heading of each path, and how much smaller systems may
be drawn for the sake of one page."""


def book_pdf(chords: Sequence[Chord], settings: BookSettings = STANDARD_BOOK) -> bytes:
    """A book of chords in the order given; the same bytes for the same chords and settings.

    A chord named twice is in it once. Raises InputError for no chords, far too many, or
    characters that the fonts lack, FretboardError for a chord that the neck cannot hold.
    """
    return pdf("book", book_data(chords, settings))


def chord_pdf(chord: Chord, settings: BookSettings = STANDARD_BOOK) -> bytes:
    """The pages of one chord alone: its shapes, then its paths."""
    return pdf("chord_pages", _chord_pages(chord, settings))


def chord_pngs(
    chord: Chord, settings: BookSettings = STANDARD_BOOK, *, dots_per_inch: float = 150.0
) -> tuple[bytes, ...]:
    """The pages of one chord as PNG images, for the screen or a video."""
    return png_pages("chord_pages", _chord_pages(chord, settings), dots_per_inch=dots_per_inch)


@lru_cache(maxsize=1)
def _chord_pages(chord: Chord, settings: BookSettings) -> Json:
    """Kept, as PDF and images are asked for one after the other and engraving takes the longest."""
    data = book_data([chord], settings)
    phrases = words(settings.language)
    title = f"{with_signs(chord_name(chord, phrases))}, {type_names(chord, phrases)[0]}"
    return {**data, "title": title, "short_title": title, "unnumbered": 0}


def book_data(chords: Sequence[Chord], settings: BookSettings) -> Json:
    """Everything that ``templates/book.typ`` sets."""
    wanted = list(dict.fromkeys(chords))
    if not wanted:
        raise InputError("the book has no chords", hint="list chord symbols, such as Cmaj7 Dm7 G7")
    if len(wanted) > MOST_CHORDS:
        raise InputError(f"a book of {len(wanted)} chords", hint=f"list at most {MOST_CHORDS}")
    phrases = words(settings.language)
    found = [(chord, settings.shapes_of(chord)) for chord in wanted]
    grids = _grids(found, settings)
    title = plain_text(settings.title) or phrases["book_title"]
    return {
        **page_data(title, settings.paper, settings.language, settings.font),
        "unnumbered": 1,
        "inside_mm": MARGIN_MM + GUTTER_MM,
        "outside_mm": MARGIN_MM - GUTTER_MM,
        "about": _about(wanted, settings, phrases),
        "colophon": _colophon(settings, phrases),
        "roots": list(dict.fromkeys(_root(chord, phrases) for chord in wanted)),
        "matrix": _matrix(wanted, phrases),
        "chords": [
            {
                **_entry(chord, shapes, settings, grids[_columns(shapes)]),
                "twins": _twins(chord, wanted),
            }
            for chord, shapes in found
        ],
        "index": _index(wanted, phrases),
    }


def _columns(shapes: Sequence[Shape]) -> int:
    return MANY_COLUMNS if len(shapes) >= MANY_SHAPES else COLUMNS


def _grids(
    found: Sequence[tuple[Chord, Sequence[Shape]]], settings: BookSettings
) -> dict[int, ShapeGrid]:
    """By the number of columns one grid for all chords that have so many: diagrams of one scale."""
    by_columns: dict[int, list[Shape]] = {}
    for _, shapes in found:
        by_columns.setdefault(_columns(shapes), []).extend(shapes)
    return {
        columns: ShapeGrid.of(shapes, settings, columns=columns, largest_unit_mm=LARGEST_UNIT_MM)
        for columns, shapes in by_columns.items()
    }


def _about(chords: Sequence[Chord], settings: BookSettings, phrases: Mapping[str, str]) -> list[str]:
    """What stands under the title."""
    told = [
        phrases["chords_one" if len(chords) == 1 else "chords_more"].format(count=len(chords)),
        tuning_text(settings.tuning.strings, phrases),
    ]
    if settings.tuning.capo:
        told.append(phrases["capo_counted"].format(capo=settings.tuning.capo))
    if settings.left_handed:
        told.append(phrases["for_left_hand"])
    return told


def _colophon(settings: BookSettings, phrases: Mapping[str, str]) -> list[str]:
    """Date and licence as they are given, none taken from a clock; how it was made."""
    given = [plain_text(text) for text in (settings.date, settings.licence) if text.strip()]
    return [tuning_text(settings.tuning.strings, phrases), *given, phrases["book_made"]]


def _root(chord: Chord, phrases: Mapping[str, str]) -> str:
    return with_signs(root_name(chord.root, phrases))


def _type_of(chord: Chord) -> str:
    """A chord's symbol without its root; with the name of a triad, whose symbol is the root alone."""
    return with_signs(chord.symbol.removeprefix(str(chord.root)))


def _matrix(chords: Sequence[Chord], phrases: Mapping[str, str]) -> list[Json]:
    """A row a type, in it the number of the chord on each root, None where there is none."""
    roots = list(dict.fromkeys(str(chord.root) for chord in chords))
    rows: dict[str, Json] = {}
    for number, chord in enumerate(chords):
        told = _type_of(chord)
        new = {
            "type": told or phrases["major"],
            "name": type_names(chord, phrases)[0] if told else "",
            "chords": [None] * len(roots),
        }
        rows.setdefault(told, new)["chords"][roots.index(str(chord.root))] = number
    return list(rows.values())


def _twins(chord: Chord, chords: Sequence[Chord]) -> list[int]:
    """The numbers of the chords that have the same tones, on whatever root, under whatever name."""
    return [
        number
        for number, other in enumerate(chords)
        if other is not chord and other.pitch_classes == chord.pitch_classes
    ]


def _entry(
    chord: Chord, shapes: Sequence[Shape], settings: BookSettings, grid: ShapeGrid
) -> dict[str, Any]:
    about, phrases = describe(chord), words(settings.language)
    return {
        **chord_data(chord, shapes, settings, grid),
        "root": _root(chord, phrases),
        "also_called": list(type_names(chord, phrases)[1:]),
        "also_written": [
            with_signs(chord_name(parse_chord(symbol), phrases)) for symbol in about.also_written
        ],
        "neck": _overview(chord, settings),
        "paths": _on_a_page([_path(chord, shape, settings) for shape in shapes], settings),
    }


def _on_a_page(paths: list[dict[str, Any]], settings: BookSettings) -> list[dict[str, Any]]:
    """The paths with systems a little smaller, if that brings them onto one page."""
    systems = [system for path in paths for system in path["systems"]]
    room_mm = PAPER_MM[settings.paper][1] - TOP_AND_BOTTOM_MM - _HEAD_MM - _HEADING_MM * len(paths)
    share = room_mm / sum(system["height_mm"] for system in systems)
    if _SMALLEST <= share < 1:
        for system in systems:
            for length in ("width_mm", "height_mm", "hang_mm"):
                system[length] *= share
    return paths


def _overview(chord: Chord, settings: BookSettings) -> Json:
    """The chord over the neck, as wide as the text."""
    last = min(OVERVIEW_FRETS, settings.tuning.last_fret)
    style = DiagramStyle(left_handed=settings.left_handed)
    marks = chord_marks(chord, settings.tuning, last_fret=last)
    svg = neck_svg(marks, settings.tuning, style, frets=(1, last), language=settings.language)
    alt = chord_in_words(chord, words(settings.language))
    return paper_picture(svg, text_width_mm(settings.paper), alt=alt)


def _path(chord: Chord, shape: Shape, settings: BookSettings) -> dict[str, Any]:
    score = path_score(chord, shape, settings.tuning)
    page = full_page(score.timeline)
    document = parts_document(
        score, score.lead_parts, page, show_degrees=True, engraved_in=settings.language
    )
    lines = engrave_path(document, score, text_width_mm(settings.paper))
    (part,) = score.parts
    spoken = spoken_bars(part, score.timeline, settings.language)
    return {
        "heading": shape_heading(shape, settings.language),
        "systems": system_pictures(lines, [bar_sentence(bar) for bar in spoken.values()]),
    }


def _other_names(root: NoteName) -> list[NoteName]:
    """The other usual name of a black key: D♭ for C♯."""
    if root.alter not in (-1, 1):
        return []
    names = (Pitch.from_midi(60 + root.pitch_class, flats=flats).name for flats in (False, True))
    return [name for name in names if name != root and name.alter]


def _index(chords: Sequence[Chord], phrases: Mapping[str, str]) -> list[Json]:
    """Names and spellings with the numbers of their chords, in alphabetical order."""
    terms: dict[str, list[int]] = {}
    for number, chord in enumerate(chords):
        about = describe(chord)
        spelled = [chord, *map(parse_chord, about.also_written)]
        kind = chord.symbol.removeprefix(str(chord.root))
        spelled += [replace(chord, symbol=f"{root}{kind}", root=root, bass=root)
                    for root in _other_names(chord.root) if not chord.has_slash]  # fmt: skip
        symbols = [with_signs(chord_name(each, phrases)) for each in spelled]
        for term in (*type_names(chord, phrases), *symbols):
            numbers = terms.setdefault(term, [])
            if number not in numbers:
                numbers.append(number)
    ordered = sorted(terms, key=lambda term: (term.casefold(), term))
    return [{"term": term, "chords": terms[term]} for term in ordered]
