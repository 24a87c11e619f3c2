"""Pitch, chords, scales, keys. Pure functions on values: no time, no files."""

from genex.theory.chord import Chord
from genex.theory.key import Key
from genex.theory.pitch import Degree, Interval, NoteName, Pitch
from genex.theory.symbol import parse_chord

__all__ = ["Chord", "Degree", "Interval", "Key", "NoteName", "Pitch", "parse_chord"]
