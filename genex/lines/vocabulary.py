"""What a phrase of each level may be made of.

Levels [common practice]:

1  three chord tones in one position (root, third, fifth within an octave)
2  the same chord tones over a wider range
3  seventh chords: all chord tones up to the seventh (or sixth)
4  scale tones around chord tones: they come off the beat and move on by step
5  approach notes and enclosures: semitones that resolve into chord tones
6  all that through changing chords

What a note is depends on the chord that sounds with it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache

from genex.errors import LineError
from genex.lines.ladders import leading_note, pitch_in_scale, pitch_of
from genex.theory import Chord, Degree, Pitch, Scale

LEVELS = {
    1: "three chord tones in one position",
    2: "chord tones over a wider range",
    3: "seventh chords",
    4: "scale tones around chord tones",
    5: "approach notes and enclosures",
    6: "all that through the changes",
}

WINDOW_SEMITONES = {1: 12, 2: 19, 3: 16, 4: 14, 5: 14, 6: 16}
"""Compass of a phrase at each level; level 1 is held to its three tones anyway."""


class Kind(IntEnum):
    """What a note is in its phrase."""

    CHORD = 0
    SCALE = 1
    APPROACH = 2
    """A semitone from the chord tone that follows."""
    ENCLOSE_ABOVE = 3
    ENCLOSE_BELOW = 4
    """The two notes of an enclosure: scale step above, semitone below, then the chord tone."""


@dataclass(frozen=True)
class Vocabulary:
    """The pitches that a level offers in a range.

    allowed     MIDI numbers that may be used, ascending
    centre      where the phrases lie; level 1 takes the three chord tones nearest to it
    under_hand  those that the hand holds without a shift while a phrase lasts; empty for all.
                Phrases lie among these, as far as the chords let them
    """

    level: int
    allowed: tuple[int, ...]
    centre: int
    under_hand: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.level not in LEVELS:
            raise LineError(f"there is no level {self.level}", hint="levels run from 1 to 6")

    def chord_tones(self, chord: Chord) -> tuple[int, ...]:
        """The chord tones of the level, ascending. Raises LineError if there are fewer than three."""
        classes = {chord.root.degree(degree).pitch_class for degree in degrees_at(chord, self.level)}
        tones = tuple(midi for midi in self.allowed if midi % 12 in classes)
        if len(tones) < 3:
            raise LineError(
                f"the range holds {len(tones)} of the tones of {chord} that level {self.level} needs",
                hint="let it span an octave or more: more strings, wider limits or another position",
            )
        if self.level > 1:
            return tones
        root = chord.notes[0].pitch_class
        groups = [tones[i : i + 3] for i in range(len(tones) - 2)]
        rooted = [group for group in groups if group[0] % 12 == root]
        return min(
            rooted or groups,
            key=lambda group: (
                sum(not self.is_under_hand(midi) for midi in group),
                abs(group[1] - self.centre),
                group,
            ),
        )

    def is_under_hand(self, midi: int) -> bool:
        """Whether a note needs no shift of the hand."""
        return not self.under_hand or midi in self.under_hand

    def window(self, chords: Sequence[Chord], base: int) -> tuple[int, int]:
        """Lowest and highest MIDI number of a phrase that begins its range at ``base``."""
        if self.level == 1:
            tones = [midi for chord in chords for midi in self.chord_tones(chord)]
            return min(tones), max(tones)
        reach = self.under_hand or self.allowed
        low = max(reach[0], min(base, reach[-1] - WINDOW_SEMITONES[self.level]))
        return low, min(reach[-1], low + WINDOW_SEMITONES[self.level])

    def candidates(
        self, chord: Chord, chord_scale: Scale, *, weak: bool, wanted: Collection[Kind] = ()
    ) -> list[tuple[int, Kind]]:
        """Every pitch that a note over a chord may have; ``chord_scale`` is the scale it has there.

        From level 4 on weak notes may be scale tones too; the kinds of level 5 only where they
        are ``wanted``.
        """
        tones = self.chord_tones(chord)
        found = [(midi, Kind.CHORD) for midi in tones]
        if self.level < 4 or not weak:
            return found
        scale = chord_scale.pitch_classes(chord.root)
        foreign = [midi for midi in self.allowed if midi not in tones]
        found += [(midi, Kind.SCALE) for midi in foreign if midi % 12 in scale]
        if self.level >= 5:
            if Kind.APPROACH in wanted:
                found += [(midi, Kind.APPROACH) for midi in foreign]
            if Kind.ENCLOSE_ABOVE in wanted:
                at_home = scale | chord.pitch_classes
                found += [(m, Kind.ENCLOSE_ABOVE) for m in self.allowed if m % 12 in at_home]
            if Kind.ENCLOSE_BELOW in wanted:
                found += [(midi, Kind.ENCLOSE_BELOW) for midi in self.allowed]
        return found

    def name(
        self, chord: Chord, scale: Scale, midi: int, kind: Kind, target: Pitch | None
    ) -> tuple[Pitch, Degree]:
        """Spelling and degree of a note; ``target`` is the note that it leads to."""
        if kind is Kind.CHORD or target is None:
            return pitch_of(chord, midi)
        if kind is Kind.SCALE:
            return pitch_in_scale(chord, scale, midi)
        return leading_note(target, midi - target.midi, chord, scale)


@lru_cache(maxsize=512)
def degrees_at(chord: Chord, level: int) -> tuple[Degree, ...]:
    """The chord tones of a level: three at levels 1 and 2, up to the seventh from there on."""
    if level <= 2:
        third = chord.find(3) or chord.guide_tones[0]
        fifth = chord.find(5) or chord.guide_tones[-1]
        three = dict.fromkeys((chord.degrees[0], third, fifth))
        return tuple([*three, *(d for d in chord.degrees if d not in three)][:3])
    low = tuple(degree for degree in chord.degrees if degree.number < 8)
    return low if len(low) >= 3 else chord.degrees


def allows(before: tuple[int, Kind], after: tuple[int, Kind]) -> bool:
    """Whether a note may be followed by another: notes foreign to the chord must resolve.

    ``after``'s chord tones are those of the chord that sounds with it.
    """
    (low, kind), (high, following) = before, after
    step = high - low
    if kind is Kind.CHORD:
        return following is not Kind.ENCLOSE_BELOW
    if kind is Kind.SCALE:
        return following in (Kind.CHORD, Kind.SCALE) and 1 <= abs(step) <= 2
    if kind is Kind.APPROACH:
        return following is Kind.CHORD and abs(step) == 1
    if kind is Kind.ENCLOSE_ABOVE:
        return following is Kind.ENCLOSE_BELOW and step in (-2, -3)
    return following is Kind.CHORD and step == 1


def require_level(chords: Sequence[Chord], level: int) -> None:
    """Raise LineError for a level that a progression has no material for."""
    if level not in LEVELS:
        raise LineError(f"there is no level {level}", hint="levels run from 1 to 6")
    if level >= 3 and not any(chord.find(7) or chord.find(6) for chord in chords):
        raise LineError(
            f"level {level} needs seventh chords and the chart has none",
            hint="write for example Dm7 instead of Dm, or choose level 1 or 2",
        )
