"""What the band hears of a line, and what it makes of that.

Under busy beats the chords thin out, in the line's rests they answer [common practice]. Only what is
written near by counts: a beat is busy by its own onsets, a bar is drawn anew among patterns of one
length, so a change of the line in one bar is answered in that bar, or in the pattern that it lies in.
"""

from __future__ import annotations

import random
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from genex.band.bar_plans import BarPlan
from genex.band.groove import CompingRules, PatternChoice
from genex.band.pattern_notation import Step, StepBar, fit
from genex.exact import Fraction
from genex.score import Part, Role, Timeline

BUSY_ONSETS = 2
"""A beat with so many onsets of the line is busy."""
ANSWER_PULSES = 1
"""The chords answer in a rest of so many pulses,"""
PHRASE_END_PULSES = Fraction(3, 2)
"""and the drums in one that is so long."""
_LONGEST_REST_BARS = 2
"""A longer rest is nobody's answer: somebody else plays there."""
_BUSY_WEIGHT = 0.45
_REST_WEIGHT = 1.5
_OWN_WEIGHT = 3.0
_DROP_CHANCE = 0.75
_DROP_FIRST = 0.4
_ANSWER_CHANCE = 0.9
ZERO = Fraction(0)
Laid = tuple[PatternChoice, int]


@dataclass(frozen=True)
class Beat:
    """A beat of a bar under a line: whether the line is busy there, or rests all through."""

    onset_beats: Fraction
    end_beats: Fraction
    is_busy: bool
    rests: bool


class Heard:
    """Lead parts as the band hears them, in written time: range, onsets and rests.

    A guide line is heard where there is nothing else, a question of a drill (a cue) not at all.
    ``asks``: the student plays in the rests, so that nobody else answers there.
    """

    def __init__(self, leads: Iterable[Part], timeline: Timeline, *, asks: bool = False) -> None:
        self._timeline = timeline
        leads = list(leads)
        keys = [note.midi for part in leads for note in part.notes]
        self.range = (min(keys), max(keys)) if keys else None
        """Lowest and highest MIDI number."""
        lines = [part for part in leads if part.role in (Role.EXERCISE, Role.LEAD)]
        lines = lines or [part for part in leads if part.role is Role.GUIDE]
        struck = {(note.onset_beats, note.written_end_beats) for part in lines for note in part.notes}
        self._onsets = sorted({onset for onset, _ in struck})
        self._has_phrases = bool(struck) and not asks and lines[0].role is not Role.GUIDE
        self._rests = _rests(sorted(struck), timeline) if self._has_phrases else []

    def beats(self, plan: BarPlan, beats: Sequence[Fraction]) -> list[Beat]:
        """The beats of a bar, of the lengths that are told, as far as the bar goes."""
        found = []
        start = plan.bar.onset_beats
        onset = ZERO
        while onset < plan.length_beats:
            for length in beats:
                end = min(onset + length, plan.length_beats)
                if onset < end:
                    found.append(self._beat(onset, end, start))
                onset = end
        return found

    def _beat(self, onset: Fraction, end: Fraction, start: Fraction) -> Beat:
        first, last = start + onset, start + end
        struck = bisect_left(self._onsets, last) - bisect_left(self._onsets, first)
        rests = any(since <= first and last <= until for since, until in self._rests)
        return Beat(onset, end, struck >= BUSY_ONSETS, rests)

    @cached_property
    def phrase_ends(self) -> dict[int, Fraction] | None:
        """The bars (by index) in which a phrase of the line ends in a rest: where the rest begins.

        None without a line that has ends to be marked.
        """
        if not self._has_phrases:
            return None
        least = PHRASE_END_PULSES * self._timeline.meter.pulse_beats
        found: dict[int, Fraction] = {}
        for since, until in self._rests:
            bar = self._timeline.bar_at(since)
            if min(until, bar.end_beats) - since >= least and since > 0:
                found.setdefault(bar.number - 1, since - bar.onset_beats)
        return found


def _rests(
    struck: Sequence[tuple[Fraction, Fraction]], timeline: Timeline
) -> list[tuple[Fraction, Fraction]]:
    """The rests between notes, given by onset and end, that are long enough to be answered."""
    longest = _LONGEST_REST_BARS * timeline.meter.bar_beats
    shortest = ANSWER_PULSES * timeline.meter.pulse_beats
    found = []
    until = ZERO
    for onset, end in (*struck, (timeline.length_beats, timeline.length_beats)):
        if shortest <= onset - until <= longest:
            found.append((until, onset))
        until = max(until, end)
    return found


class Listener:
    """A chord player's patterns, chosen and thinned out by what the line does."""

    def __init__(
        self,
        plans: Sequence[BarPlan],
        rules: CompingRules,
        beats: tuple[Fraction, ...],
        seed: int,
        heard: Heard,
    ) -> None:
        self._rules, self._seed = rules, seed
        self._pattern_beats = sum(beats, ZERO)
        self._beats = [heard.beats(plan, beats) for plan in plans]

    def laid(self, plans: Sequence[BarPlan], laid: Sequence[Laid]) -> list[Laid]:
        """Patterns drawn anew, each among those of its length, by what they strike under the line."""
        found: list[Laid] = []
        for index, (choice, place) in enumerate(laid):
            if place:
                found.append((found[-1][0], place))
                continue
            bars = plans[index : index + choice.length]
            alike = [other for other in self._rules.patterns if other.length == choice.length]
            told = (beat for plan in bars for beat in self._beats[plan.index])
            if len(alike) == 1 or not any(beat.is_busy or beat.rests for beat in told):
                found.append((choice, 0))
                continue
            weights = [
                self._weight(other, bars) * (_OWN_WEIGHT if other is choice else 1.0) for other in alike
            ]
            rng = plans[index].generator(self._seed, "comping", "heard")
            found.append((rng.choices(alike, weights=weights)[0], 0))
        return found

    def _weight(self, choice: PatternChoice, plans: Sequence[BarPlan]) -> float:
        weight = choice.weight
        for plan, bar in zip(plans, choice.bars, strict=False):
            steps = fit(bar, self._pattern_beats, plan.length_beats)
            for beat in self._beats[plan.index]:
                if not (beat.is_busy or beat.rests):
                    continue
                struck = sum(_is_in(step, beat) for step in steps)
                if beat.is_busy:
                    weight *= (1 - self._rules.listening * (1 - _BUSY_WEIGHT)) ** struck
                else:
                    weight *= (1 + self._rules.listening * (_REST_WEIGHT - 1)) ** min(struck, 2)
        return weight

    def steps(self, plan: BarPlan, steps: Sequence[Step], bars: Sequence[StepBar]) -> list[Step]:
        """The steps of a bar, fewer under busy beats, with an answer in a rest that has none.

        Each chord keeps a stroke at least, its first one rather than another: changes are heard.
        ``bars`` are what other patterns play in this bar: what they have in the rest is the answer.
        """
        rng = plan.generator(self._seed, "comping", "listening")
        beats = self._beats[plan.index]
        busy = [beat for beat in beats if beat.is_busy]
        kept: list[Step] = []
        for segment in plan.segments:
            inside = [s for s in steps if segment.onset_beats <= s.onset_beats < segment.end_beats]
            left = []
            for step in inside:
                roll = rng.random()
                chance = self._rules.listening * (_DROP_FIRST if step is inside[0] else _DROP_CHANCE)
                if roll >= chance or not any(_is_in(step, beat) for beat in busy):
                    left.append(step)
            kept += left or inside[:1]
        free = [beat for beat in beats if beat.rests and not any(_is_in(step, beat) for step in kept)]
        if free and rng.random() < _ANSWER_CHANCE * self._rules.listening:
            kept += self._answer(plan, free, bars, rng)
            kept.sort(key=lambda step: step.onset_beats)
        return kept

    def _answer(
        self, plan: BarPlan, free: Sequence[Beat], bars: Sequence[StepBar], rng: random.Random
    ) -> list[Step]:
        """What one of the patterns has in the beats that are free, rather one that has much there."""
        found: list[list[Step]] = []
        for bar in bars:
            steps = fit(bar, self._pattern_beats, plan.length_beats)
            found.append(
                [s for s in steps if s.sign.isdigit() and any(_is_in(s, beat) for beat in free)]
            )
        weights = [len(steps) for steps in found]
        return rng.choices(found, weights=weights)[0] if any(weights) else []


def _is_in(step: Step, beat: Beat) -> bool:
    return beat.onset_beats <= step.onset_beats < beat.end_beats
