"""The hand's reach as a tape measure sees it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from genex.fretboard import Fingered, Hand, HandMove, Tuning
from genex.fretboard.hand import REACH_SHARE, SPREAD_SHARE


def overstretched(line: Sequence[Fingered], neck: Tuning, hand: Hand) -> list[tuple[Fingered, Fingered]]:
    """Pairs of stopped notes, one after the other without a shift, whose frets lie further apart than
    the hand's reach, or its share for the two fingers; or a finger and the place of the first."""
    found = []
    for before, note in pairwise(line):
        pair = tuple(sorted((before.finger, note.finger)))
        if pair not in SPREAD_SHARE or note.move is HandMove.SHIFT:
            continue
        apart_mm = abs(neck.fret_mm(before.fret) - neck.fret_mm(note.fret))
        if apart_mm > hand.reach_mm * SPREAD_SHARE[pair]:
            found.append((before, note))
    for note in line:
        extent_mm = neck.fret_mm(note.fret) - neck.fret_mm(min(note.fret, note.position))
        if note.finger and extent_mm > hand.reach_mm * REACH_SHARE[note.finger]:
            found.append((note, note))
    return found
