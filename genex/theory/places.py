"""The chords of a chart as the analysis sees them: merged, in a row, each with its neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce
from operator import or_

from genex.exact import Fraction
from genex.theory.chord import Chord
from genex.theory.functions import FIFTH_DOWN, MINOR_KINDS, Sight, kind_of
from genex.theory.key import Key
from genex.theory.pitch import Degree
from genex.theory.scales import Scale


@dataclass(frozen=True)
class Place:
    """A chord of the chart as it is to be read.

    chord         None where there is none (N.C.)
    length_beats  how long it sounds
    starts        whether a section begins here
    key           the key of its section, where that is another one than the key of the piece
    scale         the scale that is wanted here, whatever the analysis says
    """

    chord: Chord | None
    length_beats: Fraction = Fraction(4)
    starts: bool = False
    key: Key | None = None
    scale: Scale | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """A chord for as long as it stays, with what its neighbours say of it.

    root     pitch class that it works on: the root, or the bass of F/G, which is a G9sus
    notes    its pitch classes as bits
    bass     a slash bass that is none of them, as a bit; 0 where there is none
    before   root and kind of the chord before, None where there is none
    two_arrives  whether the ii that it follows as V came as the goal of a dominant
    around   pitch classes of a major triad's neighbours on other roots, as bits; 0 of other kinds
    For ``kind``, ``step``, ``to_kind``, ``to_two``, ``is_two``, ``five_of`` see ``Sight``.
    """

    chord: Chord
    root: int
    kind: str
    notes: int
    starts: bool
    key: Key | None
    length_beats: Fraction
    before: tuple[int, str] | None = None
    step: int = 0
    to_kind: str = ""
    to_two: bool = False
    is_two: bool = False
    five_of: str = ""
    two_arrives: bool = False
    altered: bool = False
    bass: int = 0
    following: Chord | None = None
    around: int = 0


_SUSPENDED_OVER = {2: ("major", "major seventh"), 5: ("minor", "minor seventh")}
"""Semitones from root to bass -> kinds of chords that are the bass's suspended dominant."""


@lru_cache(maxsize=4096)
def sound_of(chord: Chord) -> tuple[int, str, int, bool]:
    """Root, kind and notes that a chord has as a player reads it, and whether it is altered.

    A chord over the bass of its seventh has that seventh (C/Bb is a C7, Am/G an Am7). A major chord
    over the note a tone above its root, or a minor one over the fourth, is the bass's suspended
    dominant (F/G and Dm7/G are G9sus) [common practice].
    """
    bits = sum(1 << note for note in chord.pitch_classes)
    root, kind = chord.root.pitch_class, kind_of(chord)
    above = (chord.bass.pitch_class - root) % 12
    if above in (10, 11) and chord.find(7) is None:
        bits |= 1 << chord.bass.pitch_class
    if kind in _SUSPENDED_OVER.get(above, ()):
        return chord.bass.pitch_class, "suspended", bits, False
    if above == 10 and chord.find(7) is None:
        kind = {"major": "dominant", "minor": "minor seventh", "diminished": "half-diminished"}.get(
            kind, kind
        )
    elif above == 11 and kind in ("major", "minor"):
        kind = "major seventh" if kind == "major" else "minor major"
    altered = any(degree.alter and degree.number in (5, 9, 11, 13) for degree in chord.degrees)
    return root, kind, bits, altered


def events_of(
    places: Sequence[Place], *, closed: bool
) -> tuple[tuple[Event, ...], tuple[int | None, ...]]:
    """The chords with equal neighbours joined, and for each place the index of its event."""
    events: list[tuple[Place, Fraction]] = []
    event_at: list[int | None] = []
    pause = True
    starts = False
    for place in places:
        starts = starts or place.starts
        if place.chord is None:
            event_at.append(None)
            pause = True
            continue
        last = events[-1][0] if events else None
        if last is not None and not pause and last.key == place.key and _same(last.chord, place.chord):
            events[-1] = (last, events[-1][1] + place.length_beats)
        else:
            events.append((Place(place.chord, starts=starts, key=place.key), place.length_beats))
        event_at.append(len(events) - 1)
        pause = starts = False
    return _joined(events, closed=closed), tuple(event_at)


def _same(one: Chord | None, other: Chord | None) -> bool:
    return one is not None and other is not None and one.same_as(other)


def _joined(found: Sequence[tuple[Place, Fraction]], *, closed: bool) -> tuple[Event, ...]:
    chords = [place.chord for place, _ in found if place.chord is not None]
    sounds = [sound_of(chord) for chord in chords]
    following = _neighbours(sounds, closed=closed)
    steps = [
        0 if after is None else (sounds[after][0] - sounds[index][0]) % 12
        for index, after in enumerate(following)
    ]
    kinds = [kind for _, kind, _, _ in sounds]
    for index in range(len(chords) if closed else len(chords) - 1):
        # A chord that turns minor on its own root goes nowhere yet, unless it turns to a ii.
        beside = (index + 1) % len(chords)
        onward = following[beside]
        if sounds[beside][0] == sounds[index][0] and kinds[beside] in MINOR_KINDS:
            is_two = onward is not None and steps[beside] == FIFTH_DOWN and kinds[onward] == "dominant"
            steps[index] = steps[index] if is_two or kinds[index] in MINOR_KINDS else 0
    twos = [
        after is not None
        and step == FIFTH_DOWN
        and kinds[index] in ("minor", "minor seventh", "minor sixth", "half-diminished")
        and can_be_five(chords[after], kinds[after])
        for index, (after, step) in enumerate(zip(following, steps, strict=True))
    ]
    before: list[int | None] = [None] * len(chords)
    back = _neighbours(sounds[::-1], closed=closed)
    for index, earlier in enumerate(back):
        before[-1 - index] = None if earlier is None else len(chords) - 1 - earlier
    events = []
    for index, (place, length) in enumerate(found):
        root, kind, notes, altered = sounds[index]
        after, earlier = following[index], before[index]
        is_five = earlier is not None and twos[earlier] and can_be_five(chords[index], kind)
        events.append(
            Event(
                chords[index], root, kind, notes, place.starts, place.key, length,
                before=None if earlier is None else (sounds[earlier][0], kinds[earlier]),
                step=steps[index],
                to_kind="" if after is None else kinds[after],
                to_two=after is not None and twos[after],
                is_two=twos[index],
                five_of=kinds[earlier] if earlier is not None and is_five else "",
                two_arrives=earlier is not None and is_five and _is_arrival(earlier, before, sounds),
                altered=altered,
                bass=1 << chords[index].bass.pitch_class & ~notes,
                following=None if after is None else chords[after],
                around=_notes_at(sounds, after, earlier) if kind == "major" else 0,
            )
        )  # fmt: skip
    return tuple(events)


def _notes_at(sounds: Sequence[tuple[int, str, int, bool]], *indices: int | None) -> int:
    """The notes of some chords together, as bits."""
    return reduce(or_, (sounds[index][2] for index in indices if index is not None), 0)


def _is_arrival(
    index: int, before: Sequence[int | None], sounds: Sequence[tuple[int, str, int, bool]]
) -> bool:
    """Whether a chord is the goal of a dominant a fifth above it."""
    earlier = before[index]
    if earlier is None:
        return False
    root, kind, _, _ = sounds[earlier]
    return kind == "dominant" and (root - sounds[index][0]) % 12 == 7


def can_be_five(chord: Chord, kind: str) -> bool:
    """Whether a chord can be the V of a ii-V: a dominant seventh, suspended or not."""
    return kind == "dominant" or (
        kind == "suspended" and (chord.has_slash or Degree(7, -1) in chord.degrees)
    )


def _neighbours(sounds: Sequence[tuple[int, str, int, bool]], *, closed: bool) -> list[int | None]:
    """For each chord the next one on another root; round the end where the chart is closed."""
    count = len(sounds)
    found: list[int | None] = [None] * count
    after: int | None = None
    for index in range(2 * count - 1 if closed else count - 1, -1, -1):
        here = index % count
        if after is not None and sounds[after][0] == sounds[here][0]:
            after = found[after]
        if index < count or found[here] is None:
            found[here] = after
        after = here
    return found


_LOWERED_SIXTH = 1 << 8
_SIXTHS = _LOWERED_SIXTH | 1 << 9


def sight_of(event: Event, tonic: int, *, blues: bool = False) -> Sight:
    """An event seen from a tonic (pitch class)."""
    notes, bass = event.notes, event.bass
    around = event.around >> tonic | event.around << (12 - tonic)
    return Sight(
        (event.root - tonic) % 12,
        event.kind,
        (notes >> tonic | notes << (12 - tonic)) & 0xFFF,
        event.step,
        event.to_kind,
        event.to_two,
        event.is_two,
        event.five_of,
        blues,
        event.altered,
        (bass >> tonic | bass << (12 - tonic)) & 0xFFF,
        around & _SIXTHS == _LOWERED_SIXTH,
    )


def is_blues(events: Sequence[Event], tonic: int) -> bool:
    """Whether a chart on a major tonic is a blues: its I, mostly, and its IV are dominant sevenths."""
    lengths = {True: Fraction(0), False: Fraction(0)}
    fourth = False
    for event in events:
        degree = (event.root - tonic) % 12
        if degree == 0 and event.kind not in ("suspended", "open"):
            lengths[event.kind == "dominant"] += event.length_beats
        fourth = fourth or (degree == FIFTH_DOWN and event.kind == "dominant")
        if degree == 0 and event.kind in MINOR_KINDS:
            return False
    return fourth and lengths[True] > lengths[False]
