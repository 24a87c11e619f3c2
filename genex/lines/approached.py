"""Approach notes: every tone of an arpeggio is led up to from a half step below, a step above, or both.

The tones come on the beat, their approach notes before it [common practice]. The tones keep the
places of their shape; what leads to them lies in reach of its positions.
"""

from __future__ import annotations

from collections.abc import Sequence

from genex.fretboard import Pattern, Shape, ShapeNote, Tuning, Wishes, places
from genex.fretboard.fingering import finger_among
from genex.fretboard.sequences import Approach, sequence_indices
from genex.lines.ladders import leading_note, pitch_in_scale
from genex.lines.targets import scale_step
from genex.theory import Chord, Degree, Pitch, Scale

REACH_FRETS = 1
"""Approach notes lie at most this far outside the frets of the shape where they can."""


def approached(
    row: Pattern, shape: Shape, chord: Chord, scale: Scale, tuning: Tuning
) -> list[ShapeNote]:
    """A walk over a shape with approach notes before each tone but the first. Raises FretboardError."""
    tones = [shape.notes[index] for index in sequence_indices(row.name, shape)]
    steps: list[tuple[Pitch, Degree, ShapeNote | None]] = [(tones[0].pitch, tones[0].degree, tones[0])]
    for tone in tones[1:]:
        steps += [(*_led(side, tone.pitch, chord, scale, tuning), None) for side in row.approach]
        steps.append((tone.pitch, tone.degree, tone))
    frets = [note.fret for note in shape.notes]
    window = range(max(1, min(frets) - REACH_FRETS), min(tuning.last_fret, max(frets) + REACH_FRETS) + 1)
    choices = [
        [(tone.string, tone.fret)] if tone is not None else _choices(pitch.midi, window, tuning)
        for pitch, _, tone in steps
    ]
    line = finger_among([pitch.midi for pitch, _, _ in steps], choices, tuning, Wishes())
    return [
        ShapeNote(own.string, own.fret, pitch, degree, own.finger, own.position)
        for (pitch, degree, _), own in zip(steps, line, strict=True)
    ]


def _led(
    side: Approach, target: Pitch, chord: Chord, scale: Scale, tuning: Tuning
) -> tuple[Pitch, Degree]:
    """The note before a tone.

    From above it is the half step where the scale has none within a whole one. At the end of the
    neck it comes from the other side.
    """
    step = scale_step(target.midi, 1, chord, scale) if side == "above" else None
    if step is not None and places(tuning, target.midi + step):
        return pitch_in_scale(chord, scale, target.midi + step)
    half = 1 if side == "above" else -1
    return leading_note(target, half if places(tuning, target.midi + half) else -half, chord, scale)


def _choices(midi: int, window: range, tuning: Tuning) -> Sequence[tuple[int, int]]:
    """Places of a pitch among some frets, else the nearest to them."""
    found = places(tuning, midi)
    return [place for place in found if place.fret in window] or [
        min(found, key=lambda place: min(abs(place.fret - fret) for fret in window))
    ]
