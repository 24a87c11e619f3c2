"""A path of grips through a chart: little movement of the voices and of the hand together.

What is wished, in this order [common practice]: the seventh of a chord whose root falls by a fifth
goes down by step, the leading tone of a dominant up or it stays; common tones are kept, in their
place; the voices, above all the top one, move by step; the hand stays on its strings and shifts
little, and a finger that stays or slides along its string guides it; easy grips before hard ones. The
voices are those of grips in rank order, so none crosses another. The least sum over the whole
chart is found exactly, sections that come again having the same grips (``tied_search.py``).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any

from genex.errors import LineError
from genex.exact import Fraction
from genex.fretboard import Grip, Tuning, every_grip
from genex.lazy import lazy
from genex.lines.tied_search import cheapest_choices
from genex.score import Timeline
from genex.theory import Chord, Degree, Pitch, movement

if TYPE_CHECKING:
    import numpy as np
else:
    np = lazy("numpy")

HOME_FRET = 5
FALLBACKS = ("drop 2", "rootless", "shell", "triad", "drop 3")
"""Kinds for a chord that has no grip of the kinds wished for, such as drop 2 of a power chord."""
_INSTEAD = {"triad": "rootless", "rootless": "triad", "open": "barre", "barre": "open"}
"""Before these comes what is likest: as many strings, strummed or not."""
_FROM_THE_BASS = ("shell", "open", "barre")
_UNRESOLVED, _STAYS = 100, 300
_VOICE, _TOP_VOICE = 10, 3
_SHIFT, _SHIFT_A_FRET, _OTHER_STRING, _OTHER_KIND = 15, 8, 12, 20
_FINGER_STAYS, _FINGER_GUIDES = 10, 3
_HELD = 10  # so many of the hand's own costs weigh as one here
_LATER_KIND, _AWAY, _AWAY_WISHED, _HIGH, _HIGH_FRET = 20, 5, 30, 4, 9
_MINOR_NINTH, _MUDDY, _SKIPPED_STRING = 20, 40, 6
_REGISTER, _MIDDLE = 4, 59
"""A chord over a bass lies about middle C: lower it growls, higher it meets the melody."""
_MUDDY_BELOW, _NARROW = 43, 5
"""Closer than a fourth below G2 two voices cannot be told apart [common practice]."""


@dataclass(frozen=True)
class Reach:
    """Which grips may be taken, on which neck.

    kinds      the liked ones first
    strings    that may sound, None for all; shells then have their root on one of the two lowest
    low, high  limits of the top voice as MIDI numbers
    position   fret of the first finger to stay near, None for anywhere
    moving     over a chord that stays the grip goes on to another one, bar by bar
    """

    tuning: Tuning
    kinds: tuple[str, ...] = ("drop 2",)
    strings: tuple[int, ...] | None = None
    low: int = 0
    high: int = 127
    position: int | None = None
    moving: bool = False


@dataclass(frozen=True)
class Change:
    """A grip of the path and how long it lasts; neighbours with one chord are joined, unless the
    path is a moving one."""

    onset_beats: Fraction
    length_beats: Fraction
    chord: Chord
    grip: Grip

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


Key = tuple[object, ...]
"""What is the same wherever it comes: the section's name, and its chords up to here."""


@dataclass(frozen=True)
class _Slot:
    onset_beats: Fraction
    length_beats: Fraction
    chord: Chord
    key: Key


def grip_path(timeline: Timeline, reach: Reach, *, loops: bool = True) -> list[Change]:
    """The grip of every chord; none where there is N.C. With ``loops`` the end leads back.

    Raises LineError where a chord has no grip within reach.
    """
    slots = _slots(timeline, moving=reach.moving)
    chords = {slot.key: slot.chord for slot in slots}
    grips = {key: candidates(chord, reach) for key, chord in chords.items()}
    counts = Counter(slot.key for slot in slots)
    own = {
        key: counts[key] * np.array([own_cost(grip, reach) for grip in found])
        for key, found in grips.items()
    }
    met: Counter[tuple[Key, Key]] = Counter()
    for before, after in [*pairwise(slots), *([(slots[-1], slots[0])] if loops and slots else [])]:
        if before.key != after.key:
            met[before.key, after.key] += 1
    pairs = {(a, b): n * _changes(chords[a], chords[b], reach) for (a, b), n in met.items()}
    _, chosen = cheapest_choices(own, pairs)
    return [
        Change(slot.onset_beats, slot.length_beats, slot.chord, grips[slot.key][chosen[slot.key]])
        for slot in slots
    ]


@lru_cache(maxsize=512)
def candidates(chord: Chord, reach: Reach) -> tuple[Grip, ...]:
    """Every grip of a chord within reach. Raises LineError where there is none."""
    instead = [_INSTEAD[kind] for kind in reach.kinds if kind in _INSTEAD]
    for kinds in (reach.kinds, *((kind,) for kind in (*instead, *FALLBACKS))):
        found = [
            grip
            for grip in every_grip(chord, reach.tuning, kinds, strings=reach.strings)
            if reach.low <= grip.midis[-1] <= reach.high and _holds_guides(grip, chord)
        ]
        if reach.strings is None:
            bass_strings = reach.tuning.low_to_high[:2]
            found = [g for g in found if g.kind != "shell" or g.strings[0] in bass_strings] or found
        if found:
            return tuple(found)
    on = "" if reach.strings is None else f" on strings {' '.join(map(str, reach.strings))}"
    top = ""
    if (reach.low, reach.high) != (0, 127):
        low, high = Pitch.from_midi(reach.low), Pitch.from_midi(reach.high)
        top = f" with its top voice from {low} to {high}"
    raise LineError(
        f"no hand holds a grip of {chord}{on}{top}",
        hint="allow more strings, another kind of grip, or the top voice more room",
    )


def _holds_guides(grip: Grip, chord: Chord) -> bool:
    return set(chord.guide_tones) <= set(grip.degrees.values())


def own_cost(grip: Grip, reach: Reach) -> int:
    """What a grip costs by itself: the hand, its place, and sounds that are better avoided."""
    cost = grip.held.cost // _HELD
    if grip.kind in reach.kinds:
        cost += _LATER_KIND * reach.kinds.index(grip.kind)
    home, weight = (HOME_FRET, _AWAY) if reach.position is None else (reach.position, _AWAY_WISHED)
    cost += weight * abs(grip.position - home) + _HIGH * max(0, grip.position - _HIGH_FRET)
    midis = grip.midis
    if grip.kind not in _FROM_THE_BASS:
        cost += _REGISTER * abs(sum(midis) // len(midis) - _MIDDLE)
    cost += _MINOR_NINTH * any(b - a == 13 for a, b in combinations(midis, 2))
    cost += _MUDDY * any(a < _MUDDY_BELOW and b - a < _NARROW for a, b in pairwise(midis))
    return cost + _SKIPPED_STRING * (max(grip.strings) - min(grip.strings) + 1 - len(grip.strings))


@lru_cache(maxsize=1024)
def _changes(first: Chord, second: Chord, reach: Reach) -> Any:
    """The costs of going from every grip of one chord to every grip of another."""
    grips, after = candidates(first, reach), candidates(second, reach)
    costs = np.array([[change_cost(a, b, first, second) for b in after] for a in grips])
    if reach.moving and first == second:
        costs += np.array([[_STAYS * (a.midis == b.midis) for b in after] for a in grips])
    return costs


def change_cost(before: Grip, after: Grip, first: Chord, second: Chord) -> int:
    """What it costs to go from a grip of one chord to a grip of the next."""
    return (
        _VOICE * _moved(before, after)
        + _TOP_VOICE * abs(before.midis[-1] - after.midis[-1])
        + _UNRESOLVED * _unresolved(before, after, first, second)
        + _hand(before, after)
    )


def _moved(before: Grip, after: Grip) -> int:
    """Semitones that the voices move, each to the one of its rank where there are as many."""
    if len(before.midis) == len(after.midis):
        return sum(abs(a - b) for a, b in zip(before.midis, after.midis, strict=True))
    return movement(before.pitches, after.pitches)


def _hand(before: Grip, after: Grip) -> int:
    travel = abs(max(before.position, 1) - max(after.position, 1))
    cost = _SHIFT * bool(travel) + _SHIFT_A_FRET * travel + _OTHER_KIND * (before.kind != after.kind)
    cost += _OTHER_STRING * len(set(before.strings) ^ set(after.strings))
    for string in set(before.strings) & set(after.strings):
        finger = before.held.fingers[string]
        if finger and finger == after.held.fingers[string]:
            stays = before.held.frets[string] == after.held.frets[string]
            cost -= _FINGER_STAYS if stays else _FINGER_GUIDES
    return cost


def _unresolved(before: Grip, after: Grip, first: Chord, second: Chord) -> int:
    """How many tones that lead somewhere do not go there; each in its own voice, if both grips have
    as many."""
    leads = _leads(first, second)
    if not leads:
        return 0
    same_voices = len(before.midis) == len(after.midis)
    missed = 0
    for voice, midi in enumerate(before.midis):
        ways = leads.get(before.degrees[before.strings[voice]])
        if ways is not None:
            reached = (after.midis[voice],) if same_voices else after.midis
            missed += not any(there - midi in ways for there in reached)
    return missed


@lru_cache(maxsize=4096)
def _leads(first: Chord, second: Chord) -> Mapping[Degree, frozenset[int]]:
    """The degrees of a chord that lead on where its root falls, and the semitones they may move.

    A root falls by a fifth, or a dominant by a semitone [common practice]: the seventh goes down by
    step or stays; the major third of what is no major seventh goes up a semitone where there is a
    tone, or stays, or falls by a semitone to the next seventh, by a step to the sixth of a sixth chord.
    """
    fall = (first.root.pitch_class - second.root.pitch_class) % 12
    is_dominant = {Degree(3), Degree(7, -1)} <= set(first.degrees)
    if not (fall == 7 or (fall == 1 and is_dominant)):
        return {}
    leads = {degree: frozenset({0, -1, -2}) for degree in first.degrees if degree.number == 7}
    third = first.root.degree(Degree(3)).pitch_class
    has_goal = (third + 1) % 12 in second.pitch_classes
    if Degree(3) in first.degrees and Degree(7) not in first.degrees and has_goal:
        to_sixth = second.find(6) is not None and second.find(7) is None
        leads[Degree(3)] = frozenset({1, 0, -1, -2} if to_sixth else {1, 0, -1})
    return leads


def _slots(timeline: Timeline, *, moving: bool) -> list[_Slot]:
    """The chords in order, each with the key of what must be gripped alike.

    Sections of one name have a key in common as far as their chords agree, sections with the same
    chords whatever their names; so have the bodies of a passage that the chart repeats.
    """
    slots: list[_Slot] = []
    contents: dict[Key, str] = {}
    by_onset: dict[Fraction, Key] = {}
    fresh = {p.onset_beats: r.onset_beats for r in timeline.repeats for p in r.passes}
    for section in timeline.sections:
        spans = [
            span
            for span in timeline.chords
            if section.onset_beats <= span.onset_beats < section.end_beats
        ]
        written = [
            (s.onset_beats - section.onset_beats, s.chord.symbol) for s in spans if s.chord is not None
        ]
        name = contents.setdefault((section.length_beats, *written), section.name)
        prefix: list[object] = [name]
        joined: _Slot | None = None
        for span in spans:
            if span.chord is None:
                joined = None
                continue
            prefix += [span.onset_beats - section.onset_beats, span.chord.symbol]
            again = _first_pass(span.onset_beats, timeline)
            key = by_onset.get(again) or tuple(prefix)
            stays = joined is not None and joined.chord == span.chord and not moving
            if stays and joined is not None and span.onset_beats not in fresh:
                slots.pop()
                joined = _Slot(
                    joined.onset_beats, joined.length_beats + span.length_beats, joined.chord, joined.key
                )
            else:
                joined = _Slot(span.onset_beats, span.length_beats, span.chord, key)
            by_onset[span.onset_beats] = joined.key
            slots.append(joined)
    return slots


def _first_pass(onset: Fraction, timeline: Timeline) -> Fraction:
    """The same place in the first pass, for the body of a passage that is repeated."""
    for repeat in timeline.repeats:
        for each in repeat.passes:
            if each.onset_beats <= onset < each.ending_beats:
                return repeat.onset_beats + onset - each.onset_beats
    return onset
