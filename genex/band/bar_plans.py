"""Form: what every bar is to the band before a note is drawn.

A ``BarPlan`` knows its place in section and chorus, its chords and the one that follows, what their
harmony is, how loud it is, who rests, and whether it stops. Players read nothing else of the timeline,
so a bar's notes depend on its own chords and how they are read, on the form, and, in the one note that
leads on, on the chord after it.
"""

from __future__ import annotations

import math
import random
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from genex.exact import Fraction
from genex.score import Bar, Hit, Timeline, counted_hits
from genex.theory import Chord, Key, Reading

PHRASE_BARS = 4
ENDING_LEVEL = 0.88
"""Everyone strikes the last chord of a piece at once: each more softly, so that it is no blow."""
_PEAK = 0.75
WAVE_BARS = 24
"""At least so many bars a register takes to rise and fall again, so it moves by a step a bar."""


@dataclass(frozen=True, slots=True)
class Segment:
    """A chord inside one bar: onset from the bar's start, length, the reading of its harmony."""

    onset_beats: Fraction
    length_beats: Fraction
    reading: Reading

    @property
    def chord(self) -> Chord | None:
        """None: N.C."""
        return self.reading.chord

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


@dataclass(frozen=True)
class BarPlan:
    """One played bar.

    index, count   position among all bars of the piece, from 0
    in_section     position in the section as it is played, from 0
    level          dynamics as a factor on velocity, about 1
    resting        parts that are silent in this bar
    hits           what everyone strikes together, leaving the rest of the bar free; None in other bars
    before_hits    the bar before hits of the chart: nothing in it comes ahead of them or rings on
    before_end     the bar before such an ending
    ends           the last bar of an ending: strike on one and let it ring
    following      reading of the chord that comes after the bar; in the last bar of the first chord
                   of the loop
    goes_on        whether the first chord already sounded in the bar before, of the same section
    place          where the bar lies in figures of several bars, counted from 0
    """

    bar: Bar
    key: Key
    index: int
    count: int
    in_section: int
    section_bars: int
    level: float
    resting: frozenset[str]
    hits: tuple[Hit, ...] | None
    before_hits: bool
    before_end: bool
    ends: bool
    segments: tuple[Segment, ...]
    following: Reading
    goes_on: bool = False
    place: int = 0

    @property
    def stops(self) -> bool:
        """Whether nobody plays on, but for hits."""
        return self.hits is not None

    @property
    def is_section_start(self) -> bool:
        return self.in_section == 0

    @property
    def is_section_end(self) -> bool:
        return self.in_section == self.section_bars - 1

    @property
    def is_chorus_top(self) -> bool:
        """Whether a chorus begins here, or the piece."""
        return self.index == 0 or self.bar.form_number == 1

    @property
    def is_phrase_end(self) -> bool:
        return (self.in_section + 1) % PHRASE_BARS == 0

    @property
    def length_beats(self) -> Fraction:
        return self.bar.length_beats

    def segment_at(self, onset_beats: Fraction) -> Segment:
        """The segment that sounds at a time inside the bar."""
        for segment in reversed(self.segments):
            if segment.onset_beats <= onset_beats:
                return segment
        return self.segments[0]

    def after(self, segment: Segment) -> Reading:
        """The reading of the chord that comes after a segment."""
        for later in self.segments:
            if later.onset_beats >= segment.end_beats:
                return later.reading
        return self.following

    def generator(self, seed: int, *purpose: str) -> random.Random:
        """The bar's own generator for one purpose: no other bar draws from it."""
        name = "/".join((str(seed), *purpose, str(self.bar.chorus), str(self.bar.form_number)))
        return random.Random(name)

    def of_section(self, seed: int, *purpose: str) -> random.Random:
        """The generator that all bars of a section share for one purpose."""
        start = self.bar.form_number - self.in_section
        return random.Random(
            "/".join((str(seed), *purpose, "section", str(self.bar.chorus), str(start)))
        )

    def wave(self, seed: int, part: str, height: float) -> float:
        """A slow rise and fall of ``height`` either way, which meets itself at the loop's end.

        Short loops get a smaller one.
        """
        turns = max(1, self.count // WAVE_BARS)
        height *= min(1.0, self.count / WAVE_BARS)
        start = random.Random(f"{seed}/{part}/wave").random()
        return height * math.sin(2 * math.pi * (turns * self.index / self.count + start))


@dataclass(frozen=True)
class Shape:
    """What a lesson asks of the form, beyond the chart.

    mutes      parts that rest, by section name
    bar_mutes  parts that rest, by bar number (from 1), as in trading fours
    stops      bar numbers of stop-time bars
    dynamics   loudness by section name, as a factor, 1 is normal
    build      how much louder the loudest chorus is than the first, 0.15 is 15 per cent
    ending     whether the last bar ends the piece instead of leading back
    unbroken   whether figures of several bars run on through sections, as the clave does
    """

    mutes: Mapping[str, Collection[str]] | None = None
    bar_mutes: Mapping[int, Collection[str]] | None = None
    stops: Collection[int] = ()
    dynamics: Mapping[str, float] | None = None
    build: float = 0.15
    ending: bool = False
    unbroken: bool = False


def plan_bars(timeline: Timeline, shape: Shape) -> tuple[BarPlan, ...]:
    """A plan for every bar of a timeline."""
    bars = timeline.bars
    loudness = chorus_levels(timeline, shape.build)
    places = _places_in_sections(timeline)
    plans: list[BarPlan] = []
    for index, bar in enumerate(bars):
        in_section, section_bars = places[index]
        segments = _segments(timeline, bar)
        level = loudness[bar.chorus] * (shape.dynamics or {}).get(bar.section, 1.0)
        resting = frozenset((shape.mutes or {}).get(bar.section, ())) | frozenset(
            (shape.bar_mutes or {}).get(bar.number, ())
        )
        bars_left = len(bars) - 1 - index
        hits = bar.hits
        if bar.number in shape.stops:
            hits = counted_hits([(Fraction(0), "1")], bar.meter)
        if shape.ending and bars_left == 0:
            level *= ENDING_LEVEL
        plans.append(
            BarPlan(
                bar=bar,
                key=timeline.key,
                index=index,
                count=len(bars),
                in_section=in_section,
                section_bars=section_bars,
                level=level,
                resting=resting,
                hits=hits,
                before_hits=bars_left > 0 and bars[index + 1].hits is not None,
                before_end=shape.ending and bars_left == 1,
                ends=shape.ending and bars_left == 0,
                segments=segments,
                following=timeline.reading_at(bar.end_beats),
                goes_on=in_section > 0 and plans[-1].segments[-1].chord == segments[0].chord,
                place=index if shape.unbroken else in_section,
            )
        )
    return tuple(plans)


def chorus_levels(timeline: Timeline, build: float) -> dict[int, float]:
    """Build-up: a factor for each chorus, from the first up by ``build`` to the one nearest to three
    quarters of the way, then down again half of that. One chorus alone is as it is."""
    choruses = max(bar.chorus for bar in timeline.bars)
    if choruses < 2:
        return dict.fromkeys(range(choruses + 1), 1.0)
    peak = max(1, round(_PEAK * (choruses - 1) + 0.01))
    levels = {}
    for place in range(choruses):
        rise = (
            place / peak - 0.5 if place <= peak else 0.5 - 0.5 * (place - peak) / (choruses - 1 - peak)
        )
        levels[place + 1] = 1 + build * rise
    return levels


def _places_in_sections(timeline: Timeline) -> list[tuple[int, int]]:
    """Position in its section and bars of the section, for each bar."""
    places = []
    for section in timeline.sections:
        inside = [b for b in timeline.bars if section.onset_beats <= b.onset_beats < section.end_beats]
        places += [(position, len(inside)) for position in range(len(inside))]
    return places


def _segments(timeline: Timeline, bar: Bar) -> tuple[Segment, ...]:
    """The chords of a bar; a chord that is written again goes on, unless its scale is another."""
    found: list[Segment] = []
    onset = bar.onset_beats
    while onset < bar.end_beats:
        reading = timeline.reading_at(onset)
        length = min(timeline.chord_at(onset).end_beats, bar.end_beats) - onset
        last = found[-1] if found else None
        if last and (last.chord, last.reading.scale) == (reading.chord, reading.scale):
            found[-1] = replace(last, length_beats=last.length_beats + length)
        else:
            found.append(Segment(onset - bar.onset_beats, length, reading))
        onset += length
    return tuple(found)


SHORTEST_BEATS = Fraction(1, 32)
"""No note is cut shorter than this to make room for the next one."""


class _Weighted(Protocol):
    @property
    def weight(self) -> float: ...
    @property
    def length(self) -> int: ...


W = TypeVar("W", bound=_Weighted)


def choose(rng: random.Random, choices: Sequence[W]) -> W:
    """One of several weighted choices."""
    return rng.choices(choices, weights=[choice.weight for choice in choices])[0]


def lay_out(
    plans: Sequence[BarPlan], choices: Sequence[W], seed: int, *purpose: str, steady: float = 0.0
) -> list[tuple[W, int]]:
    """For each bar a choice and which of the choice's bars is played there.

    Choices longer than a bar begin where a phrase of that length begins in the section, so that a
    two-bar figure lies on its two bars. Draws depend on the form alone, never on the chords.

    A section has a choice of its own, drawn once, which is taken with the chance ``steady`` wherever it
    fits: a player stays with a figure and leaves it now and then.
    """
    longest = max(choice.length for choice in choices)
    laid: list[tuple[W, int]] = []
    current: W | None = None
    used = 0
    for plan in plans:
        place = plan.place % longest
        if current is None or used >= current.length or place == 0:
            fitting = [
                choice
                for choice in choices
                if choice.length <= longest - place and place % choice.length == 0
            ] or [min(choices, key=lambda choice: choice.length)]
            rng = plan.generator(seed, *purpose)
            current = choose(rng, fitting)
            own = choose(plan.of_section(seed, *purpose), choices)
            if steady and own in fitting and rng.random() < steady:
                current = own
            used = 0
        laid.append((current, used))
        used += 1
    return laid
