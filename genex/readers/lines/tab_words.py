"""The rows of a tab, word by word: what stands above and below the strings."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from genex.errors import InputError
from genex.exact import Fraction
from genex.score import Meter, NoteValue
from genex.theory import NoteName, english_note, parse_chord

_HEADING = re.compile(r"\(?\d{1,4}\)?|\d{1,2}/(?:2|4|8|16)|=[\d.]+")
_NUMBER_WITH_METER = re.compile(r"(?<!\S)\d{1,4} (\d{1,2}/(?:2|4|8|16))(?!\S)")


def tokens_of(row: str) -> dict[int, str]:
    """The words of a row by column."""
    return {match.start(): match.group() for match in re.finditer(r"\S+", row)}


def are_degrees(tokens: Mapping[int, str]) -> bool:
    """Whether words are degrees: ``1``, ``b3``, ``#11``."""
    return all(re.fullmatch(r"[b#]{0,2}\d{1,2}", text) for text in tokens.values())


def is_chord(text: str) -> bool:
    """Whether a word is a chord symbol, or says that no chord is played."""
    try:
        parse_chord(text)
    except InputError:
        return text in ("N.C.", "NC")
    return True


def length_of(value: str, meter: Meter) -> Fraction:
    """A value in letters, in quarter notes."""
    if value == "rest":
        return meter.bar_beats
    plain = value.removeprefix("r").rstrip("~") if value != "~" else ""
    if not plain:
        return Fraction(0)
    if "/" in plain:
        above, below = plain.split("/")
        return Fraction(int(above), max(1, int(below)))
    return sum((NoteValue.of_letters(piece).beats for piece in plain.split("~")), Fraction(0))


def by_string(text: str, frets: Mapping[int, tuple[int | None, str]]) -> dict[int, int]:
    """The fingers of a column by string.

    Those of a pair stand the thinner string's first, those of a grip the thicker one's: the order in
    which a higher finger lies at the higher fret, and else the former.
    """
    strings = sorted(frets)
    fingers = [int(sign) for sign in text]

    def crossed(order: Sequence[int]) -> int:
        placed = [((frets[s][0] or 0, -s), f) for s, f in zip(order, fingers, strict=True) if f]
        return sum(a[0] < b[0] and a[1] > b[1] for a in placed for b in placed)

    order = min((strings, strings[::-1]), key=crossed)
    return dict(zip(order, fingers, strict=True))


def meters_of(row: str) -> Iterator[tuple[int, Meter]]:
    """The meters behind bar numbers, ``5 3/4``, with the column of the number; none in other rows."""
    if all(_HEADING.fullmatch(word) for word in row.split()):
        for match in _NUMBER_WITH_METER.finditer(row):
            yield match.start(), Meter.parse(match[1])


def names_of_string(text: str) -> list[NoteName]:
    """What the name of a string may mean, the English note first: B is H or, in German, B flat."""
    found = []
    if len(text) == 1 or text[1:] in ("b", "#"):
        if text[0] not in "Hh":
            found.append(NoteName.parse(text[0].upper() + text[1:]))
        if text in ("B", "b"):
            found.append(NoteName.parse("Bb"))
    foreign = None if found else english_note(text)
    return found if foreign is None else [NoteName.parse(foreign[0])]
