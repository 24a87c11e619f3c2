"""Properties that every composed score has. ``compose`` calls ``require_sound`` once."""

from __future__ import annotations

from itertools import groupby, pairwise

from genex.exact import Fraction
from genex.score.model import Note, Part, Score
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
    """Start of each note of a line that begins before the one before has ended.

    Notes that lie on a string each and are written alike may be struck together: double stops. Notes
    that ring may sound on.
    """
    timed = zip(part.sounding_ticks, part.notes, strict=True)
    return [
        ticks_to_beats(start)
        for ((_, end), before), ((start, _), after) in pairwise(timed)
        if not _is_together(before, after)
        and ((end > start and not before.rings) or before.written_end_beats > after.onset_beats)
    ]


def _is_together(before: Note, after: Note) -> bool:
    a, b = before.fretting, after.fretting
    alike = (before.onset_beats, before.duration_beats) == (after.onset_beats, after.duration_beats)
    return alike and a is not None and b is not None and a.string != b.string


def chord_faults(part: Part) -> list[Fraction]:
    """Where a part of chords could not be held: starts of the notes that are wrong.

    Notes struck together are written alike and lie on a string each; a stroke ends at the latest
    where the next one begins; and no string sounds twice at a time, whatever rings on.
    """
    strokes = [tuple(notes) for _, notes in groupby(part.notes, key=lambda note: note.onset_beats)]
    found = [
        notes[0].onset_beats
        for notes in strokes
        if len({note.duration_beats for note in notes}) > 1
        or len({note.fretting.string for note in notes if note.fretting}) < len(notes)
    ]
    found += [
        after[0].onset_beats
        for before, after in pairwise(strokes)
        if before[0].written_end_beats > after[0].onset_beats
    ]
    until: dict[int, int] = {}
    for (start, end), note in zip(part.sounding_ticks, part.notes, strict=True):
        string = note.fretting.string if note.fretting else 0
        if start < until.get(string, start):
            found.append(note.onset_beats)
        until[string] = end
    return found


def require_sound(score: Score) -> None:
    """Raise ValueError if a part breaks the event model: a fault of genex, never of the user."""
    for part in score.parts:
        if part.notes and part.notes[-1].onset_beats >= score.length_beats:
            raise ValueError(f"{part.name} has a note after the last bar line")
        if overlaps := equal_pitch_overlaps(part):
            raise ValueError(f"{part.name} overlaps equal pitches: {overlaps[:3]}")
        if part.chordal:
            if faults := chord_faults(part):
                raise ValueError(f"{part.name} has chords that no hand holds at beats {faults[:3]}")
        elif part.role.is_lead and (late := line_overlaps(part)):
            raise ValueError(f"{part.name} is not a single line at beats {late[:3]}")
