"""The one table of scales, and which of them suit a chord.

Degrees are written over the root as musicians spell them (the altered scale has a #2, the
half-whole diminished scale a #2 and a #4). Names are those of common English usage; synonyms
stand beside them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

from genex.errors import NotationError
from genex.hints import nearest
from genex.theory.chord import Chord
from genex.theory.key import Key
from genex.theory.pitch import Degree, NoteName
from genex.theory.qualities import ascending


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


def find_scale(name: str) -> Scale:
    """The scale of a name or synonym, whatever the case. Raises NotationError with the nearest."""
    plain = " ".join(name.replace("♭", "b").replace("♯", "#").replace("-", " ").lower().split())
    for known, scale in _BY_ANY_NAME.items():
        if known.replace("-", " ") == plain.removesuffix(" scale"):
            return scale
    near = nearest(plain, _BY_ANY_NAME, cutoff=0.5)
    hint = f"did you mean {near}?" if near else f"there are: {', '.join(SCALES)}"
    raise NotationError(f"'{name}' is not a scale", hint=hint)


# Kind of chord -> scales from the most usual on, before any key is known [common practice].
_SUITABLE = {
    "major": "major; lydian; major pentatonic; major blues; bebop major; harmonic major; lydian #2",
    "major sharp five": "lydian augmented; ionian #5; augmented; bebop major",
    "minor": "dorian; natural minor; phrygian; minor pentatonic; blues; bebop dorian; dorian b2;"
    " melodic minor; harmonic minor; dorian #4",
    "minor triad": "natural minor; dorian; harmonic minor; melodic minor; minor pentatonic; blues;"
    " phrygian",
    "minor sixth": "melodic minor; dorian; dorian b2; bebop melodic minor; dorian #4",
    "minor major": "melodic minor; harmonic minor; hungarian minor; bebop melodic minor",
    "half-diminished": "locrian; locrian natural 2; locrian natural 6",
    "diminished": "whole-half diminished; altered bb7; locrian; locrian natural 2",
    "dominant": "mixolydian; lydian dominant; bebop dominant; mixolydian b6; blues;"
    " half-whole diminished; phrygian dominant; whole tone; altered",
    "flat nine": "half-whole diminished; phrygian dominant; altered",
    "flat thirteen": "mixolydian b6; phrygian dominant; altered; whole tone",
    "altered": "altered; half-whole diminished; phrygian dominant; whole tone",
    "sharp nine": "half-whole diminished; altered; blues",
    "augmented": "whole tone; lydian augmented; altered; ionian #5; augmented",
    "suspended": "mixolydian; dorian; major; major pentatonic; natural minor; minor pentatonic;"
    " phrygian; dorian b2; phrygian dominant",
    "second": "major; lydian; mixolydian; dorian; major pentatonic; natural minor; melodic minor",
    "power": "minor pentatonic; major pentatonic; blues; mixolydian; natural minor; dorian; major",
}
_BLUES_FITS = frozenset(("7", "9", "13", "7#9"))


def scales_for(chord: Chord, key: Key | None = None) -> tuple[Scale, ...]:
    """Scales on the chord's root that suit it, the best first; never empty.

    Every scale holds the chord tones, with three liberties of practice: the perfect fifth of a
    dominant with an altered ninth or thirteenth need not be in it (the altered scale), nor the
    natural 11 of a thirteenth chord with a major third, and over dominant sevenths the blues scale
    is offered. Scales that hold every tone come before those that take a liberty.

    Without a key the order is that of common practice for the kind of chord. With a key, the
    scales of seven or more notes come first, those with the fewest notes foreign to the key
    leading, so Em7 has phrygian in C and dorian in D, and G7 in C minor has phrygian dominant. A
    plain dominant on a root outside the key (bVII7, the tritone substitute) has lydian dominant
    first, and a diminished seventh in a major key keeps the whole-half scale first. Where nothing
    holds the chord the chromatic scale is given. A slash bass counts as a chord tone (C/Bb as C7).
    """
    chord = _with_bass(chord)
    kind = _kind(chord)
    listed = [SCALES[name.strip()] for name in _SUITABLE[kind].split(";")]
    needed = {degree.semitones % 12 for degree in _needed(chord)}
    fitting = [scale for scale in listed if needed <= scale.semitones or _is_blues(scale, chord)]
    if not any(needed <= scale.semitones for scale in fitting):
        fitting = [scale for scale in SCALES.values() if needed <= scale.semitones]
    fitting.sort(key=lambda scale: not (scale.holds(chord) or _is_blues(scale, chord)))
    if key is None or (Degree(7, -2) in chord.degrees and key.mode == "major"):
        return tuple(fitting)
    at_home = {note.pitch_class for note in key.scale}
    is_foreign_dominant = kind == "dominant" and chord.root.pitch_class not in at_home

    def rank(scale: Scale) -> tuple[bool, bool, bool, int]:
        return (
            len(scale.degrees) < 7,
            not scale.holds(chord),
            is_foreign_dominant and scale.name != "lydian dominant",
            len(scale.pitch_classes(chord.root) - at_home),
        )

    return tuple(sorted(fitting, key=rank))


def _with_bass(chord: Chord) -> Chord:
    """The chord with a foreign slash bass among its degrees, a second counted as a ninth."""
    steps = (chord.bass.step - chord.root.step) % 7
    semitones = (chord.bass.pitch_class - chord.root.pitch_class) % 12
    if chord.degree_of(chord.bass.pitch_class) is not None or steps == 0:
        return chord
    number = {1: 9, 3: 11, 5: 13}.get(steps, steps + 1)
    plain = Degree(number)
    alter = (semitones - plain.semitones + 6) % 12 - 6
    return replace(chord, degrees=ascending({*chord.degrees, Degree(number, alter)}))


def _is_blues(scale: Scale, chord: Chord) -> bool:
    return scale.name == "blues" and chord.quality in _BLUES_FITS


def _needed(chord: Chord) -> set[Degree]:
    """The chord tones that a scale must hold."""
    needed = set(chord.degrees)
    if Degree(3) in needed:
        if any(degree.number == 13 for degree in needed):
            needed.discard(Degree(11))
        if Degree(7, -1) in needed and any(d.alter and d.number in (9, 13) for d in needed):
            needed.discard(Degree(5))
    return needed


def _kind(chord: Chord) -> str:
    """The line of the table for a chord."""
    degrees = set(chord.degrees)
    third, seventh, fifth = chord.find(3), chord.find(7), chord.find(5)
    if third is None:
        if chord.find(4) is not None:
            return "suspended"
        return "second" if chord.find(2, 9) is not None else "power"
    if third.alter == -1:
        return _minor_kind(chord)
    if seventh == Degree(7, -1):
        if Degree(9, -1) in degrees and Degree(9, 1) not in degrees and fifth == Degree(5):
            return "flat nine"
        if Degree(9, 1) in degrees and fifth == Degree(5):
            return "sharp nine"
        if {Degree(9, -1), Degree(9, 1)} & degrees:
            return "altered"
        if fifth == Degree(5, 1):
            return "augmented"
        return "flat thirteen" if Degree(13, -1) in degrees else "dominant"
    if fifth == Degree(5, 1):
        return "augmented" if seventh is None else "major sharp five"
    return "major"


def _minor_kind(chord: Chord) -> str:
    seventh, fifth = chord.find(7), chord.find(5)
    if fifth == Degree(5, -1):
        return "half-diminished" if seventh == Degree(7, -1) else "diminished"
    if Degree(7) in chord.degrees:
        return "minor major"
    if chord.find(6) == Degree(6):
        return "minor sixth"
    return "minor" if seventh is not None else "minor triad"
