"""What a phrase of each level may be made of.

Levels [common practice]; ``LEVELS`` is the table of them:

1  three chord tones in one position (root, third, fifth within an octave), on the beat
2  the same chord tones over a wider range
3  seventh chords: all chord tones up to the seventh (or sixth); over a plain triad the pentatonic
4  scale tones around chord tones: they come off the beat and move on by step; in a blues blue notes
5  approach notes and enclosures: semitones that resolve into chord tones
6  all that through changing chords

What a note is depends on the chord that it belongs to.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache

from genex.errors import LineError
from genex.exact import Fraction
from genex.lines.ladders import leading_note, pitch_in_scale, pitch_of, spell
from genex.score import Timeline
from genex.theory import Chord, Degree, Pitch, Scale, without_clash

LEVELS = {
    1: "three chord tones in one position",
    2: "chord tones over a wider range",
    3: "seventh chords, the pentatonic over triads",
    4: "scale tones around chord tones",
    5: "approach notes and enclosures",
    6: "all that through the changes",
}

WINDOW_SEMITONES = {1: 12, 2: 14, 3: 15, 4: 16, 5: 17, 6: 19}
"""Compass of one phrase at each level; level 1 is held to its three tones anyway."""
COMPASS_SEMITONES = {1: 15, 2: 17, 3: 19, 4: 21, 5: 24, 6: 27}
"""Compass of a whole etude at each level, where the hand reaches so far."""

PENTATONIC_LEVEL, SCALE_LEVEL, APPROACH_LEVEL = 3, 4, 5
"""The levels that bring the pentatonic over triads, scale tones and approach notes."""

_PENTATONICS = (
    (Degree(3), (Degree(2), Degree(6))),
    (Degree(3, -1), (Degree(4), Degree(7, -1))),
)
"""What the pentatonic adds to a triad with a major or a minor third [common practice]."""
_BLUE_NOTES = (Degree(3, -1), Degree(5, -1))
"""Blue notes of a dominant chord: they rise by a semitone, into its third or fifth."""


class Kind(IntEnum):
    """What a note is in its phrase."""

    CHORD = 0
    SCALE = 1
    APPROACH = 2
    """A semitone from the chord tone that follows."""
    ENCLOSE_ABOVE = 3
    ENCLOSE_BELOW = 4
    """The two notes of an enclosure: scale step above, semitone below, then the chord tone."""
    BLUE = 5
    """A blue note, which rises by a semitone into a chord tone."""


@dataclass(frozen=True)
class Vocabulary:
    """The pitches that a level offers in a range.

    allowed     MIDI numbers that may be used, ascending
    centre      where the phrases lie; level 1 takes the three chord tones nearest to it
    under_hand  those that the hand holds without a shift while a phrase lasts; empty for all.
                Phrases lie among these, as far as the chords let them
    blues       there are blue notes
    rolled      semitones between neighbouring strings
    """

    level: int
    allowed: tuple[int, ...]
    centre: int
    under_hand: tuple[int, ...] = ()
    blues: bool = False
    rolled: frozenset[int] = frozenset()

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
        self,
        chord: Chord,
        chord_scale: Scale,
        *,
        weak: bool,
        off: bool,
        wanted: Collection[Kind] = (),
    ) -> list[tuple[int, Kind]]:
        """Every pitch that a note over a chord may have; ``chord_scale`` is the scale it has there.

        Scale tones come off the beat at the level that brings them, later on any weak note; the
        other kinds only where they are ``wanted``.
        """
        tones = self.chord_tones(chord)
        found = [(midi, Kind.CHORD) for midi in tones]
        if self.level < PENTATONIC_LEVEL or not weak:
            return found
        foreign = [midi for midi in self.allowed if midi not in tones]
        scale = chord_scale.pitch_classes(chord.root)
        if self.level < SCALE_LEVEL:
            added = self._pentatonic(chord, scale)
            return found + [(midi, Kind.SCALE) for midi in foreign if midi % 12 in added]
        if off or self.level > SCALE_LEVEL:
            found += [(midi, Kind.SCALE) for midi in foreign if midi % 12 in scale]
        if Kind.BLUE in wanted and self.has_blue_notes(chord):
            blue = {chord.root.degree(degree).pitch_class for degree in _BLUE_NOTES}
            found += [(midi, Kind.BLUE) for midi in foreign if midi % 12 in blue]
        if self.level >= APPROACH_LEVEL:
            if Kind.APPROACH in wanted:
                wrong = _other_third(chord)
                found += [(midi, Kind.APPROACH) for midi in foreign if midi % 12 != wrong]
            if Kind.ENCLOSE_ABOVE in wanted:
                at_home = scale | {
                    chord.root.degree(d).pitch_class for d in without_clash(chord.degrees)
                }
                found += [(m, Kind.ENCLOSE_ABOVE) for m in self.allowed if m % 12 in at_home]
            if Kind.ENCLOSE_BELOW in wanted:
                found += [(midi, Kind.ENCLOSE_BELOW) for midi in self.allowed]
        return found

    def has_blue_notes(self, chord: Chord) -> bool:
        """Whether a chord has blue notes over it here: a dominant of a blues."""
        return self.blues and is_dominant(chord)

    def _pentatonic(self, chord: Chord, scale: frozenset[int]) -> frozenset[int]:
        """What the pentatonic adds to a plain triad, as pitch classes; nothing to other chords."""
        if not is_triad(chord):
            return frozenset()
        added = next((more for third, more in _PENTATONICS if third in chord.degrees), ())
        return frozenset(chord.root.degree(degree).pitch_class for degree in added) & scale

    def name(
        self, chord: Chord, scale: Scale, midi: int, kind: Kind, target: Pitch | None
    ) -> tuple[Pitch, Degree]:
        """Spelling and degree of a note; ``target`` is the note that it leads to."""
        if kind is Kind.CHORD or target is None:
            return pitch_of(chord, midi)
        if kind is Kind.BLUE:
            degree = next(d for d in _BLUE_NOTES if chord.root.degree(d).pitch_class == midi % 12)
            return spell(chord.root.degree(degree), midi), degree
        if kind is Kind.SCALE:
            return pitch_in_scale(chord, scale, midi)
        return leading_note(target, midi - target.midi, chord, scale)


def _other_third(chord: Chord) -> int | None:
    """The major third over a minor one, as a pitch class: so short that it leads, it is still heard as
    the wrong third [common practice]; the minor third under a major one is a blue note and is not."""
    return chord.root.degree(Degree(3)).pitch_class if Degree(3, -1) in chord.degrees else None


@lru_cache(maxsize=512)
def degrees_at(chord: Chord, level: int) -> tuple[Degree, ...]:
    """The chord tones of a level: three at levels 1 and 2, up to the seventh from there on."""
    if level <= 2:
        third = chord.find(3) or chord.guide_tones[0]
        fifth = chord.find(5) or chord.guide_tones[-1]
        three = dict.fromkeys((chord.degrees[0], third, fifth))
        return tuple([*three, *(d for d in chord.degrees if d not in three)][:3])
    played = without_clash(chord.degrees)
    low = tuple(degree for degree in played if degree.number < 8)
    return low if len(low) >= 3 else played


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
    if kind is Kind.BLUE:
        return following is Kind.CHORD and step == 1
    if kind is Kind.APPROACH:
        return following is Kind.CHORD and abs(step) == 1
    if kind is Kind.ENCLOSE_ABOVE:
        return following is Kind.ENCLOSE_BELOW and step in (-2, -3)
    return following is Kind.CHORD and step == 1


def is_triad(chord: Chord) -> bool:
    """Whether a chord has neither sixth nor seventh, so that the pentatonic stands in for them."""
    return chord.find(7) is None and chord.find(6) is None


def is_dominant(chord: Chord) -> bool:
    """Whether a chord has a major third and a minor seventh."""
    return Degree(3) in chord.degrees and Degree(7, -1) in chord.degrees


def is_blues(timeline: Timeline) -> bool:
    """Whether a chart is a blues in its chords: dominants most of the time, and on the key note."""
    dominants = [span for span in timeline.chords if span.chord is not None and is_dominant(span.chord)]
    tonic = timeline.key.tonic.pitch_class
    at_home = any(span.chord is not None and span.chord.root.pitch_class == tonic for span in dominants)
    length = sum((span.length_beats for span in dominants), Fraction(0))
    return at_home and 2 * length > timeline.length_beats
