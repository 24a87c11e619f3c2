"""The way of the guide tones through the changes: what every textbook shows, found exactly.

The rules [common practice], the weightier first:

1. Where the root falls by a fifth, the seventh goes to the next third, and the third stays or
   falls to the next seventh (or sixth). Chords without a seventh have the steps of their triads:
   the fifth to the next third, the third, as leading tone, to the next root.
2. The fourth of a sus chord falls to the third when the chord resolves on its own root.
3. Inside a phrase the line does not leap more than a major third. Where its range makes it
   change register, it does so after a rest or at a section's end, else at a four-bar line, and
   inside a cadence (second to fifth, fifth to first) last of all.
4. A chord that is borrowed shows the tone that is borrowed, where a guide tone is one.
5. Then the line moves as little as it can, in small steps rather than one leap, near the middle
   of its range.

All of it is one sum, and the least is found by dynamic programming; in a loop the way from the
last chord to the first counts as any other.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import product

from genex.errors import LineError
from genex.exercises.guide_line import Contour, Start
from genex.lines.search import cheapest_path
from genex.theory import Chord, Degree

Voicing = tuple[int, ...]
"""MIDI numbers of the voices on one chord, the upper voice first."""

AGAINST_CONTOUR = 3
"""Weight of a semitone that goes against the contour asked for."""
LEAST_LEAP = 5
"""Semitones from which a move is a leap: more than a major third."""

# The costs in one integer, each kind above all sums of the next.
_BROKEN, _MOVEMENT, _SQUARES = 10**22, 10**16, 10**8
# In semitones of movement: what a line gives to show a borrowed tone, not to stand still, and for a
# third or a fifth in place of a triad's root.
_HIDDEN, _STILL, _STILL_ON_ONE_CHORD, _ON_ROOT = 6, 3, 8, 4


class Joint(IntEnum):
    """What lies between a chord and the one before it."""

    PHRASE = 0
    FOUR_BARS = 1
    SECTION = 2
    REST = 3


# What a broken resolution costs at a joint: (inside a cadence, elsewhere); and what a leap costs.
_BREAK = {
    Joint.PHRASE: (512, 64),
    Joint.FOUR_BARS: (256, 48),
    Joint.SECTION: (32, 1),
    Joint.REST: (0, 0),
}
_LEAP = {Joint.PHRASE: 16, Joint.FOUR_BARS: 4, Joint.SECTION: 0, Joint.REST: 0}


@dataclass(frozen=True)
class GuideStep:
    """A chord as the line comes to it.

    joint   what lies before it
    shown   pitch classes that the chord has from another key: one of them is to be heard
    stays   the chord is the one before, in its next bar
    place   its place in words, for messages
    """

    chord: Chord
    joint: Joint = Joint.PHRASE
    shown: frozenset[int] = frozenset()
    stays: bool = False
    place: str = ""


@dataclass(frozen=True)
class GuideWishes:
    """What the line shall be like.

    allowed   MIDI numbers that it may use, ascending
    voices    1 or 2; of two, one has the third-like tone and the other the seventh-like one
    start     the tone of the (upper) voice on the first chord; None for the better one
    closed    the last chord leads to the first
    restless  the line does not stand still where a chord or a vamp stays
    held_together  whether one hand holds an upper and a lower pitch; None where any two will do
    """

    allowed: tuple[int, ...]
    voices: int = 1
    start: Start | None = None
    contour: Contour = "free"
    closed: bool = False
    restless: bool = False
    held_together: Callable[[int, int], bool] | None = None


def guide_path(steps: Sequence[GuideStep], wishes: GuideWishes) -> tuple[Voicing, ...]:
    """The best voicing of each step. Raises LineError where no guide tone lies in the range."""
    layers = [_candidates(step, wishes, first=index == 0) for index, step in enumerate(steps)]
    moves = [_Change(a, b, wishes) for a, b in zip([steps[-1], *steps[:-1]], steps, strict=True)]
    middle = wishes.allowed[len(wishes.allowed) // 2]

    def own(layer: int, voicing: Voicing) -> int:
        cost = sum(abs(midi - middle) for midi in voicing)
        shown = steps[layer].shown
        if shown and not any(midi % 12 in shown for midi in voicing):
            cost += _HIDDEN * _MOVEMENT
        return cost

    def change(layer: int, before: Voicing, after: Voicing) -> int:
        return moves[layer].cost(before, after)

    if not wishes.closed:
        layers[0] = [voicing for voicing in layers[0] if moves[0].is_beginning(voicing)]
        return tuple(cheapest_path(layers, own, change)[1])
    last = len(steps) - 1
    best = min(
        cheapest_path(
            [[first], *layers[1:]],
            lambda layer, voicing, first=first: (
                own(layer, voicing)  # type: ignore[misc]
                + (moves[0].cost(voicing, first) if layer == last else 0)
            ),
            change,
        )
        for first in layers[0]
    )
    return tuple(best[1])


def falls_by_fifth(before: Chord, after: Chord) -> bool:
    """Whether the root falls by a perfect fifth (or rises by a fourth)."""
    return (after.root.pitch_class - before.root.pitch_class) % 12 == 5


def resolves(before: Chord, after: Chord, from_midi: int, to_midi: int) -> bool:
    """Whether one voice goes as it must: over a falling fifth, or out of a sus chord.

    True for changes that ask nothing of it.
    """
    return _Change(GuideStep(before), GuideStep(after), GuideWishes(())).keeps(from_midi, to_midi)


class _Change:
    """One change of chord: what each move over it costs."""

    def __init__(self, before: GuideStep, after: GuideStep, wishes: GuideWishes) -> None:
        self._joint, self._stays = after.joint, after.stays
        self._contour, self._restless = wishes.contour, wishes.restless
        self._before, self._after = before.chord, after.chord
        self._from, self._to = _roles(before.chord), _roles(after.chord)
        self._fifth = not after.stays and falls_by_fifth(before.chord, after.chord)
        self._relaxes = before.chord.root == after.chord.root and (
            before.chord.find(3) is None and after.chord.find(3) is not None
        )
        cadence = self._fifth and _is_cadence(before.chord, after.chord)
        self._break = _BREAK[after.joint][0 if cadence else 1]

    def cost(self, before: Voicing, after: Voicing) -> int:
        broken = total = squares = 0
        for a, b in zip(before, after, strict=True):
            step = b - a
            if not self.keeps(a, b):
                broken += self._break
            if abs(step) >= LEAST_LEAP and not self._stays:
                broken += _LEAP[self._joint]
            against = (self._contour == "falling" and step > 0) or (
                self._contour == "rising" and step < 0
            )
            total += abs(step) * (AGAINST_CONTOUR if against else 1)
            squares += step * step
            if self._restless and step == 0:
                total += _STILL_ON_ONE_CHORD if self._stays else _STILL
            if self._to.get(b % 12) == 2 and not (self._stays and step == 0):
                # The root is no guide tone but where a leading tone goes to it.
                led = self._fifth and self._from.get(a % 12) == 0 and abs(step) <= 2
                broken += 0 if led else _BREAK[Joint.PHRASE][0]
                total += _ON_ROOT
        return broken * _BROKEN + total * _MOVEMENT + squares * _SQUARES

    def is_beginning(self, voicing: Voicing) -> bool:
        """Whether a line may begin so: on guide tones, not on a root."""
        return all(self._to.get(midi % 12) != 2 for midi in voicing)

    def keeps(self, before: int, after: int) -> bool:
        """Whether a voice goes as the rules say."""
        step, role, to = after - before, self._from.get(before % 12), self._to.get(after % 12)
        if self._relaxes and self._before.find(4) is not None:
            return -2 <= step < 0 if role == 0 else step == 0 or abs(step) <= 2
        if not self._fifth or role is None or to is None:
            return True
        if role == 1 and self._before.find(7) is not None:
            return to == 0 and step == _nearest(before, after)
        if role == 0 and self._after.find(7, 6) is not None:
            return to == 1 and abs(step) <= 2
        return abs(step) <= 2


def _nearest(before: int, after: int) -> int:
    """The smallest move from a pitch to another's pitch class."""
    return (after - before + 6) % 12 - 6


def _is_cadence(before: Chord, after: Chord) -> bool:
    """Second to fifth, or fifth to wherever it goes."""
    return _is_dominant(before) or (before.is_minor and _is_dominant(after))


def _is_dominant(chord: Chord) -> bool:
    return Degree(7, -1) in chord.degrees and not chord.is_minor


def _roles(chord: Chord) -> dict[int, int]:
    """Pitch class -> 0 the third-like tone, 1 the seventh-like one, 2 the root of a triad."""
    third, seventh = chord.guide_tones
    found = {} if chord.find(7, 6) else {chord.root.pitch_class: 2}
    found[chord.root.degree(seventh).pitch_class] = 1
    found[chord.root.degree(third).pitch_class] = 0
    return found


def _candidates(step: GuideStep, wishes: GuideWishes, *, first: bool) -> list[Voicing]:
    """Every voicing of a chord in the range, lowest first."""
    roles = _roles(step.chord)
    upper = set(roles)
    if first and wishes.start:
        upper = {tone for tone, role in roles.items() if role == (wishes.start == "seventh")}
    tones = [midi for midi in wishes.allowed if midi % 12 in upper]
    voicings: list[Voicing]
    if wishes.voices == 1:
        voicings = [(midi,) for midi in tones]
    else:
        others = [midi for midi in wishes.allowed if midi % 12 in roles]
        voicings = [
            (high, low)
            for high, low in product(tones, others)
            if high > low
            and (high % 12 != low % 12 or len(roles) == 1)
            and (wishes.held_together is None or wishes.held_together(high, low))
        ]
    if not any(all(roles[midi % 12] != 2 for midi in voicing) for voicing in voicings):
        wanted = " and ".join(str(degree) for degree in step.chord.guide_tones)
        raise LineError(
            f"no guide tone of {step.chord} ({wanted}) lies in the range"
            + (f" at {step.place}" if step.place else ""),
            hint="let the range span an octave or more, two octaves for two voices",
        )
    return sorted(voicings)
