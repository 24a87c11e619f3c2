"""Pitches of chords within a range: spelling, degrees, ladders to climb, nearest tones.

A ladder is a tuple of MIDI numbers, ascending, that a line climbs up and down.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from genex.theory import Chord, Degree, Interval, NoteName, Pitch, Scale, stacked_thirds, without_clash
from genex.theory.pitch import STEP_SEMITONES

Ladder = tuple[int, ...]


def pitch_of(chord: Chord, midi: int) -> tuple[Pitch, Degree]:
    """Spelling and degree of a chord tone. Raises ValueError for a note that is not one."""
    degree = chord.degree_of(midi)
    if degree is None:
        raise ValueError(f"{midi} is no tone of {chord}")
    return spell(chord.root.degree(degree), midi), degree


def spell(name: NoteName, midi: int) -> Pitch:
    """The pitch of a name at a MIDI number of the same pitch class."""
    pitch = name.at_or_above(midi)
    if pitch.midi != midi:
        raise ValueError(f"{name} is not a name for {midi}")
    return pitch


def scale_tones(chord: Chord, scale: Scale, allowed: Iterable[int]) -> Ladder:
    """Every allowed MIDI number in a scale on the chord's root."""
    classes = scale.pitch_classes(chord.root)
    return tuple(midi for midi in allowed if midi % 12 in classes)


def pitch_in_scale(chord: Chord, scale: Scale, midi: int) -> tuple[Pitch, Degree]:
    """Spelling and degree of a note over a chord: as a chord tone, else as a scale tone.

    Raises ValueError for a note that is neither.
    """
    if chord.degree_of(midi) is not None:
        return pitch_of(chord, midi)
    for degree in scale.degrees:
        name = chord.root.degree(degree)
        if name.pitch_class == midi % 12:
            return spell(name, midi), degree
    raise ValueError(f"{midi} is no tone of {chord} in {scale}")


_ODD_DEGREES = frozenset((Degree(1, -1), Degree(3, 1), Degree(4, -1), Degree(7, 1)))
"""Names that nobody gives to a note over a chord: over Am7 it is C#, not Db."""


def leading_note(target: Pitch, semitones: int, chord: Chord, scale: Scale) -> tuple[Pitch, Degree]:
    """A note one or two semitones from its target, and its degree over the chord it sounds with.

    A note of the chord or its scale has the name it has there. Others are spelled on the letter
    next to the target's: F# leads up to G, Ab down to it; where that would be a double
    accidental or an odd degree, plainly.
    """
    midi = target.midi + semitones
    if midi % 12 in chord.pitch_classes | scale.pitch_classes(chord.root):
        return pitch_in_scale(chord, scale, midi)
    beside = target.transpose(Interval(1 if semitones > 0 else -1, semitones))
    choices = [beside, *(Pitch.from_midi(midi, flats=flats) for flats in (True, False))]
    named = [(pitch, degree_over(chord.root, pitch.name)) for pitch in choices]
    return min(named, key=lambda item: abs(item[0].name.alter) > 1 or _is_odd(item[1]))


def _is_odd(degree: Degree) -> bool:
    return abs(degree.alter) > 1 or degree in _ODD_DEGREES


def degree_over(root: NoteName, name: NoteName) -> Degree:
    """The degree that a name has over a root, 1 to 7: Db over C is b2, F# over C is #4."""
    steps = (name.step - root.step) % 7
    semitones = (name.pitch_class - root.pitch_class - STEP_SEMITONES[steps] + 6) % 12 - 6
    return Degree(steps + 1, semitones)


def chord_tones(chord: Chord, allowed: Iterable[int]) -> Ladder:
    """Every allowed MIDI number that is a tone of the chord as it is played (``without_clash``)."""
    classes = {chord.root.degree(degree).pitch_class for degree in without_clash(chord.degrees)}
    return tuple(midi for midi in allowed if midi % 12 in classes)


def stacked_ladder(chord: Chord, allowed: Sequence[int]) -> tuple[Ladder, int]:
    """A chord's tones as a stack of thirds (``stacked_thirds``), and the index of the lowest root."""
    tones = stacked_thirds(chord.degrees, chord.root, allowed)
    root = chord.notes[0].pitch_class
    return tones, next((i for i, midi in enumerate(tones) if midi % 12 == root), 0)


def nearest(tones: Collection[int], midi: int, *, other_than: int | None = None) -> int:
    """The tone nearest to ``midi``, the lower of two equally near; ValueError if there is none."""
    return min((tone for tone in tones if tone != other_than), key=lambda tone: (abs(tone - midi), tone))
