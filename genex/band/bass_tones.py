"""What a bass player hears in a chord: the scale that it is read in, and pitches near a place."""

from __future__ import annotations

from genex.theory import Degree, Interval, NoteName, Pitch, Reading


def tones_of(reading: Reading) -> tuple[NoteName, ...]:
    """The notes of a chord, then those of its scale that it has not; empty without a chord."""
    if reading.chord is None:
        return ()
    found = {note.pitch_class: note for note in reversed((*reading.chord.notes, *reading.scale_notes))}
    return tuple(reversed(found.values()))


def degree_name(reading: Reading, number: int) -> NoteName:
    """The note that a degree from 1 to 7 has over a chord: the chord's own, else its scale's.

    Of two notes on a degree (half-whole diminished) the key's is taken; where the scale leaves the
    degree out (pentatonic), the key's note or the perfect fifth. Raises ValueError without a chord.
    """
    chord, scale = reading.chord, reading.scale
    if chord is None or scale is None:
        raise ValueError("there is no degree without a chord")
    own = chord.find(number)
    if own is not None:
        return chord.root.degree(own)
    of_key = {name.pitch_class for name in reading.key.scale}
    found = [chord.root.degree(degree) for degree in scale.degrees if degree.number == number]
    if found:
        return min(found, key=lambda name: name.pitch_class not in of_key)
    if number == 5:
        return chord.root.degree(Degree(5))
    letter = (chord.root.step + number - 1) % 7
    return next(name for name in reading.key.scale if name.step == letter)


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
