"""Chords under one left hand: which sets of string and fret can be held down.

Frets are given by string, 1 the highest; strings that are left out are muted. Each finger presses
one string, except that the first finger may lie across several strings at the lowest fret. The
reach from first to last finger is measured in millimetres, so low frets allow fewer of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations

from genex.fretboard import STANDARD, Hand, Tuning
from genex.score import Fretting
from genex.theory import NoteName, Pitch

HIGHEST_FRET = 14
FINGERS = 4
_OCTAVE = 12
_OPEN_BASES = range(9)
_FRETS_A_HAND = 4
_HIGHEST_FRET_WITH_OPEN_STRINGS = 4
_HIGHEST_BASE_WITH_OPEN_STRINGS = 2


def fingers_needed(frets: Mapping[int, int]) -> int:
    """Fingers that hold a chord down, with a barre at the lowest fret where one is possible: over
    strings that all sound."""
    pressed = {string: fret for string, fret in frets.items() if fret > 0}
    if not pressed:
        return 0
    lowest = min(pressed.values())
    barred = [string for string, fret in pressed.items() if fret == lowest]
    across = range(min(barred), max(barred) + 1)
    can_bar = len(barred) > 1 and all(frets.get(string, 0) >= lowest for string in across)
    return len(pressed) - (len(barred) - 1 if can_bar else 0)


def is_playable(frets: Mapping[int, int], tuning: Tuning = STANDARD, hand: Hand = Hand.MEDIUM) -> bool:
    """Whether one hand can hold the chord and keep the strings between its notes quiet.

    At most one string between the outer ones is muted, and only next to a pressed lower string,
    whose finger touches it. Open strings go with the lowest frets only.
    """
    if not frets or any(not 0 <= fret <= HIGHEST_FRET for fret in frets.values()):
        return False
    pressed = [fret for fret in frets.values() if fret > 0]
    if len(pressed) < len(frets) and max(pressed, default=0) > _HIGHEST_FRET_WITH_OPEN_STRINGS:
        return False
    if pressed and tuning.fret_mm(max(pressed)) - tuning.fret_mm(min(pressed)) > hand.reach_mm:
        return False
    muted = [s for s in range(min(frets), max(frets) + 1) if s not in frets]
    if len(muted) > 1 or any(frets.get(string + 1, 0) == 0 for string in muted):
        return False
    return fingers_needed(frets) <= FINGERS


def grips(pitches: tuple[Pitch, ...], tuning: Tuning = STANDARD) -> Iterator[tuple[Fretting, ...]]:
    """Every playable way to hold some rising pitches, one string each, lowest string first."""
    for chosen in combinations(range(len(tuning.strings), 0, -1), len(pitches)):
        if chosen[0] - chosen[-1] > len(pitches):
            continue
        frets = {
            string: pitch.midi - tuning.open_midi[string - 1]
            for pitch, string in zip(pitches, chosen, strict=True)
        }
        if is_playable(frets, tuning):
            yield tuple(Fretting(string, fret) for string, fret in frets.items())


def strummed_shapes(
    names: Mapping[int, NoteName], bass: int, tuning: Tuning = STANDARD
) -> Iterator[tuple[tuple[Pitch, Fretting], ...]]:
    """Playable shapes over neighbouring strings down to string 1, on the notes of ``names``.

    The string above the lowest one may be kept quiet by the finger that presses the lowest.
    ``names`` spells the pitch classes allowed, ``bass`` is the pitch class of the lowest note. Near
    the nut open strings take part. The notes of a shape rise in pitch.
    """
    found = set()
    for lowest in (6, 5, 4):
        for base in _OPEN_BASES:
            for frets in _frets(lowest, base, bass, names, tuning):
                shape = {lowest - i: fret for i, fret in enumerate(frets) if fret is not None}
                if tuple(shape.items()) in found or not is_playable(shape, tuning):
                    continue
                found.add(tuple(shape.items()))
                notes = []
                for string, fret in shape.items():
                    midi = tuning.open_midi[string - 1] + fret
                    notes.append((names[midi % _OCTAVE].nearest(midi), Fretting(string, fret)))
                notes.sort(key=lambda note: note[0].midi)
                if (
                    len({pitch.midi for pitch, _ in notes}) == len(notes)
                    and notes[0][1].string == lowest
                ):
                    yield tuple(notes)


def _frets(
    lowest: int, base: int, bass: int, names: Mapping[int, NoteName], tuning: Tuning
) -> list[tuple[int | None, ...]]:
    """Frets from string ``lowest`` up to string 1, within four frets from ``base`` or open; None is
    muted."""
    shapes: list[tuple[int | None, ...]] = [()]
    for string in range(lowest, 0, -1):
        low = tuning.open_midi[string - 1]
        window = [fret for fret in range(base, base + _FRETS_A_HAND) if fret > 0]
        if base <= _HIGHEST_BASE_WITH_OPEN_STRINGS:
            window.insert(0, 0)
        wanted = {bass} if string == lowest else names.keys()
        frets: list[int | None] = [fret for fret in window if (low + fret) % _OCTAVE in wanted]
        if string == lowest - 1:
            frets.append(None)
        shapes = [(*shape, fret) for shape in shapes for fret in frets]
    return shapes
