"""Walking bass lines, found by search bar by bar.

Every chord begins on its root (or slash bass). The root's octave comes from a register that rises
and falls slowly over the form, so it is known without the notes before it. Inside the chord all
lines of chord tones and notes of its scale, as the chart is read, are weighed (leaps, direction,
chord tones on strong beats, return to the middle of the register) and the best is taken; the last
note leads to the next root by semitone, or by step or fifth in the scale of either chord
[common practice]. Only that last note looks at the next chord, so editing a bar changes at most the
one note before it, and bars whose chords are heard in another key by it.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from genex.band.bass_tones import semitone_above, semitone_below, tones_between, tones_of
from genex.theory import Chord, Degree, NoteName, Pitch, Reading

LOWEST, HIGHEST = 28, 55
"""E1 to G3: the range of a four-string bass in ordinary use [common practice]."""

OCTAVE = 12
_HAIR = 1e-6
_REACH = 9
"""Inner notes lie at most so many semitones from the root."""


@dataclass(frozen=True, slots=True)
class Ground:
    """Where a chord stands in the bass: the chord, how it is read, its first pitch, the register's
    centre."""

    chord: Chord
    reading: Reading
    root: Pitch
    centre: float


def ground(reading: Reading, centre: float) -> Ground | None:
    """A chord's root or slash bass in the octave about ``centre`` (MIDI), inside the range.

    None where there is no chord.
    """
    if reading.chord is None:
        return None
    return Ground(reading.chord, reading, reading.chord.bass.at_or_above(lowest_root(centre)), centre)


def lowest_root(centre: float) -> int:
    """The lowest pitch that a root takes in a register; the highest lies eleven semitones above."""
    return max(LOWEST, round(centre) - 5)


def walk(here: Ground, count: int, following: Ground | None, rng: random.Random) -> tuple[Pitch, ...]:
    """``count`` pitches over a chord: its root, a line, and an approach to ``following``.

    Before no chord (N.C.) the line leads back to its own root. The draws for the line come before
    the draw for the approach, so the line is the same whatever follows.
    """
    line = [here.root, *_line(here, count - 2, rng)]
    roll = rng.random()
    if count > 1:
        line.append(approach(line, here, following or here, roll))
    return tuple(line)


@lru_cache(maxsize=4096)
def _candidates(
    chord: Chord, tones: tuple[NoteName, ...], root: Pitch
) -> tuple[tuple[Pitch, bool], ...]:
    """Those of some tones that lie in reach of the root, each with whether it is a chord tone."""
    low, high = max(LOWEST, root.midi - _REACH), min(HIGHEST, root.midi + _REACH + 3)
    pitches = tones_between(tones, low, high)
    return tuple((pitch, pitch.pitch_class in chord.pitch_classes) for pitch in pitches)


def _line(here: Ground, count: int, rng: random.Random) -> tuple[Pitch, ...]:
    """The notes between the root and the approach: the cheapest of all lines."""
    candidates = _candidates(here.chord, tones_of(here.reading), here.root)
    whims = [[2.2 * rng.random() for _ in candidates] for _ in range(3)]
    wanted = _direction(here, rng)
    if count <= 0:
        return ()
    depth = min(count, 3)
    drawn = tuple(tuple(of_place) for of_place in whims[:depth])
    line = _cheapest(candidates, here.root.midi, here.centre, wanted, drawn)
    if count > depth:
        later = replace(here, root=line[-1])
        line = (*line, *_line(later, count - depth, rng))
    return line


@lru_cache(maxsize=4096)
def _cheapest(
    candidates: tuple[tuple[Pitch, bool], ...],
    root: int,
    centre: float,
    wanted: int,
    whims: tuple[tuple[float, ...], ...],
) -> tuple[Pitch, ...]:
    """The cheapest line of as many notes as there are rows of ``whims``: what each candidate costs
    there by chance. Kept, as another tempo of a piece asks for the same lines again."""
    best = math.inf
    found: tuple[tuple[Pitch, bool], ...] = ()

    def extend(line: tuple[tuple[Pitch, bool], ...], cost: float) -> None:
        """Weigh all lines that go on from one, whose whims cost so much."""
        nonlocal best, found
        if len(line) == len(whims):
            cost += _line_cost(root, centre, line, wanted)
            if cost < best:
                best, found = cost, line
            return
        for candidate, whim in zip(candidates, whims[len(line)], strict=True):
            longer = cost + whim
            # The more notes, the dearer; leaving out a hair's breadth keeps rounding out of it.
            if longer < best and longer + _steps_cost(root, (*line, candidate), wanted) < best + _HAIR:
                extend((*line, candidate), longer)

    extend((), 0.0)
    return tuple(pitch for pitch, _ in found)


def _direction(here: Ground, rng: random.Random) -> int:
    """Up or down from the root: away from the edge of the register, otherwise by chance."""
    lean = (here.centre - here.root.midi) / 8
    return 1 if rng.random() < 0.5 + lean else -1


def _line_cost(root: int, centre: float, line: Sequence[tuple[Pitch, bool]], wanted: int) -> float:
    """What a whole line from the root costs."""
    cost = _steps_cost(root, line, wanted)
    cost += 0.22 * abs(line[-1][0].midi - centre - 1)
    if len(line) >= 2 and line[-1][0].midi == line[0][0].midi:
        cost += 1.0
    return cost


def _steps_cost(root: int, line: Sequence[tuple[Pitch, bool]], wanted: int) -> float:
    """What the steps of a line cost; no less for a line that goes on from it."""
    cost = 0.0
    before, step_before = root, 0
    for place, (pitch, is_chord_tone) in enumerate(line, start=2):
        step = pitch.midi - before
        size = abs(step)
        if size == 0:
            cost += 9.0
        elif size > 7:
            cost += 5.0 + size
        elif size > 4:
            cost += 1.2
        is_strong = place % 2 == 1
        if not is_chord_tone:
            cost += 4.0 if is_strong or size > 2 else 1.3
        if place == 2 and step * wanted < 0:
            cost += 2.0
        if place > 2:
            if step * step_before < 0 and size > 4 and abs(step_before) > 4:
                cost += 2.5
            if pitch.midi == root:
                cost += 1.8
            if step * step_before > 0 and size > 4 and abs(step_before) > 4:
                cost += 1.5
        before, step_before = pitch.midi, step
    return cost


def approach(line: Sequence[Pitch], here: Ground, following: Ground, roll: float) -> Pitch:
    """The note that leads from a line to the next root: by semitone, scale step or fifth."""
    last, target = line[-1].midi, following.root
    options = _approaches(target, tones_of(following.reading), tones_of(here.reading))
    costs = []
    for place, (pitch, liking) in enumerate(options):
        leap, landing = abs(pitch.midi - last), abs(target.midi - pitch.midi)
        cost = -liking + 1.6 * ((roll * 7 + place * 0.618) % 1)
        if leap == 0:
            cost += 4.0
        if leap > OCTAVE or landing > OCTAVE or not LOWEST <= pitch.midi <= HIGHEST:
            cost += 50.0
        cost += 0.35 * max(0, leap - 4) + (2.0 if leap > 7 else 0.0)
        towards = (pitch.midi - last) * (target.midi - pitch.midi)
        if towards > 0 and leap <= 5:
            cost -= 0.8
        if pitch.pitch_class in here.chord.pitch_classes:
            cost -= 0.3
        costs.append((cost, place))
    return options[min(costs)[1]][0]


def _approaches(
    target: Pitch, coming: tuple[NoteName, ...], going: tuple[NoteName, ...]
) -> list[tuple[Pitch, float]]:
    """Pitches that lead to ``target``, each with how much it is liked."""
    options = [(semitone_below(target), 1.4), (semitone_above(target), 1.2)]
    steps = {name.pitch_class: name for name in (*coming, *going)}
    for interval in (-2, 2):
        name = steps.get((target.midi + interval) % OCTAVE)
        if name is not None:
            options.append((name.nearest(target.midi + interval), 1.1))
    fifth = target.name.degree(Degree(5))
    if fifth.pitch_class in steps:
        options.append((fifth.at_or_above(target.midi), 0.8))
        options.append((fifth.at_or_below(target.midi), 0.8))
    return options
