"""How a feel strikes its chords, as an exercise is told it: the pattern that the feel draws most.

An exercise keeps to one pattern where a band player draws one bar by bar: what is practised has to
come again. Patterns with three steps in a swung beat write the swing out; on paper that is the
second eighth, and it is swung when it is played.
"""

from __future__ import annotations

from itertools import accumulate

from genex.band import Groove
from genex.exact import Fraction
from genex.exercises import Struck

_PUSH_LOUDNESS, _MUTED_LOUDNESS, _PICKED_LOUDNESS = 6, 3, 5
_THIRD, _HALF = Fraction(1, 3), Fraction(1, 2)
Onset = tuple[Fraction, Fraction, str]


def feel_comping(groove: Groove) -> tuple[tuple[Struck, ...], ...]:
    """The bars of the pattern; none where the feel has no chords."""
    rules = groove.comping
    if rules is None or not rules.patterns:
        return ()
    pattern = max(rules.patterns, key=lambda choice: choice.weight)
    found = []
    for bar in pattern.bars:
        steps: list[Onset] = [(step.onset_beats, step.end_beats, step.sign) for step in bar]
        if groove.swing != 1 and groove.pair_beats == 1:
            steps = _unswung(steps, groove.beats)
        found.append(
            tuple(_struck(start, end, sign, is_picked=rules.picked) for start, end, sign in steps)
        )
    return tuple(found)


def _struck(start: Fraction, end: Fraction, sign: str, *, is_picked: bool) -> Struck:
    length = end - start
    if is_picked:
        return Struck(start, length, _PICKED_LOUDNESS, voice=int(sign) - 1)
    if sign == ">":
        return Struck(start, length, _PUSH_LOUDNESS, is_ahead=True)
    if sign == "x":
        return Struck(start, length, _MUTED_LOUDNESS, is_muted=True)
    return Struck(start, length, int(sign))


def _unswung(steps: list[Onset], beats: tuple[Fraction, ...]) -> list[Onset]:
    """Steps on the last third of a beat as its second eighth; real triplets stay as they are."""
    if any(beat != 1 for beat in beats):
        return steps
    if any(start % 1 == _THIRD for start, _, _ in steps):
        return steps
    edges = list(accumulate(beats, initial=Fraction(0)))

    def straight(time: Fraction) -> Fraction:
        return time if time in edges or time % 1 not in (_THIRD, 2 * _THIRD) else time // 1 + _HALF

    return [(straight(start), straight(end), sign) for start, end, sign in steps]
