"""The key that a progression most likely is in, for charts that do not say."""

from __future__ import annotations

from collections.abc import Iterable

from genex.theory.chord import Chord
from genex.theory.key import Key, Mode
from genex.theory.pitch import NoteName

_MODES: tuple[Mode, ...] = ("major", "minor")
_TONICS = ("C", "G", "F", "D", "Bb", "A", "Eb", "E", "Ab", "B", "Db", "F#", "Gb", "C#", "Cb")
_MINOR_TONICS = ("A", "E", "D", "B", "G", "F#", "C", "C#", "F", "G#", "Bb", "D#", "Eb", "A#", "Ab")


def likely_key(chords: Iterable[Chord]) -> Key:
    """The key whose scale holds most chord tones, led by where the progression rests.

    Points: each chord tone in the scale (the raised seventh counts in minor) 1; a tonic chord
    at the beginning or the end 6, and a dominant seventh a fifth above the tonic 2
    [common practice]. Between equals the key with the fewer accidentals wins.
    """
    found = list(chords)
    if not found:
        return Key(NoteName.parse("C"))
    keys = [
        Key(NoteName.parse(tonic), mode)
        for mode in _MODES
        for tonic in (_TONICS if mode == "major" else _MINOR_TONICS)
    ]
    return max(keys, key=lambda key: (_points(key, found), -abs(key.fifths)))


def _points(key: Key, chords: list[Chord]) -> float:
    scale = set(key.scale)
    if key.mode == "minor":
        scale.add(NoteName(key.scale[6].step, key.scale[6].alter + 1))
    points = 0.0
    for chord in chords:
        points += sum(note in scale for note in chord.notes) / len(chord.notes)
        is_dominant = chord.find(3) is not None and not chord.is_minor and _has_minor_seventh(chord)
        if is_dominant and chord.root == key.scale[4]:
            points += 2 / len(chords)
    for chord, weight in ((chords[0], 3.0), (chords[-1], 3.0)):
        if chord.root == key.tonic and chord.is_minor == (key.mode == "minor"):
            points += weight
    return points


def _has_minor_seventh(chord: Chord) -> bool:
    seventh = chord.find(7)
    return seventh is not None and seventh.alter == -1
