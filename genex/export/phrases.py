"""Every phrase that exporters print for the reader, in one place.

A language is a file of ``languages`` with the same keys as ``en``, and one of ``languages/made`` with
what exercises say (``genex.said``), by its English phrase. Signs and degrees are not words and stay as
they are; how notes and chords are named is told with the language (``language_tag``). Terms are those of
guitar methods and theory books in each language [memory].
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from genex.errors import InputError

LANGUAGES = ("en", "de", "es", "fr", "it", "pt")
"""Codes of the languages [published: ISO 639-1]; Portuguese is that of Brazil."""

NOTE_NAMES = ("english", "german", "solfege")
"""How notes are named: C D E F G A B with Bb; C D E F G A H with B for Bb; do re mi fa sol la si."""

_FOLDER = Path(__file__).parent / "languages"
_TAG = re.compile(r"([a-z]+)(?:-x-([a-z]+))?")


def language_tag(language: str, note_names: str = "english") -> str:
    """What exporters take as ``language``: ``de``, or ``de-x-german`` with other note names than English
    ones [published: BCP 47, private use subtags]."""
    return language if note_names == "english" else f"{language}-x-{note_names}"


def words(language: str = "en") -> Mapping[str, str]:
    """The phrases of a language; under ``note_names`` how notes are named.

    Raises InputError for one that is not there.
    """
    tag = _TAG.fullmatch(language)
    code, names = (tag[1], tag[2] or NOTE_NAMES[0]) if tag is not None else (language, "")
    if code not in LANGUAGES or names not in NOTE_NAMES:
        raise InputError(
            f"there are no texts in the language '{language}'",
            hint=f"write one of: {', '.join(LANGUAGES)}",
        )
    return _read(code, names)


@lru_cache(maxsize=len(LANGUAGES) * len(NOTE_NAMES))
def _read(language: str, note_names: str) -> Mapping[str, str]:
    table = _file(f"{language}.json")
    if note_names != NOTE_NAMES[0]:
        # What is said there of English names does not hold.
        table |= _file("without_english_names.json").get(language, {})
    return MappingProxyType({**table, "note_names": note_names})


@lru_cache(maxsize=len(LANGUAGES))
def made_phrases(language: str) -> Mapping[str, str]:
    """By their English, phrases that exercises make texts of, and names of scales and feels."""
    return MappingProxyType({} if language == LANGUAGES[0] else _file(f"made/{language}.json"))


def _file(name: str) -> Any:
    return json.loads((_FOLDER / name).read_text("utf-8"))


def listed(phrases: Mapping[str, str], table: str, number: int) -> str:
    """A word of a table that is counted from 0, such as ``ordinals``; figures where the table ends."""
    found = phrases[table].split()
    return found[number] if 0 <= number < len(found) else str(number)


def capitalised(text: str) -> str:
    """Text that begins with a capital; all else stays as it is."""
    return text[:1].upper() + text[1:]


def sentence(told: Iterable[str]) -> str:
    """Phrases as one sentence."""
    return f"{capitalised('; '.join(told))}."


def part_name(name: str, phrases: Mapping[str, str]) -> str:
    """The name of a part in words, if it is one that genex gives."""
    return phrases.get(f"part_{name}", name)


def key_name(tonic: str, mode: str, phrases: Mapping[str, str]) -> str:
    """``B♭ major``."""
    return phrases["key_name"].format(tonic=tonic, mode=phrases[mode])
