"""Where guide tones of a chord go in the next one, and where a line plays that."""

from __future__ import annotations

from bisect import bisect_left
from typing import Literal

from genex.exact import Fraction
from genex.score import Part, Role, Timeline
from genex.theory import Chord, Degree, smallest_leading

Resolving = Literal["goes", "comes"]

UNDERLINES = {"": "1", "goes": "2", "comes": "3"}
"""Lines under the degree of a guide tone by which the engraving knows what it does: MusicXML has up to
three. The engraving draws one as a line, two as a square, three as a disc."""

_FARTHEST = 2
"""Semitones that a guide tone goes to resolve [common practice]: farther it would be a leap."""

_LONGEST_WAY = Fraction(4)
"""Beats from the one tone to the other: over more nobody hears a line resolve."""


def voices(old: Chord, new: Chord) -> list[tuple[Degree, Degree, int]]:
    """The guide tones of the smallest voice leading that go by step or stay: from, to, semitones."""
    before = {old.root.degree(degree).pitch_class: degree for degree in old.guide_tones}
    after = {new.root.degree(degree).pitch_class: degree for degree in new.guide_tones}
    moves = {move.source: move for move in smallest_leading(list(before), list(after)).moves}
    return [
        (degree, after[move.target], move.semitones)
        for pitch, degree in before.items()
        if abs((move := moves[pitch]).semitones) <= _FARTHEST
    ]


def resolving_notes(part: Part, timeline: Timeline) -> dict[Fraction, Resolving]:
    """By onset the notes of a line between which a guide tone goes by step, in its own octave, into the
    next chord: the last under the one, the first under the other. None of a guide line, which does
    nothing else, and of chords."""
    if part.role is Role.GUIDE or part.chordal:
        return {}
    notes = part.notes
    onsets = [note.onset_beats for note in notes]
    found: dict[Fraction, Resolving] = {}
    for before, after in timeline.changes():
        if before.chord is None or after.chord is None or after.onset_beats <= before.onset_beats:
            continue
        first, change, last = (
            bisect_left(onsets, at) for at in (before.onset_beats, after.onset_beats, after.end_beats)
        )
        for degree, other, step in voices(before.chord, after.chord):
            old = next((n for n in reversed(notes[first:change]) if n.degree == degree), None)
            new = next((n for n in notes[change:last] if n.degree == other), None)
            if step == 0 or old is None or new is None or new.midi - old.midi != step:
                continue
            if new.onset_beats - old.onset_beats <= _LONGEST_WAY:
                found.setdefault(old.onset_beats, "goes")
                found[new.onset_beats] = "comes"
    return found
