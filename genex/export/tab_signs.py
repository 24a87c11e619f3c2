"""The signs of tab: what each is, and which need a word of explanation where they occur."""

from __future__ import annotations

from enum import Enum, auto

from genex.score import Articulation, Legato, Note, Stroke


class Marks(Enum):
    """Signs that need a word of explanation where they occur."""

    DOT = auto()
    TRIPLET = auto()
    REST = auto()
    TIE = auto()
    FINGERS = auto()
    PAIRS = auto()
    CHORDS = auto()
    STROKES = auto()
    PICKED = auto()
    ROLL = auto()
    SHIFT = auto()
    SLIDE = auto()
    DEAD = auto()
    ACCENT = auto()
    STACCATO = auto()
    GHOST = auto()
    DEGREES = auto()
    LEGATO = auto()
    BEND = auto()
    RELEASE = auto()
    VIBRATO = auto()
    RINGS = auto()
    COUNT = auto()
    PUSH = auto()
    WORDS = auto()


def after_fret(note: Note, fret: int) -> str:
    """What the string does while the note sounds: ``b9`` bent to sound like fret 9, ``r7`` let back."""
    text = ""
    if note.bend is not None:
        text = f"b{fret + note.bend.semitones}" + (f"r{fret}" if note.bend.releases else "")
    return text + "~" * note.vibrato


LEGATO = {Legato.HAMMER_ON: "h", Legato.PULL_OFF: "p"}
STROKES = {Stroke.DOWN: "d", Stroke.UP: "u"}
ARTICULATIONS = {Articulation.ACCENT: "!", Articulation.STACCATO: "'", Articulation.GHOST: "o"}
