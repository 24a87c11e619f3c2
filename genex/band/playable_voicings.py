"""Voicings under the hands: those of ``genex.theory.voicings``, filtered by what can be played.

On a guitar every voicing has one string a note, lies in the reach of one hand and carries string
and fret; on keyboards it lies in a middle register. ``open`` is the guitarist's own: a strummed
chord on four to six neighbouring strings, root or slash bass lowest, open strings near the nut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import combinations, pairwise

from genex.band.guitar_grips import grips, strummed_shapes
from genex.score import Fretting
from genex.theory import STYLES, Chord, Degree, Pitch, Scale, essential_degrees, voicings

OPEN = "open"
VOICING_STYLES = (*STYLES, OPEN)
KEYBOARD_RANGE = (48, 79)
GUITAR_RANGE = (40, 78)
_FALLBACKS = ("drop 2", "shell", "triad", "guide tones", "close")
LOWEST_OF_INTERVAL = {1: 52, 2: 51, 3: 48, 4: 46}
"""MIDI number of the lowest note that a narrow interval is clear on, by its semitones: minor second E3,
major second E flat 3, minor third C3, major third B flat 2 [memory: low-interval limits as arranging
handbooks give them]. Fourths and wider are left to the instrument's range."""
_MINOR_NINTH = 13


@dataclass(frozen=True)
class Voicing:
    """Rising pitches of a chord; on a guitar with a string and fret for each."""

    style: str
    pitches: tuple[Pitch, ...]
    frettings: tuple[Fretting, ...] = ()

    @cached_property
    def midi(self) -> tuple[int, ...]:
        return tuple(pitch.midi for pitch in self.pitches)

    @cached_property
    def mean_midi(self) -> float:
        return sum(self.midi) / len(self.midi)

    @cached_property
    def mean_fret(self) -> float:
        """Where the hand lies; 0 away from a guitar."""
        pressed = [place.fret for place in self.frettings if place.fret]
        return sum(pressed) / len(pressed) if pressed else 0.0

    @cached_property
    def has_muted_string(self) -> bool:
        """Whether a string between the outer ones must be kept quiet."""
        strings = [place.string for place in self.frettings]
        return bool(strings) and max(strings) - min(strings) >= len(strings)


@lru_cache(maxsize=4096)
def candidates(
    chord: Chord, scale: Scale | None, styles: tuple[str, ...], *, on_guitar: bool
) -> tuple[Voicing, ...]:
    """Every voicing of a chord and its scale in some styles; on a guitar only those a hand can hold.

    A chord that none of the styles can voice is taken in another style. Never empty.
    """
    found: list[Voicing] = []
    for style in styles:
        found += _of_style(chord, scale, style, on_guitar=on_guitar)
    for style in _FALLBACKS:
        if found:
            return tuple(found)
        found = _of_style(chord, scale, style, on_guitar=on_guitar)
    low, high = GUITAR_RANGE if on_guitar else KEYBOARD_RANGE
    root = chord.root.nearest((low + high) // 2)
    plain = next(grips((root,))) if on_guitar else ()
    return tuple(found) or (Voicing("close", (root,), plain),)


def _of_style(chord: Chord, scale: Scale | None, style: str, *, on_guitar: bool) -> list[Voicing]:
    if style == OPEN and on_guitar:
        return _strummed(chord)
    if style == OPEN:
        style = "close"
    if style == "power" and any(d.number == 5 and d.alter for d in chord.degrees):
        return []
    low, high = GUITAR_RANGE if on_guitar else KEYBOARD_RANGE
    if style in ("triad", "open triad") and chord.find(7, 6) is not None:
        stacks = _three_voices(chord, low, high)
    else:
        stacks = voicings(chord, style, low, high, scale=scale)
    needed = characteristic(chord) if style != "power" else frozenset()
    stacks = [s for s in stacks if is_clear(s) and needed <= {pitch.pitch_class for pitch in s}]
    if not on_guitar:
        return [Voicing(style, stack) for stack in stacks]
    return [Voicing(style, stack, places) for stack in stacks for places in grips(stack)]


@lru_cache(maxsize=1024)
def characteristic(chord: Chord) -> frozenset[int]:
    """Pitch classes without which a voicing is another chord.

    Third and seventh (or what stands for them) where there is a seventh or sixth, and the most
    important tone that the symbol adds or alters; the thirds of triads.
    """
    kept = essential_degrees(chord, 3)
    needed = [d for d in kept if d.number > 7 or (d.number == 5 and d.alter)]
    needed += [d for d in chord.guide_tones if d.number not in (1, 5)]
    return frozenset(chord.root.degree(degree).pitch_class for degree in needed)


def _three_voices(chord: Chord, low: int, high: int) -> list[tuple[Pitch, ...]]:
    """Third and seventh with one more tone in close position, every inversion.

    The tone is what the symbol adds or alters where it does, else root or fifth.
    """
    first, second = chord.guide_tones[0], chord.guide_tones[-1]
    others = [degree for degree in chord.degrees if degree not in (first, second)]
    colours = [degree for degree in others if degree.number > 7 or degree.alter]
    stacks = []
    for third in (colours or others)[-2:]:
        names = [chord.root.degree(degree) for degree in (first, second, third)]
        for lowest in names:
            bottom = lowest.at_or_above(low)
            while bottom.midi <= high:
                upper = [name.at_or_above(bottom.midi + 1) for name in names if name != lowest]
                stacks.append((bottom, *sorted(upper, key=lambda pitch: pitch.midi)))
                bottom = Pitch(bottom.name, bottom.octave + 1)
    return [stack for stack in stacks if stack[-1].midi <= high]


def is_muddy(midi: Sequence[int]) -> bool:
    """Whether rising notes (MIDI) have a narrow interval in a register that is too low for it."""
    return any(below < LOWEST_OF_INTERVAL.get(above - below, 0) for below, above in pairwise(midi))


def is_clear(pitches: Sequence[Pitch]) -> bool:
    """No semitone under the top note, no minor ninth, no narrow interval in the low register."""
    midi = [pitch.midi for pitch in pitches]
    if len(midi) > 2 and midi[-1] - midi[-2] == 1:
        return False
    if is_muddy(midi):
        return False
    return not any(above - below == _MINOR_NINTH for below, above in combinations(midi, 2))


def _strummed(chord: Chord) -> list[Voicing]:
    kept = essential_degrees(chord, 4, with_root=True)
    tones = [chord.root.degree(degree) for degree in dict.fromkeys((*kept, Degree(1)))]
    fifth = chord.find(5)
    if fifth is not None and fifth.alter == 0:
        tones.append(chord.root.degree(fifth))
    names = {name.pitch_class: name for name in (*tones, chord.bass)}
    needed = {chord.root.degree(degree).pitch_class for degree in kept if degree != Degree(5)}
    found = []
    for shape in strummed_shapes(names, chord.bass.pitch_class):
        pitches = tuple(pitch for pitch, _ in shape)
        if is_muddy([pitch.midi for pitch in pitches]):
            continue
        if needed <= {pitch.pitch_class for pitch in pitches}:
            found.append(Voicing(OPEN, pitches, tuple(place for _, place in shape)))
    return found


def movement(before: Sequence[int], after: Sequence[int]) -> float:
    """Mean movement a voice in semitones between two voicings (MIDI numbers, rising).

    With unequal numbers of voices each voice of the larger one goes to its nearest neighbour.
    """
    if len(before) == len(after):
        return sum(abs(a - b) for a, b in zip(before, after, strict=True)) / len(before)
    larger, smaller = sorted((before, after), key=len, reverse=True)
    return sum(min(abs(a - b) for b in smaller) for a in larger) / len(larger)
