"""A shape's practice path as a small score, so that it is engraved as every other line is."""

from __future__ import annotations

from genex.exact import Fraction
from genex.fretboard import Shape, Tuning
from genex.score import (
    COMMON_TIME,
    Bar,
    ChordSpan,
    Fretting,
    Note,
    Part,
    Role,
    Score,
    SectionSpan,
    TempoMap,
    Timeline,
)
from genex.theory import Chord, Key

_EIGHTH = Fraction(1, 2)
_TEMPO = TempoMap.constant(Fraction(100))
_JAZZ_GUITAR = 26


def path_score(chord: Chord, shape: Shape, tuning: Tuning) -> Score:
    """The path in eighths over as many bars of 4/4 as it needs; the last note fills the last bar.

    There is no key signature: every accidental of the chord stands before its note.
    """
    path = shape.path
    length = (len(path) * _EIGHTH // COMMON_TIME.bar_beats + 1) * COMMON_TIME.bar_beats
    if len(path) * _EIGHTH % COMMON_TIME.bar_beats == 0:
        length -= COMMON_TIME.bar_beats
    notes = []
    for index, step in enumerate(path):
        onset = index * _EIGHTH
        duration = length - onset if index == len(path) - 1 else _EIGHTH
        place = Fretting(step.note.string, step.note.fret, step.note.finger)
        notes.append(Note(onset, duration, step.note.pitch, fretting=place, degree=step.note.degree))
    count = int(length / COMMON_TIME.bar_beats)
    bars = tuple(
        Bar(number, number, 1, (number - 1) * COMMON_TIME.bar_beats, COMMON_TIME, "")
        for number in range(1, count + 1)
    )
    timeline = Timeline(
        Key.parse("C"),
        _TEMPO,
        bars,
        (ChordSpan(Fraction(0), length, chord),),
        (SectionSpan(Fraction(0), length, "", 1),),
    )
    part = Part.of("path", Role.EXERCISE, _JAZZ_GUITAR, notes, strings=tuning.strings, capo=tuning.capo)
    return Score("", "", timeline, (part,))
