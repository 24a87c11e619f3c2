"""Chords under one left hand: which sets of string and fret can be held down.

Frets are given by string, 1 the highest; strings that are left out are muted. Fingers press one
string each, except that the first finger may lie across several strings at the lowest fret.
"""

from __future__ import annotations

from collections.abc import Mapping

from genex.score import Fretting
from genex.theory import Pitch

STANDARD_STRINGS = tuple(Pitch.parse(name) for name in ("E4", "B3", "G3", "D3", "A2", "E2"))
HIGHEST_FRET = 14
FINGERS = 4
_LOW_FRETS = 5
"""Below this fret a hand reaches three frets past its first finger, from it on four."""


def reach(lowest_fret: int) -> int:
    """Frets between first and last finger: wide frets near the nut allow fewer."""
    return 3 if lowest_fret < _LOW_FRETS else 4


def fingers_needed(frets: Mapping[int, int]) -> int:
    """Fingers that hold a chord down, with a barre at the lowest fret where one is possible."""
    pressed = {string: fret for string, fret in frets.items() if fret > 0}
    if not pressed:
        return 0
    lowest = min(pressed.values())
    barred = [string for string, fret in pressed.items() if fret == lowest]
    across = range(min(barred), max(barred) + 1)
    can_bar = len(barred) > 1 and all(frets.get(string) != 0 for string in across)
    return len(pressed) - (len(barred) - 1 if can_bar else 0)


def is_playable(frets: Mapping[int, int]) -> bool:
    """Whether one hand can hold the chord and keep the strings between its notes quiet.

    At most one string between the outer ones is muted: the finger on the string below touches it.
    """
    if not frets or any(not 0 <= fret <= HIGHEST_FRET for fret in frets.values()):
        return False
    pressed = [fret for fret in frets.values() if fret > 0]
    if pressed and max(pressed) - min(pressed) > reach(min(pressed)):
        return False
    muted = [s for s in range(min(frets), max(frets) + 1) if s not in frets]
    if len(muted) > 1 or any(frets.get(string + 1, 0) == 0 for string in muted):
        return False
    return fingers_needed(frets) <= FINGERS


def place_on(
    pitches: tuple[Pitch, ...], string_set: tuple[int, ...], strings: tuple[Pitch, ...]
) -> tuple[Fretting, ...] | None:
    """Frettings of rising pitches on a string set (lowest string first), or None if not playable."""
    if len(pitches) != len(string_set):
        return None
    frets = {
        string: pitch.midi - strings[string - 1].midi
        for pitch, string in zip(pitches, string_set, strict=True)
    }
    if not is_playable(frets):
        return None
    return tuple(Fretting(string, frets[string]) for string in string_set)
