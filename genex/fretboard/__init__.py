"""The neck: tunings, left-hand fingering, the five positions and paths over them."""

from genex.fretboard.fingering import (
    Fingered,
    finger_everywhere,
    finger_line,
    main_position,
    with_moves,
)
from genex.fretboard.hand import Hand, HandMove, move_between
from genex.fretboard.tunings import STANDARD, TUNINGS, Place, Tuning, pitch_at, places, tuning

__all__ = [
    "STANDARD",
    "TUNINGS",
    "Fingered",
    "Hand",
    "HandMove",
    "Place",
    "Tuning",
    "finger_everywhere",
    "finger_line",
    "main_position",
    "move_between",
    "pitch_at",
    "places",
    "tuning",
    "with_moves",
]
