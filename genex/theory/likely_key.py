"""The key that a progression most likely is in, for charts that do not say."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from genex.theory.chord import Chord
from genex.theory.key import Key, Mode
from genex.theory.pitch import NoteName

_MODES: tuple[Mode, ...] = ("major", "minor")
_TONICS = ("C", "G", "F", "D", "Bb", "A", "Eb", "E", "Ab", "B", "Db", "F#", "Gb", "C#", "Cb")
_MINOR_TONICS = ("A", "E", "D", "B", "G", "F#", "C", "C#", "F", "G#", "Bb", "D#", "Eb", "A#", "Ab")


def likely_key(chords: Iterable[Chord]) -> Key:
    """The key whose scale holds most chord tones, led by where the progression comes to rest.

    Points: 1 for each chord, shared among its tones by whether the scale has them (the raised
    seventh counts in minor); 2 for a dominant that goes home to the tonic, twice at most; 2 for
    the tonic at the beginning and at the end, and half of that where it is a minor seventh,
    which is as often the second chord of another key [common practice]. Between equals the key
    with the fewer accidentals wins.
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
    points = sum(sum(note in scale for note in chord.notes) / len(chord.notes) for chord in chords)
    resolutions = sum(
        _is_dominant(before) and before.root == key.scale[4] and _is_tonic(after, key)
        for before, after in pairwise(chords)
    )
    points += 2 * min(2, resolutions)
    for chord in (chords[0], chords[-1]):
        if _is_tonic(chord, key):
            points += 1 if chord.is_minor and chord.find(7) else 2
    return points


def _is_tonic(chord: Chord, key: Key) -> bool:
    return chord.root == key.tonic and chord.is_minor == (key.mode == "minor")


def _is_dominant(chord: Chord) -> bool:
    third, seventh = chord.find(3), chord.find(7)
    return third is not None and not chord.is_minor and (seventh is None or seventh.alter == -1)
