"""Every phrase that exporters print for the reader, in one place.

A language is a file of ``languages`` with the same keys as ``en``. Signs and musical names (chord
symbols, note names, degrees) are not words and stay as they are. Terms are those of guitar methods and
theory books in each language [memory].
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from genex.errors import InputError

LANGUAGES = ("en", "de", "es", "fr", "it", "pt")
"""Codes of the languages [published: ISO 639-1]; Portuguese is that of Brazil."""

_FOLDER = Path(__file__).parent / "languages"


def words(language: str = "en") -> Mapping[str, str]:
    """The phrases of a language. Raises InputError for one that is not there."""
    if language not in LANGUAGES:
        raise InputError(
            f"there are no texts in the language '{language}'",
            hint=f"write one of: {', '.join(LANGUAGES)}",
        )
    return _read(language)


@lru_cache(maxsize=len(LANGUAGES))
def _read(language: str) -> Mapping[str, str]:
    return MappingProxyType(json.loads((_FOLDER / f"{language}.json").read_text("utf-8")))


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
