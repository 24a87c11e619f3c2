"""How the pitch of a note moves while it sounds: bends and vibrato, for MIDI and sound alike.

A string can only be bent up, so vibrato goes up from the note and back: five and a half times a second,
by a third of a semitone, once the note has sounded for a while [common practice].
"""

from __future__ import annotations

from itertools import pairwise

from genex.exact import Fraction
from genex.score.model import Note

VIBRATO_HZ = Fraction(11, 2)
VIBRATO_SEMITONES = Fraction(1, 3)
_WAIT_SHARE, _LONGEST_WAIT_BEATS = Fraction(1, 4), Fraction(1, 2)
_WAVE = tuple(Fraction(value, 10_000) for value in (0, 1464, 5000, 8536, 10_000, 8536, 5000, 1464))
"""An eighth of a period each: half of one minus a cosine."""

Curve = tuple[tuple[Fraction, Fraction], ...]
"""Beats from the beginning of the sound, and semitones above the note; straight lines between them."""


def pitch_curve(note: Note, length_beats: Fraction, tempo_bpm: Fraction) -> Curve:
    """The curve of a note that sounds so long; empty for one that keeps its pitch.

    ``tempo_bpm`` is in quarter notes a minute. Slides are not in it.
    """
    curve = bend_curve(note, length_beats)
    if not note.vibrato:
        return curve
    start, height = vibrato_start(note, length_beats)
    step = tempo_bpm / 60 / VIBRATO_HZ / len(_WAVE)
    count = max(0, int((length_beats - start) / step))
    waves = (
        (start + n * step, height + VIBRATO_SEMITONES * _WAVE[n % len(_WAVE)]) for n in range(count)
    )
    return (*curve, *waves)


def bend_curve(note: Note, length_beats: Fraction) -> Curve:
    """The bend alone: up after a third of the note, an eighth at most; a release begins in the middle of
    the note and takes a quarter of it [common practice]. Empty for a note that is not bent."""
    bend = note.bend
    if bend is None:
        return ()
    up = Fraction(bend.semitones)
    rise = min(length_beats / 3, Fraction(1, 2))
    curve = ((Fraction(0), Fraction(0)), (rise, up))
    if not bend.releases:
        return curve
    return (*curve, (length_beats / 2, up), (length_beats * 3 / 4, Fraction(0)))


def vibrato_start(note: Note, length_beats: Fraction) -> tuple[Fraction, Fraction]:
    """When the vibrato of a note begins, in beats from the start of its sound, and how many semitones
    above the note: behind its slide and its bend."""
    bent_until, height = ((Fraction(0), Fraction(0)), *bend_curve(note, length_beats))[-1]
    slid_until = note.slide.length_beats if note.slide is not None else Fraction(0)
    wait = min(_WAIT_SHARE * length_beats, _LONGEST_WAIT_BEATS)
    return max(wait, slid_until, bent_until), height


def height_at(curve: Curve, beats: Fraction) -> Fraction:
    """Semitones above the note at a time; before the first point as there, after the last as there."""
    for (start, low), (end, high) in pairwise(curve):
        if start <= beats < end:
            return low + (high - low) * (beats - start) / (end - start)
    return curve[-1][1] if beats >= curve[-1][0] else curve[0][1]
