"""The practice page of a lesson, with all the keys and tempos that its recipe asks for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from genex.compose import Composer, Composition, band_swing, recipe_tuning
from genex.page.document import page_html
from genex.page.lesson import PageLesson, PageSetting
from genex.publishing.fonts import own_font
from genex.publishing.worded import tag_of, worded
from genex.recipe import Recipe, Version


def lesson_page(
    recipe: Recipe, lessons: Sequence[PageLesson], soundfont: Path, digest: str | None
) -> bytes:
    """The page of a recipe with its music: one piece, or the exercises. Raises SoundfontError."""
    language = recipe.fields.language
    font = own_font(recipe)
    return page_html(recipe.title, lessons, soundfont, language=language, digest=digest, font=font)


def page_lesson(recipe: Recipe, first: Composition, composer: Composer) -> PageLesson:
    """A lesson for a page, whose first version is ``first``: each key as it is composed at the first
    tempo."""
    language = tag_of(recipe)
    others = (worded(composer.piece(version), language) for version in _other_keys(recipe))
    settings = [worded(first, language), *others]
    return PageLesson(
        recipe.title,
        recipe.slug,
        tuple(PageSetting(piece.score, piece.cues, piece.answers) for piece in settings),
        tempos=tuple(dict.fromkeys(float(version.tempo) for version in recipe.versions)),
        swing=_swing(recipe, first),
        left_handed=recipe.fields.left_handed,
        neck=recipe_tuning(recipe),
        language=language,
    )


def _other_keys(recipe: Recipe) -> Iterable[Version]:
    """The first version in each key but the first."""
    firsts: dict[str, Version] = {}
    for version in recipe.versions:
        firsts.setdefault(str(version.key), version)
    return list(firsts.values())[1:]


def _swing(recipe: Recipe, piece: Composition) -> float:
    """The band's swing where it swings by eighths at one tempo; else 1, which cannot be changed."""
    timeline = piece.score.timeline
    ratio, pair_beats = band_swing(recipe, timeline)
    return 1.0 if pair_beats != 1 or len(timeline.tempo.changes) > 1 else ratio
