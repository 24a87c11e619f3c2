"""What musicians call a chord, and how else it is written."""

from __future__ import annotations

from dataclasses import dataclass

from genex.theory.chord import Chord

_INVERSIONS = {3: "first inversion", 5: "second inversion", 7: "third inversion"}


@dataclass(frozen=True)
class Description:
    """Names without the root, the usual one first; other symbols for the same chord."""

    names: tuple[str, ...]
    also_written: tuple[str, ...]


def describe(chord: Chord) -> Description:
    """Common names and other spellings, both from the quality table.

    A chord that is no row of the table is named after the nearest row: ``dominant seventh, flat
    nine, sharp eleven``. With a slash bass the inversion, or the bass note, is added.
    """
    reading = chord.reading
    is_row = not (reading.altered or reading.added or reading.omitted)
    names = reading.base.names if is_row else (reading.name,)
    slash = f"/{chord.bass}" if chord.has_slash else ""
    bodies = reading.base.written if is_row else ()
    symbols = [chord.plain_symbol]
    symbols += [f"{chord.root}{_guarded(body)}{slash}" for body in bodies]
    also_written = tuple(symbol for symbol in dict.fromkeys(symbols) if symbol != chord.symbol)
    return Description(tuple(name + _position(chord) for name in names), also_written)


@dataclass(frozen=True, slots=True)
class TypeName:
    """What a chord is called without its root, to be put into a text: its usual English name."""

    chord: Chord

    def __str__(self) -> str:
        return describe(self.chord).names[0]

    def __format__(self, spec: str) -> str:
        return format(str(self), spec)


def _guarded(body: str) -> str:
    return f"({body})" if body[:1] in ("b", "#") else body


def _position(chord: Chord) -> str:
    if not chord.has_slash:
        return ""
    degree = chord.degree_of(chord.bass.pitch_class)
    inversion = _INVERSIONS.get(degree.number) if degree is not None else None
    return f", {inversion}" if inversion else f", over {chord.bass}"
