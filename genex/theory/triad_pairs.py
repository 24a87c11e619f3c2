"""Triad pairs: two triads of a scale that have no tone in common."""

from __future__ import annotations

from typing import NamedTuple

from genex.theory.chord import Chord
from genex.theory.pitch import Degree, NoteName
from genex.theory.scales import Scale

_THIRDS = {(4, 3): "", (3, 4): "m", (3, 3): "dim", (4, 4): "aug"}
"""Suffix of a triad by the semitones of its thirds."""


class TriadPair(NamedTuple):
    """Degrees over the chord's root of the six tones, ascending, and the names of the two triads."""

    degrees: tuple[Degree, ...]
    names: tuple[str, str]


def triad_pair(chord: Chord, scale: Scale) -> TriadPair | None:
    """The pair of triads on neighbouring degrees of a scale that suits a chord best.

    First come pairs that hold the root, then those with the fewest tones a half step above a tone of
    the chord (over a dominant seventh above its third alone), the fewest diminished or augmented
    triads, the most major ones, and the most of third and seventh: F and G over Dm7, G and Am over
    Cmaj7, C and D where that is Lydian [common practice]. None for a scale of fewer than six tones.
    """
    tones = scale.degrees
    count = len(tones)
    if count < 6:
        return None
    own = {degree.semitones % 12 for degree in chord.degrees}
    guides = {degree.semitones % 12 for degree in chord.guide_tones}
    sore = {4} if {Degree(3), Degree(7, -1)} <= set(chord.degrees) else own
    found = []
    for index in range(count):
        triads = [[tones[(index + up + step) % count] for step in (0, 2, 4)] for up in (0, 1)]
        names = [_name(chord.root, triad) for triad in triads]
        held = [degree for triad in triads for degree in triad]
        classes = {degree.semitones % 12 for degree in held}
        rank = (
            0 not in classes,
            sum(each not in own and (each - 1) % 12 in sore for each in classes),
            sum(name[-3:] in ("dim", "aug", "?") for name in names),
            sum(name[-1:] == "m" for name in names),
            len(guides - classes),
            index,
        )
        found.append((rank, tuple(sorted(held, key=lambda degree: degree.semitones)), names))
    _, degrees, (first, second) = min(found)
    return TriadPair(degrees, (first, second))


def _name(root: NoteName, triad: list[Degree]) -> str:
    low, middle, high = (degree.semitones for degree in triad)
    kind = _THIRDS.get(((middle - low) % 12, (high - middle) % 12), "?")
    return f"{root.degree(triad[0])}{kind}"
