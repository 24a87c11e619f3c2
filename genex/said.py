"""Texts that genex makes up, in English, which exporters say again in the language of a sheet.

A ``Said`` is its English text, and whoever only wants that takes it for the string that it is. It
remembers the phrase it was made from and what was put into it: the phrase is looked up in the table of
another language, note names and chord symbols are written as its readers write them. Imports nothing of
genex.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any


class Said(str):
    """``Said("Turn {number}", number=2)``: the English text, its phrase and its values.

    Values are numbers, notes, chords, keys, plain text, or texts of this kind. Whatever makes a new
    string of it (slices, ``+``, f-strings) gives plain English: a larger phrase takes it as a value.
    """

    phrase: str
    values: dict[str, Any]

    def __new__(cls, phrase: str, /, **values: Any) -> Said:
        text = super().__new__(cls, phrase.format(**values))
        text.phrase, text.values = phrase, values
        return text

    def __getnewargs_ex__(self) -> tuple[tuple[str], dict[str, Any]]:
        return (self.phrase,), self.values


class Row(tuple[Any, ...]):
    """Values side by side, ``E G A``, as one value of a text."""

    def __new__(cls, values: Iterable[Any], between: str = " ") -> Row:
        row = super().__new__(cls, values)
        row.between = between
        return row

    between: str

    def __getnewargs__(self) -> tuple[tuple[Any, ...], str]:
        return tuple(self), self.between

    def __str__(self) -> str:
        return self.between.join(map(str, self))

    def __format__(self, spec: str) -> str:
        return format(str(self), spec)
