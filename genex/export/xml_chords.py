"""Chords in the terms of MusicXML: a kind, and degrees that differ from it.

[published: MusicXML 4.0, elements kind, degree and degree-alter] An added degree counts from the
degree of a dominant chord (major and perfect, but a minor seventh); an altered one from the
degree that the kind already has.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from genex.theory import Chord, Degree

KINDS: dict[str, str] = {
    "major": "1 3 5",
    "minor": "1 b3 5",
    "dominant": "1 3 5 b7",
    "major-seventh": "1 3 5 7",
    "minor-seventh": "1 b3 5 b7",
    "diminished": "1 b3 b5",
    "augmented": "1 3 #5",
    "half-diminished": "1 b3 b5 b7",
    "diminished-seventh": "1 b3 b5 bb7",
    "augmented-seventh": "1 3 #5 b7",
    "major-minor": "1 b3 5 7",
    "major-sixth": "1 3 5 6",
    "minor-sixth": "1 b3 5 6",
    "dominant-ninth": "1 3 5 b7 9",
    "major-ninth": "1 3 5 7 9",
    "minor-ninth": "1 b3 5 b7 9",
    "dominant-11th": "1 3 5 b7 9 11",
    "major-11th": "1 3 5 7 9 11",
    "minor-11th": "1 b3 5 b7 9 11",
    "dominant-13th": "1 3 5 b7 9 11 13",
    "major-13th": "1 3 5 7 9 11 13",
    "minor-13th": "1 b3 5 b7 9 11 13",
    "suspended-second": "1 2 5",
    "suspended-fourth": "1 4 5",
    "power": "1 5",
}
"""The tones of each kind [published: MusicXML 4.0, simple type kind-value]."""

_TONES = {kind: tuple(Degree.parse(text) for text in row.split()) for kind, row in KINDS.items()}


@dataclass(frozen=True, slots=True)
class DegreeChange:
    """One ``degree`` element. ``kind`` is ``add``, ``alter`` or ``subtract``."""

    number: int
    alter: int
    kind: str


@dataclass(frozen=True, slots=True)
class Harmony:
    """A kind and what differs from it."""

    kind: str
    changes: tuple[DegreeChange, ...]


def harmony(chord: Chord) -> Harmony:
    """The kind that needs the fewest changes; the plainest of equal ones.

    An added seventh is avoided, since readers differ on whether it is counted from the minor
    seventh: C7sus4 is a dominant chord with a fourth for its third.
    """
    return _harmony(chord.degrees)


@lru_cache(maxsize=1024)
def _harmony(degrees: tuple[Degree, ...]) -> Harmony:
    found = [Harmony(kind, _changes(degrees, tones)) for kind, tones in _TONES.items()]
    return min(found, key=_strain)


def _strain(candidate: Harmony) -> int:
    added_sevenths = sum(change.number == 7 and change.kind == "add" for change in candidate.changes)
    return len(candidate.changes) + 3 * added_sevenths


def _changes(degrees: tuple[Degree, ...], tones: tuple[Degree, ...]) -> tuple[DegreeChange, ...]:
    wanted: dict[int, list[int]] = {}
    for degree in degrees:
        wanted.setdefault(degree.number, []).append(degree.alter)
    base = {tone.number: tone.alter for tone in tones}
    changes = []
    for number in sorted({*wanted, *base}):
        alters = list(wanted.get(number, ()))
        if number in base:
            if base[number] in alters:
                alters.remove(base[number])
            elif alters:
                changes.append(DegreeChange(number, alters.pop(0) - base[number], "alter"))
            else:
                changes.append(DegreeChange(number, 0, "subtract"))
        changes += [DegreeChange(number, _from_dominant(number, alter), "add") for alter in alters]
    return tuple(changes)


def _from_dominant(number: int, alter: int) -> int:
    return alter + 1 if number == 7 else alter


def printed_kind(chord: Chord) -> str:
    """The part of the symbol between root and slash, as the chart writes it."""
    text = chord.symbol
    length = 1
    while length < len(text) and text[length] in "b#♭♯𝄫𝄪":
        length += 1
    text = text[length:]
    if chord.has_slash and "/" in text:
        text = text[: text.rindex("/")]
    return text
