"""The one table of scales. Which of them suit a chord: ``chord_scales.py``.

Degrees are written over the root as musicians spell them (the altered scale has a #2, the
half-whole diminished scale a #2 and a #4). Names are those of common English usage; synonyms
stand beside them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from genex.errors import NotationError
from genex.hints import nearest
from genex.theory.chord import Chord
from genex.theory.pitch import Degree, NoteName


@dataclass(frozen=True)
class Scale:
    """A scale without a root: degrees ascending, and the names it goes by."""

    name: str
    degrees: tuple[Degree, ...]
    other_names: tuple[str, ...] = ()

    @cached_property
    def semitones(self) -> frozenset[int]:
        """Semitones above the root, 0 to 11."""
        return frozenset(degree.semitones % 12 for degree in self.degrees)

    def notes(self, root: NoteName) -> tuple[NoteName, ...]:
        """The spelled notes over a root, from the root up."""
        return tuple(root.degree(degree) for degree in self.degrees)

    def pitch_classes(self, root: NoteName) -> frozenset[int]:
        """Pitch classes 0 to 11 over a root."""
        return frozenset((root.pitch_class + step) % 12 for step in self.semitones)

    def holds(self, chord: Chord) -> bool:
        """Whether every chord tone lies in the scale on the chord's root."""
        return all(degree.semitones % 12 in self.semitones for degree in chord.degrees)

    def __str__(self) -> str:
        return self.name


# name | degrees | other names
_TABLE = """
major | 1 2 3 4 5 6 7 | ionian
dorian | 1 2 b3 4 5 6 b7 |
phrygian | 1 b2 b3 4 5 b6 b7 |
lydian | 1 2 3 #4 5 6 7 |
mixolydian | 1 2 3 4 5 6 b7 |
natural minor | 1 2 b3 4 5 b6 b7 | aeolian; minor
locrian | 1 b2 b3 4 b5 b6 b7 |
melodic minor | 1 2 b3 4 5 6 7 | melodic minor (ascending); jazz minor
dorian b2 | 1 b2 b3 4 5 6 b7 | phrygian natural 6; phrygian #6
lydian augmented | 1 2 3 #4 #5 6 7 | lydian #5
lydian dominant | 1 2 3 #4 5 6 b7 | lydian b7; mixolydian #11; mixolydian #4
mixolydian b6 | 1 2 3 4 5 b6 b7 | mixolydian b13; aeolian dominant
locrian natural 2 | 1 2 b3 4 b5 b6 b7 | locrian #2; half-diminished; aeolian b5
altered | 1 b2 #2 3 b5 b6 b7 | altered (super locrian); super locrian; diminished whole tone
harmonic minor | 1 2 b3 4 5 b6 7 |
locrian natural 6 | 1 b2 b3 4 b5 6 b7 | locrian #6
ionian #5 | 1 2 3 4 #5 6 7 | ionian augmented; major augmented
dorian #4 | 1 2 b3 #4 5 6 b7 | romanian minor
phrygian dominant | 1 b2 3 4 5 b6 b7 | phrygian major; mixolydian b9 b13
lydian #2 | 1 #2 3 #4 5 6 7 |
altered bb7 | 1 b2 b3 b4 b5 b6 bb7 | super locrian bb7; ultralocrian
harmonic major | 1 2 3 4 5 b6 7 | ionian b6
double harmonic | 1 b2 3 4 5 b6 7 | double harmonic major; byzantine
hungarian minor | 1 2 b3 #4 5 b6 7 | double harmonic minor
major pentatonic | 1 2 3 5 6 | pentatonic major
minor pentatonic | 1 b3 4 5 b7 | pentatonic minor
blues | 1 b3 4 b5 5 b7 | blues (minor); minor blues
major blues | 1 2 b3 3 5 6 |
whole tone | 1 2 3 #4 #5 b7 |
half-whole diminished | 1 b2 #2 3 #4 5 6 b7 | dominant diminished
whole-half diminished | 1 2 b3 4 b5 b6 6 7 | diminished
augmented | 1 #2 3 5 #5 7 | minor third half step
bebop dominant | 1 2 3 4 5 6 b7 7 | bebop
bebop major | 1 2 3 4 5 #5 6 7 |
bebop dorian | 1 2 b3 3 4 5 6 b7 | bebop minor
bebop melodic minor | 1 2 b3 4 5 #5 6 7 |
chromatic | 1 b2 2 b3 3 4 b5 5 b6 6 b7 7 |
"""


def _read_row(line: str) -> Scale:
    name, degrees, others = (cell.strip() for cell in line.split("|"))
    return Scale(
        name,
        tuple(Degree.parse(text) for text in degrees.split()),
        tuple(other.strip() for other in others.split(";") if other.strip()),
    )


SCALES: Mapping[str, Scale] = MappingProxyType(
    {scale.name: scale for scale in map(_read_row, _TABLE.strip().splitlines())}
)
"""Every scale by its name."""

_BY_ANY_NAME = {name: scale for scale in SCALES.values() for name in (scale.name, *scale.other_names)}


_ROOTED = re.compile(r"[a-h](?:b|#|is|es)?m?(?: flat| sharp)? (?P<name>.+)")


def find_scale(name: str) -> Scale:
    """The scale of a name or synonym, whatever the case. Raises NotationError with the nearest."""
    plain = " ".join(name.replace("♭", "b").replace("♯", "#").replace("-", " ").lower().split())
    for known, scale in _BY_ANY_NAME.items():
        if known.replace("-", " ") == plain.removesuffix(" scale"):
            return scale
    rooted = _ROOTED.fullmatch(plain)
    if rooted is not None and rooted["name"].removesuffix(" scale") in _BY_ANY_NAME:
        raise NotationError(
            f"'{name}' names a scale and its root",
            hint=f"write '{rooted['name']}': the root is that of the chord or the key",
        )
    near = nearest(plain, _BY_ANY_NAME, cutoff=0.5)
    hint = f"did you mean {near}?" if near else f"there are: {', '.join(SCALES)}"
    raise NotationError(f"'{name}' is not a scale", hint=hint)
