"""A lesson on paper and screen: handout, chart, diagrams, MusicXML."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from genex.band import lead_swing_ratio
from genex.compose import Composition, band_swing, recipe_tuning
from genex.errors import InputError, RecipeError
from genex.exercises.recipe_words import OutputName
from genex.export.chord_chart import chart_text
from genex.export.chord_chart_svg import chart_svg
from genex.export.diagrams import DiagramStyle, sheet_svg, svg_to_png
from genex.export.grip_diagrams import GripStyle, played_svg
from genex.export.handout import (
    Block,
    HandoutSettings,
    Letterhead,
    SheetPart,
    StudentWords,
    handout_pdf,
    lesson_sheet_pdf,
    lesson_spoken_html,
    require_font,
    require_glyphs,
    require_picture,
    spoken_html,
)
from genex.export.lead_sheet import lead_sheet_text
from genex.export.musicxml import musicxml_text
from genex.export.neck_marks import Label
from genex.export.note_names import chord_name
from genex.export.phrases import words
from genex.export.xml_swing import with_swing
from genex.fretboard import chord_shapes
from genex.inputs import read_file
from genex.lines.placement import chords_of
from genex.publishing.fonts import own_font
from genex.publishing.worded import tag_of, worded
from genex.publishing.worksheets import worksheet_of
from genex.readers.font import Font
from genex.readers.logo import MAX_BYTES, read_logo
from genex.recipe import Recipe
from genex.recipe.fields import DiagramFields, HandoutFields, LetterheadFields
from genex.recipe.slug import slug_of
from genex.score import Score
from genex.theory import Chord, distinct_chords, parse_chord

_FEW_CHORDS = 2
SHEETS: dict[OutputName, tuple[str, str]] = {
    "handout": (".handout.pdf", "handout"),
    "spoken": (".spoken.html", "spoken edition"),
}
"""Suffix and kind of the sheet, and of the sheet in words."""


def printed_files(recipe: Recipe, piece: Composition) -> Iterator[tuple[str, str, Callable[[], bytes]]]:
    """``(suffix, kind, make)`` of each file that the recipe asks for. Raises InputError."""
    piece = replace(piece, score=piece.score.written())
    wanted, language, score = recipe.outputs, tag_of(recipe), piece.score

    def settings() -> HandoutSettings:
        return handout_settings(recipe, piece)

    if "handout" in wanted:
        yield *SHEETS["handout"], lambda: handout_pdf(score, settings())
    if "spoken" in wanted:
        yield *SHEETS["spoken"], lambda: spoken_html(score, settings()).encode()
    if "chart" in wanted:
        under, capo = recipe.fields.under_chords, recipe.fields.capo
        yield (
            ".chart.txt",
            "chart",
            lambda: chart_text(score, language=language, under=under, capo=capo).encode(),
        )
        yield (
            ".chart.svg",
            "chart",
            lambda: chart_svg(
                score, language=language, under=under, capo=capo, font=own_font(recipe)
            ).encode(),
        )
    if "diagrams" in wanted:
        yield from _diagrams(recipe, score)
    if "musicxml" in wanted and score.lead_parts:
        ratio, pair_beats = band_swing(recipe, score.timeline)
        courtesy = recipe.fields.courtesy_accidentals
        swing = lead_swing_ratio(ratio), pair_beats  # lines swing less than the band
        yield (
            ".musicxml",
            "musicxml",
            lambda: with_swing(
                musicxml_text(score, fold_repeats=True, courtesy=courtesy), *swing
            ).encode(),
        )
    if "leadsheet" in wanted:
        yield ".leadsheet.musicxml", "musicxml lead sheet", lambda: lead_sheet_text(score).encode()


def lesson_files(
    recipe: Recipe, pieces: Sequence[Composition]
) -> Iterator[tuple[str, str, Callable[[], bytes]]]:
    """As ``printed_files``, what is made once of a lesson of several exercises, whose pieces are
    given."""
    wanted = [name for name in SHEETS if name in recipe.outputs]
    if not wanted:
        return
    whole = _handout_settings(recipe, pieces[0].score)
    parts = sheet_parts(zip(recipe.exercises, pieces, strict=True))
    makers: dict[OutputName, Callable[[], bytes]] = {
        "handout": lambda: lesson_sheet_pdf(recipe.title, parts, whole),
        "spoken": lambda: lesson_spoken_html(recipe.title, parts, whole).encode(),
    }
    yield from ((*SHEETS[name], makers[name]) for name in wanted)


def sheet_parts(music: Iterable[tuple[Recipe, Composition]]) -> list[SheetPart]:
    """Exercises and their pieces as a sheet shows them. Raises RecipeError."""
    told = ((recipe, worded(piece, tag_of(recipe))) for recipe, piece in music)
    return [SheetPart(piece.score.written(), handout_settings(recipe, piece)) for recipe, piece in told]


def require_lesson_drawable(recipe: Recipe, pieces: Sequence[Composition]) -> None:
    """As ``require_drawable``, of a lesson of several exercises, whose pieces are given."""
    wanted = tuple(name for name in recipe.outputs if name in SHEETS)
    if not wanted:
        return
    require_drawable(recipe, pieces[0].score)
    for one, piece in zip(recipe.exercises, pieces, strict=True):
        _require_own_drawable(replace(one, outputs=wanted), piece.score)


def require_drawable(recipe: Recipe, score: Score) -> None:
    """Raise InputError, with its place, for what cannot be drawn: text or shapes of chords.

    To be asked where there are ``DRAWN_OUTPUTS``.
    """
    if (font := own_font(recipe)) is not None:
        try:
            require_font(font)
        except InputError as error:
            error.place = recipe.place("font")
            raise
    if "handout" in recipe.outputs:
        _require_letterhead(recipe)
    _require_own_drawable(recipe, score)


def _require_own_drawable(recipe: Recipe, score: Score) -> None:
    """As ``require_drawable``, but for the letterhead, which exercises have of their lesson."""
    if "handout" in recipe.outputs:
        for path, text in [
            (("title",), recipe.title),
            *((("sections", section.name), section.name) for section in recipe.sections),
            (("aim",), recipe.fields.aim or ""),
            (("remarks",), recipe.fields.remarks or ""),
            (("homework",), recipe.fields.homework or ""),
        ]:
            try:
                require_glyphs(text, own_font(recipe))
            except InputError as error:
                error.place = recipe.place(*path)
                raise
    neck = recipe_tuning(recipe)
    try:
        chords = _drawn_chords(score) if "diagrams" in recipe.outputs else ()
        settings = _handout_settings(recipe, score)
        is_sheet = not {"handout", "spoken"}.isdisjoint(recipe.outputs)
        if is_sheet and "shapes" in settings.blocks and score.timeline.has_chords:
            chords = (*chords, *(settings.shapes_for or _drawn_chords(score)))
        for chord in chords:
            chord_shapes(chord, neck)
    except InputError as error:
        if error.place is None:
            error.place = recipe.place("outputs")
        raise


def handout_settings(recipe: Recipe, piece: Composition) -> HandoutSettings:
    """What a recipe asks of its sheet. Raises RecipeError."""
    return replace(_handout_settings(recipe, piece.score), worksheet=worksheet_of(piece))


def _require_letterhead(recipe: Recipe) -> None:
    """Raise InputError, with its place, for what cannot be set at the head of the sheet."""
    for name, text in dict(recipe.fields.letterhead or LetterheadFields()).items():
        try:
            require_glyphs(text or "", own_font(recipe))
        except InputError as error:
            error.place = recipe.place("letterhead", name)
            raise
    if (logo := _letterhead(recipe).logo) is not None:
        try:
            require_picture(logo)
        except InputError as error:
            error.place = recipe.place("letterhead", "logo")
            raise


def _letterhead(recipe: Recipe) -> Letterhead:
    """The head of the sheet, its logo read. Raises InputError."""
    head = recipe.fields.letterhead or LetterheadFields()
    logo = None
    if head.logo is not None:
        place = recipe.place("letterhead", "logo")
        path = recipe.source.folder_of(("letterhead", "logo")) / head.logo
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


def _handout_settings(recipe: Recipe, score: Score) -> HandoutSettings:
    wish = recipe.fields.handout or HandoutFields()
    try:
        chords = None if wish.shapes_for is None else tuple(map(parse_chord, wish.shapes_for))
    except InputError as error:
        place = recipe.place("handout", "shapes_for")
        raise RecipeError(error.message, hint=error.hint, place=place) from None
    return HandoutSettings(
        paper=wish.paper,
        tuning=recipe_tuning(recipe),
        left_handed=recipe.fields.left_handed,
        language=tag_of(recipe),
        font=own_font(recipe),
        closed=wish.closed,
        large_print=wish.large_print,
        courtesy_accidentals=recipe.fields.courtesy_accidentals,
        blocks=_blocks(recipe, wish, score),
        shapes_for=chords,
        tempo_steps=wish.tempos,
        under_chords=recipe.fields.under_chords,
        letterhead=_letterhead(recipe),
        student=StudentWords(
            recipe.fields.aim or "",
            recipe.fields.remarks or "",
            recipe.fields.homework or "",
            wish.writing_lines,
        ),
    )


def _blocks(recipe: Recipe, wish: HandoutFields, score: Score) -> tuple[Block, ...]:
    """The blocks asked for; else those that are usual with the exercise.

    The shapes of one chord or two belong on the sheet; those of more would be a book.
    """
    exercise = recipe.fields.exercise
    if "blocks" in wish.model_fields_set:
        return wish.blocks
    usual = wish.blocks if exercise is None else exercise.usual_blocks
    chords = distinct_chords(span.chord for span in score.timeline.chords if span.chord is not None)
    holds = any(part.chordal for part in score.lead_parts)  # its grips are shown instead
    few = "lines" in usual and not holds and 0 < len(chords) <= _FEW_CHORDS
    return (*usual, "shapes") if few or wish.shapes_for is not None else usual


def _drawn_chords(score: Score) -> tuple[Chord, ...]:
    """The chords of a score whose shapes differ. Raises LineError where there is none."""
    return distinct_chords(chords_of(score.timeline, "make shapes of"))


def _diagrams(recipe: Recipe, score: Score) -> Iterator[tuple[str, str, Callable[[], bytes]]]:
    """A sheet of the shapes of every chord; where chords are held, one of the grips that are played."""
    wish = recipe.fields.diagrams or DiagramFields()
    if any(part.chordal and part.notes for part in score.lead_parts):
        yield f".grips.{wish.format}", "diagrams", lambda: _grips(recipe, score, wish)
        return
    second: Label = "degrees" if wish.label == "fingers" else "fingers"
    style = DiagramStyle(
        wish.label, second, wish.theme, wish.spacing, recipe.fields.left_handed, direction=wish.direction
    )
    neck = recipe_tuning(recipe)
    chords = _drawn_chords(score)
    names, language = chord_names(chords), tag_of(recipe)

    def sheet(chord: Chord) -> bytes:
        found = chord_shapes(chord, neck, with_open=not wish.closed)
        symbol = chord_name(chord, words(language))
        svg = sheet_svg(symbol, found, neck, style, language=language)
        return _picture(svg, wish, own_font(recipe))

    for chord, name in zip(chords, names, strict=True):
        yield f".shapes-{name}.{wish.format}", "diagrams", partial(sheet, chord)


def _grips(recipe: Recipe, score: Score, wish: DiagramFields) -> bytes:
    below: Label = "none" if wish.label == "fingers" else wish.label
    style = GripStyle(below, wish.theme, recipe.fields.left_handed)
    svg = played_svg(score, recipe_tuning(recipe), style, language=tag_of(recipe))
    return _picture(svg, wish, own_font(recipe))


def _picture(svg: str, wish: DiagramFields, font: Font | None) -> bytes:
    return (
        svg.encode()
        if wish.format == "svg"
        else svg_to_png(svg, width_mm=wish.width and float(wish.width), font=font)
    )


def chord_names(chords: Sequence[Chord]) -> list[str]:
    """A file name for each chord: its plain symbol; numbers set apart what letters cannot.

    C+ and C°, Cm7 and CM7 differ in signs or case that a file name does not keep.
    """
    slugs = [slug_of(_spelled_out(chord)) for chord in chords]
    seen: Counter[str] = Counter()
    names = []
    for slug in slugs:
        seen[slug] += 1
        names.append(slug if seen[slug] == 1 else f"{slug}-{seen[slug]}")
    return names


def _spelled_out(chord: Chord) -> str:
    symbol = chord.plain_symbol
    for sign, word in (("+", "aug"), ("°", "dim"), ("ø", "m7b5"), ("Δ", "maj7"), ("/", "-over-")):
        symbol = symbol.replace(sign, word)
    return symbol
