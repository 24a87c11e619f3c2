"""A piece with the texts that its exercise made in the language of the sheet."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from genex.compose import Composition
from genex.export.made_texts import feel_name, in_language
from genex.export.phrases import language_tag, words
from genex.lines.study_plan import Task
from genex.recipe import Recipe, Series
from genex.score import Score, Timeline


def tag_of(source: Recipe | Series) -> str:
    """Language and note names of the sheets of a recipe or a series, as exporters take them."""
    return language_tag(source.fields.language, source.fields.note_names)


def worded(piece: Composition, language: str) -> Composition:
    """The piece with captions, answers, choices, task and names of sections in a language.

    What somebody typed stays; a piece that has been worded stays as it is.
    """
    if language == "en":
        return piece
    phrases = words(language)

    def told(text: str) -> str:
        return in_language(text, phrases)

    def task(given: Task) -> Task:
        return replace(
            given,
            rules=tuple(map(told, given.rules)),
            necks=tuple((told(heading), places) for heading, places in given.necks),
            aims=tuple((onset, told(text)) for onset, text in given.aims),
        )

    return replace(
        piece,
        score=worded_score(piece.score, language),
        cues=tuple(replace(cue, text=told(cue.text)) for cue in piece.cues),
        answers=tuple(replace(answer, text=told(answer.text)) for answer in piece.answers),
        choices=tuple(replace(choice, text=told(choice.text)) for choice in piece.choices),
        task=None if piece.task is None else task(piece.task),
    )


def worded_score(score: Score, language: str) -> Score:
    """A score whose feel and sections are named in a language, these as far as exercises named them."""
    feel = feel_name(score.feel, words(language))
    return replace(score, feel=feel, timeline=_worded_timeline(score.timeline, language))


@lru_cache(maxsize=8)
def _worded_timeline(timeline: Timeline, language: str) -> Timeline:
    phrases = words(language)
    return replace(
        timeline,
        bars=tuple(replace(bar, section=in_language(bar.section, phrases)) for bar in timeline.bars),
        sections=tuple(
            replace(span, name=in_language(span.name, phrases)) for span in timeline.sections
        ),
    )
