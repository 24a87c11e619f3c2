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


@dataclass(frozen=True)
class Fill:
    """A fill from its first stroke on: onset (below 0, from the bar's end), voice and loudness of each.

    ``is_tail``: the last beat alone of what the groove file writes.
    """

    number: int
    weight: float
    length_beats: Fraction
    strokes: tuple[tuple[Fraction, str, int], ...]
    is_tail: bool = False

    @property
    def size(self) -> int:
        """How much the hands strike, in digits of loudness."""
        return sum(loudness for _, voice, loudness in self.strokes if _is_in_hand(voice))

    def at(self, rank: Rank) -> tuple[tuple[Fraction, str, int], ...]:
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
    return dealer.dealt


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
        whole = [_whole(number, fill, self._bar_beats) for number, fill in enumerate(written)]
        tails = [tail for fill in whole if (tail := _tail(fill, beats[-1])) is not None]
        self._all = sorted((*whole, *tails), key=lambda fill: (fill.size, fill.number))
        self._pools = _pools(sorted(whole, key=lambda fill: (fill.size, fill.number)), self._all)
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

    def _next(self, plan: BarPlan, rank: Rank, room: Fraction | None) -> Fill | None:
        is_large = rank >= Rank.SECTION and plan.section_bars >= LONG_SECTION_BARS
        longest = self._bar_beats if is_large else self._bar_beats / 2
        longest = min([longest, plan.length_beats, *([] if room is None else [room])])
        barred = self._neighbours(plan)

        def suits(fill: Fill) -> bool:
            return fill.length_beats <= longest and (fill.number, fill.is_tail) not in barred

        pack = self._packs[rank]
        if not any(map(suits, pack)):
            pack[:] = (
                self._shuffled(rank, [fill for fill in self._pools[rank] if fill not in pack]) + pack
            )
            if not any(map(suits, pack)):
                pack[:] = [*pack, *self._shuffled(rank, [f for f in self._pools[rank] if f not in pack])]
        chosen = next(filter(suits, pack), None)
        if chosen is not None:
            pack.remove(chosen)
            return chosen
        others = [fill for fill in self._all if suits(fill)]
        if others:  # the nearest in size to what the rank has
            wanted = self._pools[rank][-1].size
            return min(others, key=lambda fill: (abs(fill.size - wanted), fill.number))
        if rank < Rank.SECTION:
            return None
        return next((fill for fill in reversed(self._all) if fill.length_beats <= longest), None)

    def _neighbours(self, plan: BarPlan) -> set[tuple[int, bool]]:
        """What was dealt last; before the seam of a loop what was dealt first too."""
        before = [self.dealt[max(self.dealt)][1]] if self.dealt else []
        if self.dealt and plan.index == plan.count - 1:
            before.append(self.dealt[min(self.dealt)][1])
        return {(fill.number, fill.is_tail) for fill in before}

    def _shuffled(self, rank: Rank, pool: Sequence[Fill]) -> list[Fill]:
        """A pool in an order in which heavier fills come sooner (Efraimidis and Spirakis 2006)."""
        self._rounds[rank] += 1
        rng = random.Random(f"{self._seed}/drums/fills/{rank.name}/{self._rounds[rank]}")
        drawn = {id(fill): rng.random() ** (1 / fill.weight) for fill in pool}
        return sorted(pool, key=lambda fill: (fill.is_tail and rank >= Rank.SECTION, -drawn[id(fill)]))


def _is_in_hand(voice: str) -> bool:
    """Whether a voice is struck by a hand, once: a brush that sweeps on keeps time."""
    return VOICES[voice].limb is Limb.HAND and voice != _SWEEP


def _whole(number: int, written: DrumChoice, bar_beats: Fraction) -> Fill:
    strokes = [
        (step.onset_beats - bar_beats, voice, int(step.sign))
        for voice, bar in written.bars[0].items()
        for step in bar
    ]
    return _begun(number, written.weight, strokes)


def _begun(
    number: int, weight: float, strokes: Sequence[tuple[Fraction, str, int]], *, is_tail: bool = False
) -> Fill:
    """A fill from the first stroke of a hand on; where none strikes, from the first."""
    in_hand = [onset for onset, voice, _ in strokes if _is_in_hand(voice)]
    start = min(in_hand or [onset for onset, _, _ in strokes])
    kept = tuple(stroke for stroke in strokes if stroke[0] >= start)
    return Fill(number, weight, -start, kept, is_tail)


def _tail(fill: Fill, beat: Fraction) -> Fill | None:
    """The last beat of a longer fill; None where no hand strikes in it, or none before."""
    kept = [stroke for stroke in fill.strokes if stroke[0] >= -beat]
    if len(kept) == len(fill.strokes) or not any(_is_in_hand(voice) for _, voice, _ in kept):
        return None
    return _begun(fill.number, fill.weight, kept, is_tail=True)


def _pools(whole: Sequence[Fill], every: Sequence[Fill]) -> dict[Rank, list[Fill]]:
    """What each rank draws from, of fills sorted by size: two at least where there are two."""
    small = list(every[: max(2, (len(every) + 1) // 2)])
    tails = [fill for fill in every if fill.is_tail]
    large = list(whole[-max(2, (len(whole) + 1) // 2) :])
    middle = list(every[len(every) // 3 :][: max(2, len(every) // 2)])
    if len(large) < 2:
        large = [*(fill for fill in every if fill.is_tail), *whole][-2:]
    return {
        Rank.ANSWER: tails or small,
        Rank.PHRASE: small,
        Rank.SECTION: middle,
        Rank.CHORUS: large,
    }
