"""The words of a page in each language."""

from __future__ import annotations

import re
from string import Formatter
from typing import get_args

import pytest

from genex.errors import InputError
from genex.export.handout import HandoutSettings, handout_pdf
from genex.export.handout.typeset import require_glyphs
from genex.export.phrases import LANGUAGES, key_name, listed, words
from genex.recipe.fields import Language
from tests.export.builders import small_score

OTHERS = [language for language in LANGUAGES if language != "en"]

SAME_AS_ENGLISH = {
    "part_and_name": {"de", "es", "it", "pt"},  # signs alone
    "key_name": {"es", "fr", "it", "pt"},
    # words that English has from Italian, or shares
    "say_segno": {"es", "fr", "it", "pt"},
    "say_coda": {"es", "fr", "it", "pt"},
    "tab_vibrato": {"es", "fr", "it", "pt"},
    "tempo": {"de", "es", "fr"},
    "tempo_steps": {"de", "es", "fr"},
    "numbered_form": {"de"},
    "chord_maj": {"de"},  # C major seven is said so in German, Dur being C without a seventh
    "chord_add": {"de"},
    "position": {"fr"},
    "tab_accent": {"fr"},
    "turn_answer": {"pt"},
    "part_click": {"it"},
    "part_question": {"fr"},
    "part_signal": {"fr"},
    "colophon": {"it"},
    # names of notes, which are fixed do in English too
    "syllables": {"de", "es", "it"},
    "note_names": set(OTHERS),
}
"""Phrases that are rightly those of English."""

LISTS = {"numbers": 21, "ordinals": 16, "ordinal_figures": 37, "finger_ordinals": 5}


def placeholders(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in Formatter().parse(text) if name)


def test_an_unknown_language_is_refused() -> None:
    with pytest.raises(InputError, match="no texts in the language"):
        handout_pdf(small_score(), HandoutSettings(language="xx"))


def test_a_recipe_may_ask_for_every_language_and_no_other() -> None:
    assert get_args(Language) == LANGUAGES
    names = [words(language)["language_name"] for language in LANGUAGES]
    assert names == ["English", "Deutsch", "español", "français", "italiano", "português"]
    assert all(words(language)["language"] == language for language in LANGUAGES)


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_says_all_that_english_says(language: str) -> None:
    english, table = words("en"), words(language)
    assert list(table) == list(english)
    assert all(text.strip() for text in table.values())
    assert {k for k in table if placeholders(table[k]) != placeholders(english[k])} == set()
    assert {k for k in table if table[k] == english[k]} == {
        key for key, languages in SAME_AS_ENGLISH.items() if language in languages
    }


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_a_language_prints_can_be_set(language: str) -> None:
    table = words(language)
    for text in table.values():
        require_glyphs(text)
    assert {name: len(table[name].split()) for name in LISTS} == LISTS
    assert len(table["string_ordinals"].split()) >= 13  # more strings than any neck has, and none


def test_legends_of_tab_keep_their_signs() -> None:
    """What stands before the explanation is what stands in the tab."""
    for key, text in words("en").items():
        sign = re.match(r"\S{1,3}( \S{1,3}){0,2} [:=] ", text)
        if key.startswith("tab_") and sign:
            assert all(words(language)[key].startswith(sign[0]) for language in OTHERS), key


def test_french_signs_are_kept_with_the_word_before_them() -> None:
    """[published: Imprimerie nationale, Lexique des règles typographiques]"""
    loose = [k for k, t in words("fr").items() if " ;" in t or (" :" in t and not k.startswith("tab_"))]
    assert loose == []


@pytest.mark.parametrize(
    ("language", "told"),
    [("en", "8th B♭ minor"), ("de", "8. B♭-Moll"), ("fr", "8e B♭ mineur"), ("it", "8ª B♭ minore")],
)
def test_positions_and_keys(language: str, told: str) -> None:
    table = words(language)
    assert f"{listed(table, 'ordinal_figures', 8)} {key_name('B♭', 'minor', table)}" == told


def test_ordinals() -> None:
    found = [listed(words("en"), "ordinal_figures", n) for n in (1, 2, 3, 4, 11, 12, 13, 21, 22)]
    assert found == "1st 2nd 3rd 4th 11th 12th 13th 21st 22nd".split()
    assert listed(words("en"), "numbers", 21) == "21"
