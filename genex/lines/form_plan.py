"""The plan of an improvisation: phrases that follow the form, what each does in it, and the arch.

A section is cut into phrases of 2, 4 and 8 bars. In each group of four phrases the second answers
the first, the third takes the idea further (moved, upside down), and the fourth is free. The last
phrase of a section comes home, that of the chorus rests to the end of its last bar [common practice:
statement, answer, development, close]. A section that comes again begins like its first time. The
chorus rises to a phrase between its middle and its end, the only one that reaches the top.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from random import Random
from typing import Literal

from genex.exact import Fraction
from genex.lines.rhythm import Ending
from genex.score import Bar, Meter, Timeline

Role = Literal["statement", "answer", "development", "close"]

_CUTS: dict[int, tuple[tuple[int, ...], ...]] = {
    4: ((2, 2), (4,)),
    8: ((2, 2, 4), (4, 4), (2, 2, 2, 2), (4, 2, 2)),
    12: ((4, 4, 4), (2, 2, 4, 4), (2, 2, 2, 2, 4)),
}
"""Ways to cut a passage of some bars into phrases."""
_SHORT_BAR_CUTS: dict[int, tuple[tuple[int, ...], ...]] = {
    4: ((4,),),
    8: ((4, 4), (4, 4), (2, 2, 4)),
    12: ((4, 4, 4),),
}
"""The same in bars of three beats or fewer: two of them are no phrase yet."""
_FAST_CUTS: dict[int, tuple[tuple[int, ...], ...]] = {4: ((4,),), 8: ((4, 4), (8,)), 12: ((4, 4, 4),)}
_LONG_BAR = 4
"""Beats of a bar that two of make a phrase."""
LONG_PHRASE_LEVEL = 5
"""From this level on a phrase may be eight bars long, and none of four bars is cut in two."""
_LONG_CUTS: dict[int, tuple[tuple[int, ...], ...]] = {
    4: ((4,), (2, 2)),
    8: ((4, 4), (8,), (2, 2, 4)),
    12: ((4, 4, 4), (4, 8)),
}

LASTING_BARS = 3
"""A meter that lasts so long is one of its own, with phrases of its own."""

_QUIET, _FULL = Fraction(17, 20), Fraction(23, 20)
"""Shares of a level's notes: in the first and last phrases of a chorus, and at its peak."""
_BELOW_THE_PEAK = 3
"""Semitones that all other phrases stay below the top."""


@dataclass(frozen=True)
class PlannedPhrase:
    """A phrase to be.

    first_bar  index of its first bar in the timeline, from 0
    role       what it does in its group
    like       index of the planned phrase that it takes up, or None
    ending     how it ends
    lift       0 at the bottom of the arch, 1 at its peak
    peaks      it is the peak
    dips       it goes down to the bottom, as the first one of its chorus does
    section    the section, by chorus and name: phrases of one share their cells
    """

    first_bar: int
    bars: int
    role: Role
    like: int | None
    ending: Ending
    lift: Fraction
    peaks: bool
    dips: bool
    section: str

    @property
    def density(self) -> Fraction:
        """What multiplies the number of its notes."""
        return _QUIET + (_FULL - _QUIET) * self.lift

    def compass(self, low: int, high: int) -> tuple[int, int]:
        """Its lowest and highest MIDI number within those of the whole."""
        if self.peaks:
            return low + (high - low) // 4, high
        top = high - _BELOW_THE_PEAK
        room = (top - low) // 4
        bottom = low if self.dips else low + int(room * self.lift)
        return bottom, top - int(room * (1 - self.lift))


def plan_of(
    timeline: Timeline, level: int, seed: str, *, bars: int | None = None, fast: bool = False
) -> list[PlannedPhrase]:
    """The phrases of a timeline in order; ``bars`` makes all of one length. Where no chord sounds
    all through a bar there is none."""
    found: list[PlannedPhrase] = []
    for chorus in sorted({bar.chorus for bar in timeline.bars}):
        own = [index for index, bar in enumerate(timeline.bars) if bar.chorus == chorus]
        spans = list(_spans(timeline, own, level, seed, bars, fast))
        found += _chorus(timeline, spans, seed, len(found), is_last=own[-1] == len(timeline.bars) - 1)
    return found


@dataclass(frozen=True)
class _Span:
    first_bar: int
    bars: int
    section: str
    is_again: bool
    begins: bool
    ends: bool


def _spans(
    timeline: Timeline, own: Sequence[int], level: int, seed: str, bars: int | None, fast: bool
) -> Iterator[_Span]:
    """The bars of each phrase of a chorus, section by section."""
    seen: set[str] = set()
    for section in _sections(timeline, own):
        first = timeline.bars[section[0]]
        name = f"{first.chorus}/{first.section}"
        rng = Random(f"{seed}/form/{name}")
        lengths: list[int] = []
        for count in _stretches([timeline.bars[index].meter for index in section]):
            if bars:
                lengths += [bars] * (count // bars) + [count % bars]
            else:
                short_bars = len(timeline.bars[section[sum(lengths)]].meter.pulses) < _LONG_BAR
                lengths += cut(count, level, rng, fast=fast, short_bars=short_bars)
        at = 0
        for length in (length for length in lengths if length):
            for run in _sounding(timeline, section[at : at + length]):
                last = at + length == len(section) and run[-1] == section[-1]
                yield _Span(run[0], len(run), name, name in seen, at == 0, last)
            at += length
        seen.add(name)


def _stretches(meters: Sequence[Meter]) -> list[int]:
    """The lengths, in bars, of the stretches of a section that no phrase goes beyond.

    One ends where a meter that has lasted gives way to another that lasts; a bar or two in between
    belong to the phrase that they stand in.
    """
    runs = [len(list(run)) for _, run in groupby(meters)]
    found: list[int] = []
    for before, run in zip([0, *runs], runs, strict=False):
        if found and min(before, run) < LASTING_BARS:
            found[-1] += run
        else:
            found.append(run)
    return found


def _sections(timeline: Timeline, own: Sequence[int]) -> list[list[int]]:
    starts = {section.onset_beats for section in timeline.sections}
    found: list[list[int]] = []
    for index in own:
        if not found or timeline.bars[index].onset_beats in starts:
            found.append([])
        found[-1].append(index)
    return found


def _sounding(timeline: Timeline, indices: Sequence[int]) -> list[list[int]]:
    """The runs of bars in which a chord sounds all through."""
    found: list[list[int]] = [[]]
    for index in indices:
        if all(span.chord is not None for span in timeline.chords_in(timeline.bars[index])):
            found[-1].append(index)
        else:
            found.append([])
    return [run for run in found if run]


def cut(
    bars: int, level: int, rng: Random, *, fast: bool = False, short_bars: bool = False
) -> list[int]:
    """The lengths of the phrases of a section, in bars."""
    table = _SHORT_BAR_CUTS if short_bars else _CUTS
    table = _LONG_CUTS if level >= LONG_PHRASE_LEVEL else table
    table = _FAST_CUTS if fast else table
    block = 12 if bars % 12 == 0 and bars % 8 else 8
    found: list[int] = []
    left = bars
    while left >= 4:
        size = block if left >= block else 8 if left >= 8 else 4
        found += rng.choice(table[size])
        left -= size
    if left == 1 and found:
        found[-1] += 1
    elif left:
        found.append(left)
    return found


def _chorus(
    timeline: Timeline, spans: Sequence[_Span], seed: str, before: int, *, is_last: bool
) -> Iterator[PlannedPhrase]:
    if not spans:
        return
    chorus = timeline.bars[spans[0].first_bar].chorus
    peak = _peak(spans, Random(f"{seed}/peak/{chorus}"))
    statement: int | None = None
    openings: dict[str, int] = {}
    place = 0
    for index, span in enumerate(spans):
        place = 0 if span.begins or place == 4 else place
        role: Role = ("statement", "answer", "development", "close")[place]
        if span.ends and place > 1:
            role = "close"
        like = statement if role in ("answer", "development") else None
        if role == "statement":
            like = openings.get(span.section) if span.begins and span.is_again else None
            statement = before + index
            openings.setdefault(span.section, statement)
        final = is_last and index == len(spans) - 1
        closed = span.ends or role in ("answer", "close")
        ending: Ending = "final" if final else "closed" if closed else "open"
        yield PlannedPhrase(
            span.first_bar,
            span.bars,
            role,
            like,
            ending,
            _lift(index, peak, len(spans)),
            index == peak,
            index == 0 != peak,
            span.section,
        )
        place += 1


def _peak(spans: Sequence[_Span], rng: Random) -> int:
    """The phrase that lies where the chorus has gone two thirds to four fifths of its way."""
    total = sum(span.bars for span in spans)
    goal = total * rng.uniform(0.6, 0.8)
    at = 0
    for index, span in enumerate(spans):
        at += span.bars
        if at > goal:
            return index
    return len(spans) - 1


def _lift(index: int, peak: int, count: int) -> Fraction:
    """The arch: from a quarter up to the peak, and down to a third of it at the end."""
    if index <= peak:
        return Fraction(1, 4) + Fraction(3, 4) * Fraction(index, peak) if peak else Fraction(1)
    return 1 - Fraction(2, 3) * Fraction(index - peak, max(1, count - 1 - peak))


def last_pulse(timeline: Timeline, bar: Bar) -> int:
    """The pulse of a bar, from 0, on which its last chord has come."""
    onset = timeline.chords_in(bar)[-1].onset_beats - bar.onset_beats if timeline.chords_in(bar) else 0
    return next((n for n, pulse in enumerate(bar.meter.pulses) if pulse >= onset), 0)
