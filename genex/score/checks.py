"""Properties that every composed score has. ``compose`` calls ``require_sound`` once."""

from __future__ import annotations

from itertools import pairwise

from genex.exact import Fraction
from genex.score.model import Part, Score
from genex.units import ticks_to_beats


def equal_pitch_overlaps(part: Part) -> list[tuple[int, Fraction]]:
    """``(midi, start_beats)`` of each note that starts while the same pitch still sounds."""
    until: dict[int, int] = {}
    found = []
    ticks = zip(part.sounding_ticks, part.notes, strict=True)
    for start, end, midi in sorted((*sounding, note.midi) for sounding, note in ticks):
        if start < until.get(midi, start):
            found.append((midi, ticks_to_beats(start)))
        until[midi] = max(end, until.get(midi, end))
    return found


def line_overlaps(part: Part) -> list[Fraction]:
    """Start of each note of a single-note line that begins before the one before has ended."""
    timed = zip(part.sounding_ticks, part.notes, strict=True)
    return [
        ticks_to_beats(start)
        for ((_, end), before), ((start, _), after) in pairwise(timed)
        if end > start or before.written_end_beats > after.onset_beats
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
