"""Texts that exercises make (``genex.said``), in the language of a sheet."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from genex.export.note_names import chord_name, degree_text, key_words, note_name, pitch_name
from genex.export.phrases import made_phrases
from genex.export.spoken import type_names
from genex.said import Row, Said
from genex.theory import Chord, Degree, Key, NoteName, Pitch, Scale, TypeName


def in_language(text: str, phrases: Mapping[str, str]) -> str:
    """A text in the language of ``phrases``, its notes named as there; what somebody typed as it is."""
    if not isinstance(text, Said):
        return text
    phrase = made_phrases(phrases["language"]).get(text.phrase, text.phrase)
    return phrase.format(**{name: _told(value, phrases) for name, value in text.values.items()})


def scale_name(scale: Scale, phrases: Mapping[str, str]) -> str:
    """``mixolydian``, ``mixolydisch``."""
    return made_phrases(phrases["language"]).get(scale.name, scale.name)


def feel_name(title: str, phrases: Mapping[str, str]) -> str:
    """The title of a feel that comes with genex in a language; of another one its own."""
    return made_phrases(phrases["language"]).get(title, title)


def _told(value: Any, phrases: Mapping[str, str]) -> str:
    if isinstance(value, str):
        return in_language(value, phrases)
    if isinstance(value, Row):
        return value.between.join(_told(each, phrases) for each in value)
    named = _NAMED.get(type(value))
    return str(value) if named is None else named(value, phrases)


def _type_name(name: TypeName, phrases: Mapping[str, str]) -> str:
    return type_names(name.chord, phrases)[0]


_NAMED: Mapping[type, Callable[[Any, Mapping[str, str]], str]] = {
    NoteName: note_name,
    Degree: degree_text,
    Pitch: pitch_name,
    Chord: chord_name,
    Key: key_words,
    Scale: scale_name,
    TypeName: _type_name,
}
