"""A phrase over one chord, answered over the next: degree for degree, in the same rhythm.

The third of the one chord becomes the third of the other, whatever kind of third it is; a scale
tone the tone of that number in the other chord's scale; what leads into a tone leads into what
has become of it, by as many semitones, an enclosure from the scale step above it [common practice:
a motif taken through the changes].
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from genex.lines.ladders import leading_note, spell
from genex.lines.targets import scale_step
from genex.lines.vocabulary import Kind, degrees_at
from genex.score import Note
from genex.theory import Chord, Degree, Pitch, Scale


def answer_over(
    notes: Sequence[Note],
    kinds: Sequence[Kind],
    chords: tuple[Chord, Chord],
    scale: Scale,
    level: int,
    allowed: Collection[int],
) -> tuple[Note, ...] | None:
    """The notes over the second of two chords, which has ``scale``; None where a degree has no
    counterpart there, or what comes out is not ``allowed`` (MIDI numbers).

    The root goes the shorter way, up or down; the longer one where that has more room.
    """
    old, new = chords
    up = (new.root.pitch_class - old.root.pitch_class) % 12
    for shift in sorted((up, up - 12), key=abs):
        found = _moved(notes, kinds, chords, scale, level, shift)
        if found is not None and all(note.midi in allowed for note in found):
            return found
    return None


def _moved(
    notes: Sequence[Note],
    kinds: Sequence[Kind],
    chords: tuple[Chord, Chord],
    scale: Scale,
    level: int,
    shift: int,
) -> tuple[Note, ...] | None:
    old, new = chords
    found: list[Note] = []
    target: Pitch | None = None
    for index in range(len(notes) - 1, -1, -1):
        note, kind = notes[index], kinds[index]
        assert note.degree is not None
        if kind in (Kind.CHORD, Kind.SCALE, Kind.BLUE):
            degree = _counterpart(note.degree, kind, old, new, scale, level)
            if degree is None:
                return None
            midi = note.midi - note.degree.simple.semitones + shift + degree.simple.semitones
            pitch = spell(new.root.degree(degree), midi)
        else:
            if target is None:
                return None
            led = notes[index + (2 if kind is Kind.ENCLOSE_ABOVE else 1)]
            away = note.midi - led.midi
            if kind is Kind.ENCLOSE_ABOVE:
                away = scale_step(target.midi, 1, new, scale) or away
            pitch, degree = leading_note(target, away, new, scale)
        found.append(replace(note, pitch=pitch, degree=degree, fretting=None, slide=None))
        # The upper note of an enclosure leads past the lower one to the same target.
        target = target if kind is Kind.ENCLOSE_BELOW else pitch
    return tuple(reversed(found))


def _counterpart(
    degree: Degree, kind: Kind, old: Chord, new: Chord, scale: Scale, level: int
) -> Degree | None:
    if kind is Kind.BLUE:
        return degree
    if kind is Kind.SCALE:
        return next((own for own in scale.degrees if own.number == degree.simple.number), None)
    ranks = degrees_at(old, level), degrees_at(new, level)
    if degree not in ranks[0]:
        return new.find(degree.number)
    rank = ranks[0].index(degree)
    return ranks[1][rank] if rank < len(ranks[1]) else None
