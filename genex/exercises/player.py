"""Who plays an exercise: all that its model does not say."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from genex.errors import Place
from genex.exact import Fraction
from genex.fretboard.tunings import STANDARD, Tuning
from genex.theory import NoteNames

LineFamily = Literal["swing", "bossa", "funk", "shuffle", "waltz", "six-eight", "straight"]
"""Families of feels, by the rhythms that lines over them have."""


@dataclass(frozen=True, slots=True)
class Struck:
    """A chord struck, or with ``voice`` one of its notes (0 the lowest), inside a bar.

    loudness  1 to 9
    is_ahead  it is the chord of the next beat, struck ahead of it; the stroke there is left out
    is_muted  the fretting hand damps the strings
    """

    onset_beats: Fraction
    length_beats: Fraction
    loudness: int = 5
    is_ahead: bool = False
    is_muted: bool = False
    voice: int | None = None


@dataclass(frozen=True)
class Player:
    """What comes to an exercise from the recipe around it. Key, meter and tempo are the timeline's.

    tuning     the neck
    program    General MIDI program, 0-based
    name       of the part
    seed       of all draws; every phrase, bar and question draws for itself
    low, high  limits as MIDI numbers within the place on the neck; None for the place's own
    loops      the end leads back to the beginning
    folder     where the files lie that an exercise names
    title      of the tune: lines over another tune are others, whatever the seed
    family     of the feel; None for what is usual in the meter
    comping    how the feel strikes its chords, bar by bar; empty where it strikes none
    locate     the place of a line and a column, from 1, of the text in a field of the exercise
    draws      numbers drawn by the lessons of a series up to this one, whose own is the last: so that
               no two begin alike. Empty for a line by itself
    note_names how chords are named above a tab of the recipe's own
    """

    tuning: Tuning = STANDARD
    program: int = 26
    name: str = "exercise"
    seed: str | int = 0
    low: int | None = None
    high: int | None = None
    loops: bool = True
    folder: Path = Path()
    title: str = ""
    family: LineFamily | None = None
    comping: tuple[tuple[Struck, ...], ...] = ()
    locate: Callable[[str, int, int], Place] = Place
    draws: tuple[int, ...] = ()
    note_names: NoteNames = "english"
