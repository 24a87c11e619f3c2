"""Chord voicings for comping, each named as players name them.

close       the tones within one octave, any inversion
drop 2      close position with the second voice from the top an octave lower
drop 3      close position with the third voice from the top an octave lower
shell       root, third and seventh, in either order of the upper two
rootless    third to ninth (type A) or seventh to third (type B), root left to the bass
triads      three voices: the triad, or third and seventh with one more tone
power       root and fifth, with the root doubled above
open        strummed chord on four to six strings, root or slash bass lowest, open strings used

Which tones: third and seventh always (their substitutes in sus and sixth chords), then what the
symbol adds or alters, then fifth and root [common practice]. Ninths and thirteenths that the symbol
does not ask for are added only to rootless voicings and only where the key has them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise

from genex.band.guitar import STANDARD_STRINGS, is_playable, place_on
from genex.band.tones import chord_scale
from genex.score import Fretting
from genex.theory import Chord, Degree, Key, NoteName, Pitch

VOICING_STYLES = ("close", "drop 2", "drop 3", "shell", "rootless", "triads", "power", "open")
KEYBOARD_RANGE = (48, 79)
_OCTAVE = 12
_STRING_SETS: dict[str, tuple[tuple[int, ...], ...]] = {
    "drop 2": ((4, 3, 2, 1), (5, 4, 3, 2), (6, 5, 4, 3)),
    "drop 3": ((6, 4, 3, 2), (5, 3, 2, 1)),
    "shell": ((6, 4, 3), (5, 4, 3), (6, 5, 4), (5, 3, 2), (4, 3, 2)),
    "triads": ((3, 2, 1), (4, 3, 2), (5, 4, 3)),
    "power": ((6, 5, 4), (5, 4, 3), (6, 5), (5, 4)),
    "close": ((4, 3, 2, 1), (5, 4, 3, 2), (3, 2, 1), (4, 3, 2)),
    "rootless": ((4, 3, 2, 1), (5, 4, 3, 2)),
}


@dataclass(frozen=True)
class Voicing:
    """Rising pitches of a chord; on a guitar with a string and fret for each."""

    style: str
    pitches: tuple[Pitch, ...]
    frettings: tuple[Fretting, ...] = ()

    @property
    def midi(self) -> tuple[int, ...]:
        return tuple(pitch.midi for pitch in self.pitches)


def tone_sets(
    chord: Chord, key: Key, voices: int, *, rootless: bool = False
) -> list[tuple[NoteName, ...]]:
    """Sets of up to ``voices`` notes that stand for a chord, the best first."""
    root = Degree(1)
    needed = [degree for degree in chord.guide_tones if degree.number != 1]
    colours = [
        d for d in reversed(chord.degrees) if d not in needed and (d.number > 7 or _is_altered_fifth(d))
    ]
    needed += colours[: max(0, voices - len(needed))]
    others = [d for d in chord.degrees if d not in needed]
    if rootless and _has_seventh(chord):
        spare = [d for d in (*_tensions(chord, key), *others) if d != root and d not in needed]
    else:
        spare = [root, *(d for d in others if d != root)]
    free = max(0, voices - len(needed))
    sets: list[tuple[NoteName, ...]] = []
    for chosen in combinations(spare, min(free, len(spare))):
        degrees = (*needed, *chosen)
        if len({d.semitones % _OCTAVE for d in degrees}) == len(degrees):
            sets.append(tuple(chord.root.degree(d) for d in degrees))
    return sets or [tuple(chord.root.degree(d) for d in needed)]


def _is_altered_fifth(degree: Degree) -> bool:
    return degree.number == 5 and degree.alter != 0


def _has_seventh(chord: Chord) -> bool:
    return chord.find(7) is not None or chord.find(6) is not None


def _tensions(chord: Chord, key: Key) -> list[Degree]:
    """Natural ninth and, on dominants, thirteenth, where the key has them over this chord."""
    scale = [(n.pitch_class - chord.root.pitch_class) % _OCTAVE for n in chord_scale(chord, key)]
    third, seventh = chord.find(3), chord.find(7)
    found = []
    if chord.find(9, 2) is None and 2 in scale and not any(_is_altered_fifth(d) for d in chord.degrees):
        found.append(Degree(9))
    is_dominant = third == Degree(3) and seventh == Degree(7, -1)
    if (
        is_dominant
        and 9 in scale
        and chord.find(13) is None
        and not any(map(_is_altered_fifth, chord.degrees))
    ):
        found.append(Degree(13))
    return found


def close_positions(tones: Sequence[NoteName], low: int, high: int) -> list[tuple[Pitch, ...]]:
    """All inversions in close position whose lowest note lies from ``low`` to ``high`` (MIDI)."""
    found = []
    for first in tones:
        bottom = first.at_or_above(low)
        while bottom.midi <= high:
            upper = [name.at_or_above(bottom.midi + 1) for name in tones if name != first]
            found.append((bottom, *sorted(upper, key=lambda pitch: pitch.midi)))
            bottom = Pitch(bottom.name, bottom.octave + 1)
    return found


def drop(pitches: tuple[Pitch, ...], voice: int) -> tuple[Pitch, ...]:
    """Close position with the ``voice``-th note from the top an octave lower.

    Drop 2 of C4 E4 G4 B4 is G3 C4 E4 B4 [common practice].
    """
    moved = pitches[-voice]
    rest = [pitch for pitch in pitches if pitch is not moved]
    return tuple(sorted([Pitch(moved.name, moved.octave - 1), *rest], key=lambda pitch: pitch.midi))


@lru_cache(maxsize=4096)
def candidates(
    chord: Chord,
    key: Key,
    styles: tuple[str, ...],
    *,
    on_guitar: bool,
    strings: tuple[Pitch, ...] = STANDARD_STRINGS,
) -> tuple[Voicing, ...]:
    """Every voicing of a chord in some styles; on a guitar only those a hand can hold.

    A chord that a style cannot voice (a power chord of a diminished chord, say) is voiced in the
    next style, at last in close position or triads.
    """
    found: list[Voicing] = []
    for style in styles:
        found += _of_style(chord, key, style, on_guitar=on_guitar, strings=strings)
    for style in ("drop 2", "triads", "shell", "close"):
        if found:
            break
        found = _of_style(chord, key, style, on_guitar=on_guitar, strings=strings)
    if not found:
        found = _of_style(chord, key, "close", on_guitar=False, strings=strings)
    return tuple(found)


def _of_style(
    chord: Chord, key: Key, style: str, *, on_guitar: bool, strings: tuple[Pitch, ...]
) -> list[Voicing]:
    if style == "open":
        if on_guitar:
            return _open_chords(chord, key, strings)
        style = "close"
    stacks = [stack for stack in _stacks(chord, key, style) if _is_clear(stack)]
    if not on_guitar:
        low, high = KEYBOARD_RANGE
        return [Voicing(style, s) for s in stacks if low <= s[0].midi and s[-1].midi <= high]
    voicings = []
    for stack in stacks:
        for string_set in _STRING_SETS[style]:
            frettings = place_on(stack, string_set, strings)
            if frettings is not None:
                voicings.append(Voicing(style, stack, frettings))
    return voicings


def _stacks(chord: Chord, key: Key, style: str) -> Iterable[tuple[Pitch, ...]]:
    """Rising pitches in a style, in all inversions and octaves."""
    if style == "power":
        fifth = chord.find(5) or (Degree(5) if chord.find(3, 4) else None)
        if fifth is None or fifth.alter:
            return
        for root in _octaves(chord.root, 40, 57):
            above = chord.root.degree(fifth).at_or_above(root.midi)
            yield (root, above, Pitch(root.name, root.octave + 1))
            yield (root, above)
    elif style == "shell":
        upper = [chord.root.degree(d) for d in chord.guide_tones]
        for root in _octaves(chord.root, 40, 60):
            for first, second in ((upper[0], upper[-1]), (upper[-1], upper[0])):
                if first != second:
                    middle = first.at_or_above(root.midi + 1)
                    yield (root, middle, second.at_or_above(middle.midi + 1))
    elif style == "triads":
        for tones in tone_sets(chord, key, 3):
            yield from close_positions(tones, 45, 74)
    elif style == "rootless":
        thirds = (chord.guide_tones[0], chord.guide_tones[-1])
        lowest = {chord.root.degree(degree) for degree in thirds}
        for tones in tone_sets(chord, key, 4, rootless=True):
            yield from (s for s in close_positions(tones, 48, 68) if s[0].name in lowest)
    else:
        for rootless in (False, True):
            for tones in tone_sets(chord, key, 4, rootless=rootless):
                for stack in close_positions(tones, 48, 74):
                    if style == "close" or len(stack) < 3:
                        yield stack
                    elif len(stack) == 4 or style == "drop 2":
                        yield drop(stack, int(style[-1]))


def _octaves(name: NoteName, low: int, high: int) -> Iterable[Pitch]:
    pitch = name.at_or_above(low)
    while pitch.midi <= high:
        yield pitch
        pitch = Pitch(pitch.name, pitch.octave + 1)


def _is_clear(pitches: tuple[Pitch, ...]) -> bool:
    """No semitone under the top note, no minor ninth between voices, no mud below C3."""
    midi = [pitch.midi for pitch in pitches]
    if len(set(midi)) != len(midi) or (len(midi) > 2 and midi[-1] - midi[-2] == 1):
        return False
    if any(b - a < 5 and a < 43 for a, b in pairwise(midi)):
        return False
    return not any(b - a == 13 for a, b in combinations(midi, 2))


def _open_chords(chord: Chord, key: Key, strings: tuple[Pitch, ...]) -> list[Voicing]:
    """Strummed shapes: root or slash bass lowest, neighbouring strings up to the first."""
    wanted = tone_sets(chord, key, 4)[0]
    names = {name.pitch_class: name for name in (*chord.notes, chord.bass)}
    needed = {name.pitch_class for name in wanted if name != chord.root or not _has_seventh(chord)}
    needed -= {chord.root.degree(Degree(5)).pitch_class}
    found = []
    for lowest in (6, 5, 4):
        for base in range(9):
            for frets in _shapes(lowest, base, chord.bass.pitch_class, names, strings):
                shape = {lowest - index: fret for index, fret in enumerate(frets)}
                pitches = [_named(strings[s - 1].midi + f, names) for s, f in shape.items()]
                if needed <= {pitch.pitch_class for pitch in pitches} and is_playable(shape):
                    ordered = sorted(
                        zip(pitches, shape.items(), strict=True), key=lambda item: item[0].midi
                    )
                    found.append(
                        Voicing(
                            "open",
                            tuple(pitch for pitch, _ in ordered),
                            tuple(Fretting(string, fret) for _, (string, fret) in ordered),
                        )
                    )
    unique = {(v.midi, v.frettings): v for v in found if len(set(v.midi)) == len(v.midi)}
    return list(unique.values())


def _shapes(
    lowest: int, base: int, bass: int, names: dict[int, NoteName], strings: tuple[Pitch, ...]
) -> list[tuple[int, ...]]:
    """Frets from string ``lowest`` up to string 1, within four frets from ``base`` or open."""
    choices = []
    for string in range(lowest, 0, -1):
        open_midi = strings[string - 1].midi
        frets = [
            f for f in dict.fromkeys((0, *range(base, base + 4))) if (open_midi + f) % _OCTAVE in names
        ]
        if string == lowest:
            frets = [fret for fret in frets if (open_midi + fret) % _OCTAVE == bass]
        if base > 2:
            frets = [fret for fret in frets if fret > 0]
        choices.append(frets)
    shapes: list[tuple[int, ...]] = [()]
    for frets in choices:
        shapes = [(*shape, fret) for shape in shapes for fret in frets]
    return shapes


def _named(midi: int, names: dict[int, NoteName]) -> Pitch:
    return names[midi % _OCTAVE].nearest(midi)


def movement(before: Sequence[int], after: Sequence[int]) -> float:
    """Mean movement a voice in semitones between two voicings (MIDI numbers, rising).

    With unequal numbers of voices each voice of the larger one goes to its nearest neighbour.
    """
    if len(before) == len(after):
        return sum(abs(a - b) for a, b in zip(before, after, strict=True)) / len(before)
    larger, smaller = sorted((before, after), key=len, reverse=True)
    return sum(min(abs(a - b) for b in smaller) for a in larger) / len(larger)
