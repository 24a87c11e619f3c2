"""Fingering of chords: all fingers down together, with barres.

One finger presses one string, or lies across neighbouring sounding strings at one fret: a barre.
Under a barre no string may be open, muted or stopped at a lower fret. Fingers do not cross, along
the neck nor across it; the reach from the lowest to the highest fret is kept in millimetres.
Among what is possible the fewest departures from one finger a fret win, with the weights of
``hand.py``; a barre of the first finger is usual work, one of another finger is a makeshift
[common practice].
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement

from genex.fretboard.hand import SPREAD, WEAK
from genex.fretboard.tunings import Hand, Tuning

FINGERS = (1, 2, 3, 4)
_FINGER, _NARROWED, _LOW = 20, 15, 1
_BARRE = {1: 105, 2: 400, 3: 250, 4: 400}
_BARRE_A_STRING = {1: 10, 2: 150, 3: 100, 4: 150}


@dataclass(frozen=True, slots=True)
class Barre:
    """A finger across the strings from ``low_string`` (the thicker) to ``high_string``."""

    finger: int
    fret: int
    low_string: int
    high_string: int


@dataclass(frozen=True)
class HeldChord:
    """``fingers`` by string, 0 for an open one; strings that are left out are muted."""

    frets: Mapping[int, int]
    fingers: Mapping[int, int]
    barres: tuple[Barre, ...]
    cost: int


def held_chord(
    frets: Mapping[int, int], tuning: Tuning, *, hand: Hand | None = None
) -> HeldChord | None:
    """The best way to hold down ``frets`` (by string, 1 the highest); None where no hand can."""
    hand = hand or tuning.hand
    pressed = sorted((s for s, fret in frets.items() if fret > 0), reverse=True)
    stopped = [frets[string] for string in pressed]
    if pressed and tuning.fret_mm(max(stopped)) - tuning.fret_mm(min(stopped)) > hand.reach_mm:
        return None
    best: tuple[int, tuple[int, ...], tuple[Barre, ...]] | None = None
    # Fingers that do not cross rise with the frets, at one fret towards the thinner strings.
    order = sorted(pressed, key=lambda string: (frets[string], -string))
    for fingers in combinations_with_replacement(FINGERS, len(order)):
        by_string = dict(zip(order, fingers, strict=True))
        barres = _barres(frets, by_string)
        if barres is None or not _in_order(frets, by_string):
            continue
        found = _cost(frets, by_string, barres), tuple(by_string[s] for s in pressed), barres
        if best is None or found[:2] < best[:2]:
            best = found
    if best is None:
        return None
    cost, chosen, barres = best
    held = dict(zip(pressed, chosen, strict=True))
    return HeldChord(dict(frets), {string: held.get(string, 0) for string in frets}, barres, cost)


def _in_order(frets: Mapping[int, int], fingers: Mapping[int, int]) -> bool:
    """Whether no two fingers cross: the higher finger at the higher fret, at one fret on the
    thinner string."""
    for low, high in combinations(sorted(fingers, reverse=True), 2):
        apart, further = fingers[high] - fingers[low], frets[high] - frets[low]
        if further == 0 and apart < 0:
            return False
        if further != 0 and apart * further <= 0:
            return False
    return True


def _barres(frets: Mapping[int, int], fingers: Mapping[int, int]) -> tuple[Barre, ...] | None:
    """The barres of a choice of fingers; None if one of them is not possible."""
    found = []
    for finger in set(fingers.values()):
        strings = [string for string, other in fingers.items() if other == finger]
        if len(strings) == 1:
            continue
        fret = frets[strings[0]]
        across = range(min(strings), max(strings) + 1)
        if any(frets.get(string, -1) < fret for string in across):
            return None
        found.append(Barre(finger, fret, max(strings), min(strings)))
    return tuple(sorted(found, key=lambda barre: barre.fret))


def _cost(frets: Mapping[int, int], fingers: Mapping[int, int], barres: tuple[Barre, ...]) -> int:
    """What holding the chord costs."""
    used = {finger: frets[string] for string, finger in fingers.items()}
    cost = sum(_FINGER + WEAK[finger] for finger in used)
    for a, b in combinations(sorted(used), 2):
        wider = (used[b] - used[a]) - (b - a)
        cost += SPREAD[a, b] * wider if wider > 0 else -_NARROWED * wider
    for barre in barres:
        cost += _BARRE[barre.finger]
        cost += _BARRE_A_STRING[barre.finger] * (barre.low_string - barre.high_string - 1)
    if used:  # of two places of the hand the lower one
        cost += _LOW * max(0, min(fret - finger for finger, fret in used.items()))
    return cost
