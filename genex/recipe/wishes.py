"""Scales that a teacher wants in place of those that the harmony asks for: by chord, or by place."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from genex.errors import NotationError
from genex.exact import Fraction
from genex.theory import Chord, Scale, find_scale, parse_chord

_PLACE = re.compile(
    r"(?:bar\s*)?(?P<bar>[0-9]{1,4})(?:(?:\.|\s*beat\s*)(?P<beat>[0-9]{1,2}))?", re.IGNORECASE
)


@dataclass(frozen=True)
class PlaceInForm:
    """A bar of the form, counted from 1 in one chorus, and the beat a chord begins on there."""

    bar: int
    beat: int = 1

    @classmethod
    def parse(cls, text: str) -> PlaceInForm | None:
        """``5``, ``bar 5`` and ``5.3`` (bar 5, beat 3); None for other text."""
        match = _PLACE.fullmatch(text.strip())
        return None if match is None else cls(int(match["bar"]), int(match["beat"] or 1))

    def __str__(self) -> str:
        return f"bar {self.bar}" + (f", beat {self.beat}" if self.beat != 1 else "")


@dataclass(frozen=True)
class ScaleWishes:
    """The scales wanted, each on its chord's root; a place goes before a chord."""

    by_chord: tuple[tuple[Chord, Scale], ...] = ()
    by_place: tuple[tuple[PlaceInForm, Scale], ...] = ()

    def at(self, bar: int, beat: Fraction) -> Scale | None:
        """The scale wanted for the chord that begins on a beat (from 1) of a bar of the form."""
        for place, scale in self.by_place:
            if place.bar == bar and place.beat == beat:
                return scale
        return None


def scale_wishes(written: Mapping[str, str]) -> ScaleWishes:
    """What the field ``scales`` of a recipe says. Raises InputError for what cannot be read."""
    chords: list[tuple[Chord, Scale]] = []
    places: list[tuple[PlaceInForm, Scale]] = []
    for text, name in written.items():
        place, scale = PlaceInForm.parse(text), find_scale(name)
        if place is not None:
            places.append((place, scale))
        else:
            chords.append((read_wish(text), scale))
    return ScaleWishes(tuple(chords), tuple(places))


def read_wish(text: str) -> Chord:
    """The chord that a wish names. Raises NotationError, ChordSymbolError."""
    if text.strip()[:1].isdigit():
        raise NotationError(
            f"'{text}' is neither a chord nor a place in the form",
            hint="write a chord such as Ebm7, a bar such as 5, or a bar and a beat such as 5.3",
        )
    return parse_chord(text)
