"""Properties that every composed score has. ``compose`` calls ``require_sound`` once."""

from __future__ import annotations

from itertools import pairwise

from genex.exact import Fraction
from genex.score.model import Part, Score
from genex.units import ticks_to_beats


def equal_pitch_overlaps(part: Part) -> list[tuple[int, Fraction]]:
    """``(midi, start_beats)`` of each note that starts while the same pitch still sounds."""
    sounding: dict[int, int] = {}
    found = []
    for start, end, midi in sorted((note.start_ticks, note.end_ticks, note.midi) for note in part.notes):
        if start < sounding.get(midi, start):
            found.append((midi, ticks_to_beats(start)))
        sounding[midi] = max(end, sounding.get(midi, end))
    return found


def line_overlaps(part: Part) -> list[Fraction]:
    """Start of each note of a single-note line that begins before the one before has ended."""
    return [
        after.start_beats
        for before, after in pairwise(part.notes)
        if before.end_ticks > after.start_ticks or before.written_end_beats > after.onset_beats
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
