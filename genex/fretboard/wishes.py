"""What may be asked of a fingering."""

from __future__ import annotations

from dataclasses import dataclass

from genex.fretboard.tunings import Hand


@dataclass(frozen=True)
class Wishes:
    """What may be asked of a fingering.

    position  keep the hand here, a fret lower or higher only by shifts; None anywhere
    between   the lowest and the highest position that the hand may take; None for any. It moves
              freely there, and ``position`` says only where the frets lie
    strings   use these strings only; None for all
    closed    no open strings
    breaths   indices of the notes with a rest before them: there the hand moves at leisure, and
              it rather moves there than within a phrase
    slides    indices of the notes that are slid into along their string: no finger is rolled there
    hand      its size; None for that of the instrument's player
    """

    position: int | None = None
    between: tuple[int, int] | None = None
    strings: frozenset[int] | None = None
    closed: bool = False
    breaths: frozenset[int] = frozenset()
    slides: frozenset[int] = frozenset()
    hand: Hand | None = None


ANYHOW = Wishes()
"""No wishes: the hand may lie anywhere."""
