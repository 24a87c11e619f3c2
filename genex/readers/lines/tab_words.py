"""The rows of a tab, word by word: what stands above and below the strings."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from genex.errors import InputError
from genex.exact import Fraction
from genex.score import Meter, NoteValue
from genex.theory import NoteName, NoteNames, english_note, english_syllable, parse_chord
from genex.units import round_half_up

_EIGHTH = Fraction(1, 2)
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


def english_symbol(text: str, note_names: NoteNames) -> str:
    """A chord symbol by other names of notes as it is in English: ``H7`` and ``B/D`` by German ones are
    B7 and Bb/D; what is none stays as it is."""
    if note_names == "english" or text in ("N.C.", "NC"):
        return text
    return "/".join(_english(part, note_names) for part in text.split("/"))


def _english(text: str, note_names: NoteNames) -> str:
    if note_names == "solfege":
        found = english_syllable(text)
        return text if found is None else "".join(found)
    if text[:1] == "H":
        return "B" + text[1:]
    return f"Bb{text[1:]}" if text[:1] == "B" and text[1:2] not in ("b", "♭") else text


def names_meant(symbols: Sequence[str]) -> NoteNames | None:
    """By which names of notes all words are chord symbols, where they are none in English."""
    if all(map(is_chord, symbols)):
        return None
    others: tuple[NoteNames, ...] = ("german", "solfege")
    return next(
        (names for names in others if all(is_chord(english_symbol(text, names)) for text in symbols)),
        None,
    )


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


def time_at(column: int, times: Mapping[int, tuple[Fraction, Fraction]], right: int) -> Fraction:
    """The time of a word over a column, to an eighth: inside of a held note as far as it stands from the
    note's column to the next, or to the bar line at ``right``.

    ``times`` has onset and length of each column of the bar.
    """
    begun = [one for one in times if one <= column]
    if not begun:
        return min(times.values())[0]
    start = max(begun)
    end = min((one for one in times if one > column), default=right)
    onset, length = times[start]
    inside = length * Fraction(column - start, end - start)
    return onset + min(length, Fraction(round_half_up(inside / _EIGHTH)) * _EIGHTH)


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
