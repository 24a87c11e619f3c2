"""How a part is moved to another key: every note by as many half steps, an octave aside if need be.

A line on the neck keeps its strings and fingers and moves along it. Where it would leave the neck or
a finger would come to lie on the nut, and where a bass would go below its lowest string, it is moved the
other way round the octave. Open strings become fretted ones: they cannot go down.
"""

from __future__ import annotations

from genex.score import Part, Role

SHIFTS = tuple(range(-5, 7))
"""Half steps to each of the twelve keys, the nearer way."""

_LAST_FRET = 22
_LOWEST_BASS = 28  # E1


def shifts_of(part: Part) -> tuple[int, ...]:
    """By how many half steps a part goes for each of ``SHIFTS``; a kit stays as it is."""
    if part.is_percussion:
        return (0,) * len(SHIFTS)
    frets = [note.fretting.fret for note in part.notes if note.fretting is not None]
    lowest = min((note.midi for note in part.notes), default=60)
    found = []
    for shift in SHIFTS:
        moved = shift
        if frets:
            last = max(_LAST_FRET, *frets)
            lowest_way = 0 if min(frets) == 0 else 1 - min(frets)
            ways = (shift, shift + 12, shift - 12)
            fits = [way for way in ways if way >= lowest_way and max(frets) + way <= last]
            moved = fits[0] if fits else shift
        elif part.role is Role.BASS and shift < 0 and lowest + shift < min(lowest, _LOWEST_BASS):
            moved = shift + 12
        found.append(moved)
    return tuple(found)
