"""Written durations as note values (``score/note_values.py``). Lengths are quarter-note beats."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from genex.exact import Fraction
from genex.score import BASE_VALUES, TUPLETS, NoteValue


def _values() -> dict[Fraction, NoteValue]:
    """Each length with its plainest value: undotted before dotted before tuplets."""
    found: dict[Fraction, NoteValue] = {}
    for dots, tuplet in ((0, 1), (1, 1), *((0, tuplet) for tuplet in TUPLETS)):
        for base in BASE_VALUES:
            value = NoteValue(base, dots, tuplet)
            found.setdefault(value.beats, value)
    return found


VALUES = _values()


@lru_cache(maxsize=4096)
def spell(length_beats: Fraction) -> tuple[NoteValue, ...]:
    """The fewest values (at most four), the longest first, that add up to a length.

    Tuplet values take part only where the length asks for them. Empty where four values do not
    reach it.
    """
    wanted = {1} | {tuplet for tuplet in TUPLETS if length_beats.denominator % tuplet == 0}
    usable = sorted((length for length, value in VALUES.items() if value.tuplet in wanted), reverse=True)
    for count in range(1, 5):
        if found := _spell(length_beats, count, usable):
            return found
    return ()


def _spell(length_beats: Fraction, count: int, usable: list[Fraction]) -> tuple[NoteValue, ...]:
    if count == 1:
        return (VALUES[length_beats],) if length_beats in VALUES else ()
    for length in usable:
        # The longest of `count` values is at least their mean.
        if length < length_beats and length * count >= length_beats:
            rest = _spell(length_beats - length, count - 1, usable)
            if rest and rest[0].beats <= length:
                return (VALUES[length], *rest)
    return ()


def letters(values: Sequence[NoteValue], length_beats: Fraction) -> str:
    """Tied values in letters, ``h~e``; a fraction of a beat where no values reach the length."""
    return "~".join(value.letters for value in values) if values else str(length_beats)


_COUNTED = re.compile(r"\d+|&|e|a|la|li|ta")
"""What is counted with, in any division of the beat (``lines/counting.py``)."""


def is_counted(syllable: str) -> bool:
    """Whether a syllable is a count, and no word that is sung."""
    return _COUNTED.fullmatch(syllable.removesuffix("-")) is not None
