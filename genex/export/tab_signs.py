"""The signs of tab: what each is, which need a word of explanation, and what stands over a bar."""

from __future__ import annotations

from enum import Enum, auto

from genex.export.tempo_words import FERMATA, TempoSigns
from genex.score import Articulation, Bar, Legato, Note, Stroke, Timeline


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


def bar_heading(bar: Bar, timeline: Timeline, signs: TempoSigns) -> str:
    """The bar's number, with meter and tempo where they change, and the signs of tempo."""
    if bar.is_pickup:
        return ""
    text = str(bar.number)
    if bar.number > 1:
        before = timeline.bars[bar.number - 2]
        if before.meter != bar.meter:
            text += f" {bar.meter}"
        tempo, old = (timeline.tempo.pulses_at(b.onset_beats, bar.meter) for b in (bar, before))
        if tempo != old:
            text += f" ={float(tempo):.4g}"
    held = FERMATA if signs.fermatas(bar) else ""
    return " ".join(filter(None, (text, signs.words(bar), held)))
