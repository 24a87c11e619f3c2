"""The key that a progression most likely is in, for charts that do not say."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from genex.theory.chord import Chord
from genex.theory.key import Key, Mode
from genex.theory.pitch import Degree, NoteName

_MODES: tuple[Mode, ...] = ("major", "minor")
_TONICS = ("C", "G", "F", "D", "Bb", "A", "Eb", "E", "Ab", "B", "Db", "F#", "Gb", "C#", "Cb")
_MINOR_TONICS = ("A", "E", "D", "B", "G", "F#", "C", "C#", "F", "G#", "Bb", "D#", "Eb", "A#", "Ab")


def likely_key(chords: Iterable[Chord]) -> Key:
    """The key whose scale holds most chord tones, led by where the progression comes to rest.

    Points [common practice]: 1 for each chord, shared among its tones by whether the scale has
    them (the raised seventh counts in minor); 2 for a dominant seventh that goes home to the tonic,
    twice at most, from the end to the beginning too; 2 for the tonic at the beginning and at the end
    (half of that for a minor seventh chord, which is as often the second chord of another key; a
    chord without a third may be either's); 3 for a minor seventh and the dominant seventh a fourth
    above it side by side, the ii and V of the key, or in minor for a half-diminished one, unless they
    go to the tonic of the other mode; 3 for a blues: tonic, fourth and fifth all dominant sevenths.
    Between equals the key of the first chord wins, then
    the fewer accidentals.
    """
    found = list(chords)
    if not found:
        return Key(NoteName.parse("C"))
    keys = [
        Key(NoteName.parse(tonic), mode)
        for mode in _MODES
        for tonic in (_TONICS if mode == "major" else _MINOR_TONICS)
    ]
    return max(keys, key=lambda key: (_points(key, found), _is_tonic(found[0], key), -abs(key.fifths)))


def _points(key: Key, chords: list[Chord]) -> float:
    scale = set(key.scale)
    raised = NoteName(key.scale[6].step, key.scale[6].alter + 1)
    points = sum(_share(chord, scale | {raised} if key.mode == "minor" else scale) for chord in chords)
    pairs = list(pairwise([*chords, chords[0]]))
    home = sum(
        _is_seventh(before) and before.root == key.scale[4] and _is_tonic(after, key)
        for before, after in pairs
    )
    points += 2 * min(2, home)
    following = [*chords[2:], *chords[:2]]
    if any(
        _is_two_five(*pair, key) and not (after.root == key.tonic and not _is_tonic(after, key))
        for pair, after in zip(pairs, following, strict=True)
    ):
        points += 3
    for chord in (chords[0], chords[-1]):
        if _is_tonic(chord, key):
            points += 1 if chord.is_minor and chord.find(7) else 2
    blues = {key.scale[degree] for degree in (0, 3, 4)}
    if key.mode == "major" and blues <= {chord.root for chord in chords if _is_seventh(chord)}:
        points += 3
    return points


def _share(chord: Chord, scale: set[NoteName]) -> float:
    """Share of a chord's tones that lie in a scale."""
    return sum(note in scale for note in chord.notes) / len(chord.notes)


def _is_two_five(before: Chord, after: Chord, key: Key) -> bool:
    is_two = before.is_minor and before.find(7) is not None and before.root == key.scale[1]
    is_diminished = before.find(5) == Degree(5, -1)
    is_five = _is_seventh(after) or (after.find(3) is None and after.find(7) == Degree(7, -1))
    matches = is_diminished == (key.mode == "minor")
    return is_two and matches and is_five and after.root == key.scale[4]


def _is_tonic(chord: Chord, key: Key) -> bool:
    if chord.root != key.tonic:
        return False
    return chord.find(3) is None or chord.is_minor == (key.mode == "minor")


def _is_seventh(chord: Chord) -> bool:
    """Whether the chord is a dominant seventh, extended or altered or not."""
    third, seventh = chord.find(3), chord.find(7)
    return third == Degree(3) and seventh == Degree(7, -1)
