"""Which fill a drummer plays where: ranked by what ends there, dealt like cards.

A fill begins with the first stroke of a hand; until then the time goes on. What ends decides which
one: the end of a chorus has the largest fills, that of a section those between, that of a phrase the
smallest, softer ones; where a line ends a phrase of its own and rests, the drummer may answer with
the last beat of a fill [common practice]. Each rank has a pack of its own: all its fills come before
one comes again, and none comes twice in a row, over the seam of a loop neither.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property

from genex.band.bar_plans import BarPlan
from genex.band.groove import DrumChoice, DrumRules
from genex.band.kit import VOICES, Limb
from genex.exact import Fraction

LONG_SECTION_BARS = 8
_CHANCES = {"chorus": 1.0, "section": 0.92, "phrase": 0.3}
_PHRASE_IN_REST = 0.75
_PHRASE_UNDER_LINE = 0.12
_ANSWER_CHANCE = 0.3
_SWEEP = "brush sweep"
_SOFTEST = 3
_LOUDEST = 9


class Rank(IntEnum):
    """What a fill ends, smallest first."""

    ANSWER = 0
    PHRASE = 1
    SECTION = 2
    CHORUS = 3


_LOUDER = {Rank.ANSWER: -2, Rank.PHRASE: -1, Rank.SECTION: 0, Rank.CHORUS: 1}
"""Digits of loudness by rank."""


Stroke = tuple[Fraction, str, int]
"""Onset (below 0, from the bar's end), voice and loudness."""


@dataclass(frozen=True)
class Fill:
    """A fill from its first stroke on; ``is_derived`` where the groove file does not write it so."""

    weight: float
    strokes: tuple[Stroke, ...]
    is_derived: bool = False

    @cached_property
    def length_beats(self) -> Fraction:
        return -min(onset for onset, _, _ in self.strokes)

    @cached_property
    def heard(self) -> frozenset[tuple[Fraction, str]]:
        """What tells it from another: where what is struck."""
        return frozenset((onset, voice) for onset, voice, _ in self.strokes)

    @cached_property
    def size(self) -> int:
        """How much the hands strike, in digits of loudness."""
        return sum(loudness for _, voice, loudness in self.strokes if _is_in_hand(voice))

    def at(self, rank: Rank) -> tuple[Stroke, ...]:
        """Its strokes as loud as the rank has it."""
        louder = _LOUDER[rank]
        return tuple(
            (onset, voice, min(_LOUDEST, max(min(loudness, _SOFTEST), loudness + louder)))
            for onset, voice, loudness in self.strokes
        )


def deal_fills(
    plans: Sequence[BarPlan],
    rules: DrumRules,
    beats: tuple[Fraction, ...],
    seed: int,
    rests: Mapping[int, Fraction] | None = None,
) -> dict[int, tuple[Rank, Fill]]:
    """The fill of each bar that has one, by the bar's index.

    ``rests`` tells, where there is a line, from where on it rests in those bars in which it does.
    """
    if not rules.fills or len(plans) < 2:
        return {}
    dealer = _Dealer(rules.fills, beats, seed)
    last_bar = 0
    for plan in plans:
        if "drums" in plan.resting or plan.stops or plan.ends:
            continue
        rank = _rank(plans, plan)
        if rank is None and not (rests and plan.index in rests and plan.index > last_bar + 1):
            continue
        if plan.generator(seed, "drums", "fill").random() >= _chance(rank, plan, rests):
            continue
        after = None if rests is None else rests.get(plan.index)
        if dealer.deal(plan, Rank.ANSWER if rank is None else rank, after):
            last_bar = plan.index
    return dealer.round()


def _rank(plans: Sequence[BarPlan], plan: BarPlan) -> Rank | None:
    """What ends with a bar; None for nothing."""
    if plan.before_end or plans[(plan.index + 1) % plan.count].is_chorus_top:
        return Rank.CHORUS
    if plan.is_section_end:
        return Rank.SECTION
    return Rank.PHRASE if plan.is_phrase_end else None


def _chance(rank: Rank | None, plan: BarPlan, rests: Mapping[int, Fraction] | None) -> float:
    if rank is None:
        return _ANSWER_CHANCE
    if rank is not Rank.PHRASE or rests is None:
        return _CHANCES[rank.name.lower()]
    return _PHRASE_IN_REST if plan.index in rests else _PHRASE_UNDER_LINE


class _Dealer:
    """The packs, and what was dealt from them."""

    def __init__(self, written: Sequence[DrumChoice], beats: tuple[Fraction, ...], seed: int) -> None:
        self.dealt: dict[int, tuple[Rank, Fill]] = {}
        self._seed = seed
        self._bar_beats = sum(beats, Fraction(0))
        whole = [_whole(fill, self._bar_beats) for fill in written]
        self._all = _by_size(_distinct([*whole, *_derived(whole, beats[-1])]))
        self._pools = _pools(_by_size(_distinct(whole)), self._all, beats[-1])
        self._packs: dict[Rank, list[Fill]] = {rank: [] for rank in Rank}
        self._rounds = dict.fromkeys(Rank, 0)

    def deal(self, plan: BarPlan, rank: Rank, rest: Fraction | None) -> bool:
        """Deal a fill to a bar if one fits; in a line's rest one that begins no sooner."""
        room = plan.length_beats - rest if rest is not None and rank < Rank.SECTION else None
        found = self._next(plan, rank, room)
        if found is None and rank is Rank.PHRASE:
            found = self._next(plan, rank, None)
        if found is None:
            return False
        self.dealt[plan.index] = rank, found
        return True

    def round(self) -> dict[int, tuple[Rank, Fill]]:
        """What was dealt, without a first fill that is the last one too: a loop goes round."""
        while len(self._all) > 1 and len(self.dealt) > 1:
            first, last = min(self.dealt), max(self.dealt)
            (rank, fill), (_, closing) = self.dealt[first], self.dealt[last]
            if fill.heard != closing.heard or rank is Rank.CHORUS:
                break
            del self.dealt[first]
        return self.dealt

    def _next(self, plan: BarPlan, rank: Rank, room: Fraction | None) -> Fill | None:
        is_large = rank >= Rank.SECTION and plan.section_bars >= LONG_SECTION_BARS
        longest = self._bar_beats if is_large else self._bar_beats / 2
        longest = min([longest, plan.length_beats, *([] if room is None else [room])])
        barred = self._neighbours(plan)
        pack, pool = self._packs[rank], self._pools[rank]
        for fill in pack:
            if fill.length_beats <= longest and fill.heard not in barred:
                pack.remove(fill)
                return fill
        fresh = self._shuffled(rank, [fill for fill in pool if fill not in pack])
        for fill in fresh:
            if fill.length_beats <= longest and fill.heard not in barred:
                pack += [other for other in fresh if other is not fill]
                return fill
        fitting = [fill for fill in self._all if fill.length_beats <= longest]
        others = [fill for fill in fitting if fill.heard not in barred]
        if others:  # the nearest in size to what the rank has
            return min(others, key=lambda fill: abs(fill.size - pool[-1].size))
        return fitting[-1] if fitting and rank >= Rank.SECTION else None

    def _neighbours(self, plan: BarPlan) -> set[frozenset[tuple[Fraction, str]]]:
        """What was dealt last; before the seam of a loop what was dealt first too."""
        before = [self.dealt[max(self.dealt)][1]] if self.dealt else []
        if self.dealt and plan.index == plan.count - 1:
            before.append(self.dealt[min(self.dealt)][1])
        return {fill.heard for fill in before}

    def _shuffled(self, rank: Rank, pool: Sequence[Fill]) -> list[Fill]:
        """A pool in an order in which heavier fills come sooner (Efraimidis and Spirakis 2006); for
        the end of sections and choruses what is written before what is derived."""
        self._rounds[rank] += 1
        rng = random.Random(f"{self._seed}/drums/fills/{rank.name}/{self._rounds[rank]}")
        drawn = [(-(rng.random() ** (1 / fill.weight)), place) for place, fill in enumerate(pool)]
        order = sorted(
            drawn, key=lambda item: (pool[item[1]].is_derived and rank >= Rank.SECTION, *item)
        )
        return [pool[place] for _, place in order]


def _is_in_hand(voice: str) -> bool:
    """Whether a voice is struck by a hand, once: a brush that sweeps on keeps time."""
    return VOICES[voice].limb is Limb.HAND and voice != _SWEEP


def _whole(written: DrumChoice, bar_beats: Fraction) -> Fill:
    strokes = [
        (step.onset_beats - bar_beats, voice, int(step.sign))
        for voice, bar in written.bars[0].items()
        for step in bar
    ]
    return _begun(written.weight, strokes)


def _begun(weight: float, strokes: Sequence[Stroke], *, is_derived: bool = False) -> Fill:
    """A fill from the first stroke of a hand on; where none strikes, from the first."""
    in_hand = [onset for onset, voice, _ in strokes if _is_in_hand(voice)]
    start = min(in_hand or [onset for onset, _, _ in strokes])
    return Fill(weight, tuple(stroke for stroke in strokes if stroke[0] >= start), is_derived)


def _derived(whole: Sequence[Fill], beat: Fraction) -> list[Fill]:
    """More fills of the same words: the last beat alone, one fill that ends as another does, and a
    last beat with every second stroke."""
    found = []
    for fill in whole:
        before = [stroke for stroke in fill.strokes if stroke[0] < -beat]
        tail = _last_beat(fill, beat)
        if tail and before:
            found.append(_begun(fill.weight, tail, is_derived=True))
        if tail and (thin := _thinned(tail)):
            found.append(_begun(fill.weight / 2, thin, is_derived=True))
        if any(_is_in_hand(voice) for _, voice, _ in before):
            for other in whole:
                ending = _last_beat(other, beat)
                if ending and other is not fill:
                    found.append(_begun(fill.weight / 2, [*before, *ending], is_derived=True))
    return found


def _last_beat(fill: Fill, beat: Fraction) -> list[Stroke]:
    """The strokes of the last beat; none where no hand strikes in it."""
    kept = [stroke for stroke in fill.strokes if stroke[0] >= -beat]
    return kept if any(_is_in_hand(voice) for _, voice, _ in kept) else []


def _thinned(strokes: Sequence[Stroke]) -> list[Stroke]:
    """Every second instant at which a hand strikes; none where that leaves one only."""
    instants = sorted({onset for onset, voice, _ in strokes if _is_in_hand(voice)})
    kept = instants[::2]
    if len(kept) < 2:
        return []
    return [stroke for stroke in strokes if stroke[0] in kept or not _is_in_hand(stroke[1])]


def _distinct(fills: Sequence[Fill]) -> list[Fill]:
    found: dict[frozenset[tuple[Fraction, str]], Fill] = {}
    for fill in fills:
        found.setdefault(fill.heard, fill)
    return list(found.values())


def _by_size(fills: Sequence[Fill]) -> list[Fill]:
    return sorted(fills, key=lambda fill: fill.size)


def _pools(written: Sequence[Fill], every: Sequence[Fill], beat: Fraction) -> dict[Rank, list[Fill]]:
    """What each rank draws from, of fills sorted by size."""
    large = list(written[-max(1, len(written) // 2) :])
    smaller = [fill for fill in every if fill.size < large[0].size] or list(every)
    small = smaller[: max(2, (len(smaller) + 1) // 2)]
    middle = smaller[min(len(smaller) // 2, max(0, len(smaller) - 2)) :]
    return {
        Rank.ANSWER: [fill for fill in smaller if fill.length_beats <= beat] or small,
        Rank.PHRASE: small,
        Rank.SECTION: middle,
        Rank.CHORUS: large,
    }
