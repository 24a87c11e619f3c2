"""Chords as they are arpeggiated: a stack of thirds, and not all tones in order of pitch."""

from __future__ import annotations

from collections.abc import Sequence

from genex.theory.pitch import Degree, NoteName

_MINOR_SEVENTH_OR_MAJOR = {Degree(7, -1), Degree(7)}


def without_clash(degrees: Sequence[Degree]) -> tuple[Degree, ...]:
    """Degrees of a chord as they are played: a thirteenth chord with a major third and a seventh leaves
    its natural 11 out, in arpeggios as in voicings (``essential_degrees``) [common practice]."""
    found = set(degrees)
    has_seventh = bool(found & _MINOR_SEVENTH_OR_MAJOR)
    if Degree(3) in found and has_seventh and any(degree.number == 13 for degree in found):
        return tuple(degree for degree in degrees if degree != Degree(11))
    return tuple(degrees)


def stacked_thirds(degrees: Sequence[Degree], root: NoteName, midis: Sequence[int]) -> tuple[int, ...]:
    """Those of ascending MIDI numbers that a stack of thirds uses.

    Triads and seventh chords keep every chord tone. Extensions (9, 11, 13) stand where a stack of
    thirds has them, an octave above the lowest root and once only; between the tone below them
    and the highest of them the stack leaves the root and the other low tones out: C9 is
    C E G Bb D E G …, not C D E G Bb C D … [common practice]. An extension that ``midis`` lacks
    there stands wherever they have it, so that no degree is lost. The 11 of a thirteenth chord is
    left out where it clashes (``without_clash``).
    """
    degrees = without_clash(degrees)
    low_classes = {root.degree(degree).pitch_class for degree in degrees if degree.number < 8}
    classes = {root.degree(degree).pitch_class for degree in degrees}
    tones = [midi for midi in midis if midi % 12 in classes]
    first = root if Degree(1) in degrees else root.degree(degrees[0])
    lowest = next((midi for midi in tones if midi % 12 == first.pitch_class), None)
    if lowest is None:
        return tuple(tones)
    within = frozenset(tones)
    stacked: set[int] = set()
    elsewhere: set[int] = set()
    for degree in degrees:
        pitch_class = root.degree(degree).pitch_class
        if degree.number < 8 or pitch_class in low_classes:
            continue
        if lowest + degree.semitones in within:
            stacked.add(lowest + degree.semitones)
        else:
            elsewhere.add(pitch_class)
    low_top = lowest + max((d.semitones for d in degrees if d.number < 8), default=0)
    high = max(stacked, default=low_top)
    return tuple(
        midi
        for midi in tones
        if midi in stacked
        or midi % 12 in elsewhere
        or (midi % 12 in low_classes and not low_top < midi < high)
    )
