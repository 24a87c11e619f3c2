"""Texts of exercises in every language."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from string import Formatter

import pytest

import genex
from genex.export.handout.typeset import require_glyphs
from genex.export.made_texts import in_language, scale_name
from genex.export.phrases import LANGUAGES, made_phrases, words
from genex.lines.chord_drills import INVERSIONS
from genex.lines.drills import INTERVALS
from genex.said import Row, Said
from genex.theory import SCALES, Key, NoteName, TypeName, find_scale, parse_chord

OTHERS = LANGUAGES[1:]


def _phrases() -> set[str]:
    """Every phrase that the house makes texts of: what stands in ``Said(…)`` or is called a phrase."""
    house = Path(genex.__file__).parent
    grooves = (path.read_text("utf-8") for path in (house / "band" / "grooves").glob("*.yaml"))
    titles = (re.search(r"^title: (.+)$", text, re.MULTILINE) for text in grooves)
    found = {*INTERVALS, *INVERSIONS, *SCALES, *(title[1] for title in titles if title)}
    for path in house.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            named: list[ast.expr] = []
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Said":
                named = [node.args[0]]
            elif isinstance(node, ast.Assign) and _is_phrase(node.targets[0]):
                named = [node.value]
            found |= {text for value in named for text in _texts(value)}
    return {phrase for phrase in found if _letters(phrase) or ":" in phrase}


def _texts(value: ast.expr) -> set[str]:
    """The texts that an expression may be; of a tuple's its first."""
    if isinstance(value, ast.Constant) and isinstance(value.value, str):
        return {value.value}
    if isinstance(value, ast.IfExp):
        return _texts(value.body) | _texts(value.orelse)
    return _texts(value.elts[0]) if isinstance(value, ast.Tuple) else set()


def _is_phrase(target: ast.expr) -> bool:
    first = target.elts[0] if isinstance(target, ast.Tuple) else target
    return isinstance(first, ast.Name) and first.id == "phrase"


def _letters(phrase: str) -> str:
    return "".join(text for text, *_ in Formatter().parse(phrase) if text).strip(" ,():;.")


def _marks(phrase: str) -> list[str]:
    return sorted(name for _, name, _, _ in Formatter().parse(phrase) if name)


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_says_all_that_exercises_say_and_no_more(language: str) -> None:
    table, wanted = made_phrases(language), _phrases()
    assert set(table) - wanted == set()
    assert wanted - set(table) == set()
    assert {key for key in table if _marks(key) != _marks(table[key])} == set()
    for text in table.values():
        require_glyphs(text)


def test_texts_are_said_with_the_names_of_notes() -> None:
    text = Said("Play these notes alone: {notes}.", notes=Row(map(NoteName.parse, ["C", "Eb", "B"])))
    told = {tag: in_language(text, words(tag)) for tag in ("en", "de-x-german", "fr-x-solfege")}
    assert told == {
        "en": "Play these notes alone: C Eb B.",
        "de-x-german": "Spiel nur diese Töne: C Es H.",
        "fr-x-solfege": "Joue seulement ces notes\u00a0: Do Mi♭ Si.",
    }
    chord = parse_chord("Bm7b5")
    text = Said("{type}: {chord} ({notes})", type=TypeName(chord), chord=chord, notes=Row(chord.notes))
    assert text == "half-diminished seventh: Bm7b5 (B D F A)"
    assert in_language(text, words("es-x-solfege")) == ("menor siete bemol cinco: Sim7♭5 (Si Re Fa La)")
    key = Said("{key} scale", key=Key.parse("B minor"))
    assert in_language(key, words("de-x-german")) == "h-Moll-Tonleiter"


def test_what_somebody_typed_stays() -> None:
    assert in_language("Listen", words("de")) == "Listen"
    assert in_language(Said("Turn {number}: {notes}", number=1, notes="Listen"), words("de")) == (
        "Runde 1: Listen"
    )


def test_scales() -> None:
    assert scale_name(find_scale("mixolydian"), words("it")) == "misolidio"
