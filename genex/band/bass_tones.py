"""What a bass player hears in a chord: its scale in the key, and pitches near a place."""

from __future__ import annotations

from functools import lru_cache

from genex.theory import Chord, Degree, Interval, Key, NoteName, Pitch, scales_for

SCALE_DEGREES = range(1, 8)


@lru_cache(maxsize=2048)
def chord_scale(chord: Chord, key: Key) -> tuple[NoteName, ...]:
    """Seven notes from the chord's root up, one a degree: the scale that suits it best in the key.

    Chords that no seven-note scale holds take their own tones and fill the gaps from the key.
    """
    for scale in scales_for(chord, key):
        if [degree.number for degree in scale.degrees] == list(SCALE_DEGREES):
            return tuple(chord.root.degree(degree) for degree in scale.degrees)
    own = {note.step: note for note in reversed(chord.notes)}
    by_letter = {name.step: name for name in key.scale}
    letters = [(chord.root.step + number) % 7 for number in range(7)]
    return tuple(own.get(letter) or by_letter[letter] for letter in letters)


def degree_name(chord: Chord, key: Key, number: int) -> NoteName:
    """The note a degree number from 1 to 7 has over a chord, by its scale in the key."""
    found = chord.find(number)
    if found is not None:
        return chord.root.degree(found)
    if number == 5:
        return chord.root.degree(Degree(5))
    return chord_scale(chord, key)[number - 1]


def semitone_below(pitch: Pitch) -> Pitch:
    """The leading note of a pitch, spelled on the letter below."""
    return pitch.transpose(Interval(-1, -1))


def semitone_above(pitch: Pitch) -> Pitch:
    """The note a semitone above, spelled on the letter above."""
    return pitch.transpose(Interval(1, 1))


def tones_between(names: tuple[NoteName, ...], low: int, high: int) -> tuple[Pitch, ...]:
    """Every pitch of some names from ``low`` to ``high`` (MIDI), rising."""
    found: dict[int, Pitch] = {}
    for name in names:
        pitch = name.at_or_above(low)
        while pitch.midi <= high:
            found.setdefault(pitch.midi, pitch)
            pitch = Pitch(pitch.name, pitch.octave + 1)
    return tuple(found[midi] for midi in sorted(found))
