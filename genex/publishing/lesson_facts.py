"""What is told of a lesson that was composed: as long as it is the same, it is not composed for that.

A change of one lesson of four hundred would compose them all, only to say how long each is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from genex.compose import click_note, recipe_tuning, tempo_note
from genex.publishing.amounts import Outlook, amounts_of
from genex.publishing.maker import Job
from genex.publishing.own_shapes import lesson_notes
from genex.recipe import Recipe
from genex.score import Score


@dataclass(frozen=True)
class LessonFacts:
    """Of a job: ``music``, what the manifest says of each piece by its slug; ``notes``, what its author
    should know; ``amounts``, how much each version is."""

    music: Mapping[str, Mapping[str, Any]]
    notes: tuple[str, ...]
    amounts: tuple[Outlook, ...]

    def as_json(self) -> dict[str, Any]:
        """As data, for ``facts_from``."""
        return asdict(self)


def facts_of(job: Job) -> LessonFacts:
    """What is told of a job, by its first version."""
    music = {one.slug: _music(one, piece.score) for one, piece in job.music}
    with job.inputs.active():
        notes = [note for one, piece in job.music for note in _notes(one, piece.score)]
    return LessonFacts(music, tuple(dict.fromkeys(notes)), tuple(amounts_of(job)))


def facts_from(data: Mapping[str, Any]) -> LessonFacts:
    """What ``as_json`` wrote. Raises KeyError, TypeError for other data."""
    amounts = (Outlook(**{**one, "making": tuple(one["making"])}) for one in data["amounts"])
    return LessonFacts(data["music"], tuple(data["notes"]), tuple(amounts))


def _notes(recipe: Recipe, score: Score) -> Iterator[str]:
    told = tempo_note(recipe), click_note(recipe, score.parts)
    yield from (note for note in told if note is not None)
    yield from lesson_notes(recipe, score.timeline, recipe_tuning(recipe))


def _music(recipe: Recipe, score: Score) -> dict[str, Any]:
    """What a manifest tells of a piece."""
    return {
        "title": recipe.title,
        "key": str(recipe.versions[0].key),
        "meter": str(recipe.meter),
        "tempo": float(recipe.versions[0].tempo),
        "feel": score.feel,
        "seed": recipe.fields.seed,
        "bars": len(score.timeline.bars),
        "length_beats": str(score.length_beats),
        "parts": [part.name for part in score.parts],
    }
