"""A lesson on paper and screen: handout, chart, diagrams, MusicXML."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from genex.compose import distinct_chords, recipe_tuning
from genex.errors import InputError, RecipeError
from genex.export.chord_chart import chart_svg, chart_text
from genex.export.diagrams import DiagramStyle, sheet_svg, svg_to_png
from genex.export.handout import Block, HandoutSettings, handout_pdf
from genex.export.handout.typeset import require_glyphs
from genex.export.musicxml import lead_sheet_text, musicxml_text
from genex.export.neck_marks import Label
from genex.fretboard import chord_shapes
from genex.recipe import Recipe, exercises
from genex.recipe.fields import DiagramFields, HandoutFields
from genex.recipe.slug import slug_of
from genex.score import Score
from genex.theory import Chord, parse_chord


def printed_files(recipe: Recipe, score: Score) -> Iterator[tuple[str, str, bytes]]:
    """``(suffix, kind, data)`` of each file that the recipe asks for. Raises InputError."""
    wanted = recipe.outputs
    if "handout" in wanted:
        yield ".handout.pdf", "handout", handout_pdf(score, _handout_settings(recipe))
    if "chart" in wanted:
        language = recipe.fields.language
        yield ".chart.txt", "chart", chart_text(score, language=language).encode()
        yield ".chart.svg", "chart", chart_svg(score, language=language).encode()
    if "diagrams" in wanted:
        yield from _diagrams(recipe, score)
    if "musicxml" in wanted and score.lead_parts:
        yield ".musicxml", "musicxml", musicxml_text(score, fold_repeats=True).encode()
    if "leadsheet" in wanted:
        yield ".leadsheet.musicxml", "musicxml lead sheet", lead_sheet_text(score).encode()


def require_drawable(recipe: Recipe, score: Score) -> None:
    """Raise InputError, with its place, for what cannot be drawn: text or shapes of chords.

    To be asked where there are ``DRAWN_OUTPUTS``.
    """
    if "handout" in recipe.outputs:
        for path, text in [
            (("title",), recipe.title),
            *((("sections", section.name), section.name) for section in recipe.sections),
        ]:
            try:
                require_glyphs(text)
            except InputError as error:
                error.place = recipe.place(*path)
                raise
    neck = recipe_tuning(recipe)
    try:
        chords = distinct_chords(score.timeline) if "diagrams" in recipe.outputs else ()
        settings = _handout_settings(recipe)
        if "handout" in recipe.outputs and "shapes" in settings.blocks and score.timeline.has_chords:
            chords = (*chords, *(settings.shapes_for or distinct_chords(score.timeline)))
        for chord in chords:
            chord_shapes(chord, neck)
    except InputError as error:
        if error.place is None:
            error.place = recipe.place("outputs")
        raise


def _handout_settings(recipe: Recipe) -> HandoutSettings:
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
        language=recipe.fields.language,
        blocks=_blocks(recipe, wish),
        shapes_for=chords,
        tempo_steps=wish.tempos,
    )


def _blocks(recipe: Recipe, wish: HandoutFields) -> tuple[Block, ...]:
    """The blocks asked for; of themselves, calls and drills keep what is played to the answer key."""
    exercise = recipe.fields.exercise
    if "blocks" in wish.model_fields_set or not isinstance(exercise, exercises.Calls | exercises.Drill):
        return wish.blocks
    hidden = {"lines", "practice"} | (
        {"chart", "shapes"} if isinstance(exercise, exercises.Drill) else set()
    )
    return tuple(block for block in wish.blocks if block not in hidden)


def _diagrams(recipe: Recipe, score: Score) -> Iterator[tuple[str, str, bytes]]:
    """A sheet of the shapes of every chord."""
    wish = recipe.fields.diagrams or DiagramFields()
    second: Label = "degrees" if wish.label == "fingers" else "fingers"
    style = DiagramStyle(wish.label, second, wish.theme, wish.spacing, recipe.fields.left_handed)
    neck = recipe_tuning(recipe)
    chords = distinct_chords(score.timeline)
    names = chord_names(chords)
    for chord, name in zip(chords, names, strict=True):
        found = chord_shapes(chord, neck, with_open=not wish.closed)
        svg = sheet_svg(str(chord), found, neck, style)
        data = svg.encode() if wish.format == "svg" else svg_to_png(svg)
        yield f".shapes-{name}.{wish.format}", "diagrams", data


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
