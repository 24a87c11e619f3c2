"""No English word is left in a file of another language: every kind of exercise, and what it asks.

Words of English are those of genex's own tables; a word that a language has too is its own. Titles and
names that people type would be left as they are, so here they are no words.
"""

from __future__ import annotations

import html
import re
from itertools import cycle
from typing import get_args

import pytest

from genex.exercises import kinds
from genex.exercises.models.asking import Ask
from genex.export.made_texts import feel_name
from genex.export.phrases import LANGUAGES, NOTE_NAMES, language_tag, made_phrases, words
from genex.page.document import words as page_words
from genex.publishing.maker import files_of, prepare
from genex.publishing.worded import worded
from genex.recipe import parse_recipe

LOANS = {
    # What is allowed to stand in every language, each with its reason.
    "rest": "the sign of tab for a bar's rest, which is read back",
    "line": "a setting of WebVTT",
    "shuffle": "a loan",
}
_WORD = re.compile(r"[^\W\d_]{3,}")
_MARK = re.compile(r"\{\w*\}")
CHART = "Am7 D7 | Gmaj7 |"
OWN = {
    "line": '{kind: line, abc: "L:1/4\\nA B c d |"}',
    "lick": '{kind: lick, abc: "L:1/4\\nE G B d |"}',
    "sequence": "{kind: sequence, pattern: triad pairs, forms: E}",
    "improvise": "{kind: improvise, strings: 1 2, turns: 1, rhythm: given}",
    "aims": "{kind: aims, beat: 2, turns: 1}",
    "calls": "{kind: calls, calls: 2, level: 1, answer_over: next chord, announce: true}",
}
CASES = [
    (*case, next(tag))
    for tag in [cycle([(a, b) for a in LANGUAGES[1:] for b in NOTE_NAMES[1:]])]
    for case in [
        *((kind, OWN.get(kind, f"{{kind: {kind}}}")) for kind in kinds() if kind != "drill"),
        *((f"drill {ask}", f"{{kind: drill, ask: {ask}, rounds: 1}}") for ask in get_args(Ask)),
    ]
]


def _words(text: str) -> set[str]:
    return {word.lower() for word in _WORD.findall(_MARK.sub(" ", text))}


def _english() -> set[str]:
    """Every word of the English tables."""
    phrases = (*words("en").values(), *made_phrases("de"), *page_words("en").values())
    return set().union(*map(_words, phrases))


def _own(language: str) -> set[str]:
    phrases = (*words(language).values(), *made_phrases(language).values())
    return set().union(*map(_words, phrases))


@pytest.mark.parametrize(("name", "exercise", "told"), CASES, ids=lambda case: str(case)[:24])
def test_no_english_word_is_left(name: str, exercise: str, told: tuple[str, str]) -> None:
    language, note_names = told
    asks = name == "calls" or name.startswith("drill")
    recipe = parse_recipe(
        f"title: ''\nchords: {CHART}\nparts: exercise\nlanguage: {language}\nnote_names: {note_names}\n"
        f"outputs: tab captions chart spoken{' answers' if asks else ''}\nexercise: {exercise}"
    )
    for file, data in files_of(prepare(recipe), None):
        text = re.sub(r"<(style|title).*?</\1>|<[^>]+>", " ", data.decode(), flags=re.DOTALL)
        left = (_words(html.unescape(text)) & _english()) - _own(language) - set(LOANS)
        assert left == set(), file.name


def test_a_piece_is_worded_once_and_what_is_typed_stays() -> None:
    recipe = parse_recipe("chords: C | F |\nexercise: {kind: calls, calls: 1}")
    piece = prepare(recipe).piece
    once = worded(piece, language_tag("de", "german"))
    assert worded(once, "fr") == once and worded(piece, "en") is piece
    assert once.score.timeline.sections[0].name == "Ruf 1"
    assert feel_name("My own feel", words("de")) == "My own feel"
