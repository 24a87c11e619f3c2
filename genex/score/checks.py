"""Properties that every composed score has. ``compose`` calls ``require_sound`` once."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from genex.score.model import Part, Score


def equal_pitch_overlaps(part: Part) -> list[tuple[int, Fraction]]:
    """``(midi, start_beats)`` of each note that starts while the same pitch still sounds."""
    sounding: dict[int, Fraction] = {}
    found = []
    for note in sorted(part.notes, key=lambda note: note.start_beats):
        if note.start_beats < sounding.get(note.midi, Fraction(-(10**9))):
            found.append((note.midi, note.start_beats))
        sounding[note.midi] = max(note.end_beats, sounding.get(note.midi, note.end_beats))
    return found


def line_overlaps(part: Part) -> list[Fraction]:
    """Start of each note of a single-note line that begins before the one before has ended."""
    return [
        after.start_beats
        for before, after in pairwise(part.notes)
        if before.end_beats > after.start_beats or before.written_end_beats > after.onset_beats
    ]


def require_sound(score: Score) -> None:
    """Raise ValueError if a part breaks the event model: a fault of genex, never of the user."""
    for part in score.parts:
        if part.notes and part.notes[-1].onset_beats >= score.length_beats:
            raise ValueError(f"{part.name} has a note after the last bar line")
        if overlaps := equal_pitch_overlaps(part):
            raise ValueError(f"{part.name} overlaps equal pitches: {overlaps[:3]}")
        if part.role.is_lead and (late := line_overlaps(part)):
            raise ValueError(f"{part.name} is not a single line at beats {late[:3]}")
