"""Every phrase that exporters print for the reader, in one place.

A language is a table with the same keys as ``en``. Signs and musical names (chord symbols, note
names, degrees) are not words and stay as they are.
"""

from __future__ import annotations

from collections.abc import Mapping

from genex.errors import InputError

_ENGLISH = {
    "form": "{form} form",
    "numbered_form": "Form {form}",
    "position": "{ordinal} position",
    "root": "root",
    "other_tone": "other tone",
    "small_fingers": "small number: finger",
    "small_degrees": "small sign: degree",
    "small_notes": "small letter: note",
    "key": "Key",
    "tempo": "Tempo",
    "meter": "Meter",
    "feel": "Feel",
    "major": "major",
    "minor": "minor",
}

LANGUAGES: dict[str, Mapping[str, str]] = {"en": _ENGLISH}


def words(language: str = "en") -> Mapping[str, str]:
    """The phrases of a language. Raises InputError for one that is not there."""
    try:
        return LANGUAGES[language]
    except KeyError:
        raise InputError(
            f"there are no texts in the language '{language}'",
            hint=f"write one of: {', '.join(LANGUAGES)}",
        ) from None
