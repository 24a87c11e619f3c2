"""Time: tempo map, bars, chords and sections on one line.

All times are exact ``Fraction`` quarter-note beats from the start of the first bar.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

from genex.exact import Fraction
from genex.score.hits import Hit
from genex.score.meter import Meter
from genex.score.passages import JumpSpan, RepeatSpan
from genex.score.tempo_signs import TempoSign
from genex.theory import NO_CHORD, Chord, Key, Place, Reading, analyse
from genex.units import beats_to_seconds, seconds_to_samples


@dataclass(frozen=True, slots=True)
class TempoChange:
    """From ``onset_beats`` on, ``tempo_bpm`` quarter notes a minute."""

    onset_beats: Fraction
    tempo_bpm: Fraction

    @classmethod
    def of_pulses(cls, onset_beats: Fraction, pulses_bpm: Fraction, meter: Meter) -> TempoChange:
        """From a tempo in pulses of a meter a minute."""
        return cls(onset_beats, pulses_bpm * meter.pulse_beats)

    def pulses(self, meter: Meter) -> Fraction:
        """Pulses of a meter a minute: what a recipe says."""
        return self.tempo_bpm / meter.pulse_beats

    def mark(self, meter: Meter) -> Fraction:
        """What a metronome mark on paper says."""
        return self.tempo_bpm / meter.mark_beats


@dataclass(frozen=True)
class TempoMap:
    """Piecewise constant tempo. The first change lies at beat 0.

    Tempos are quarter notes a minute. People count pulses of a meter, dotted quarters in 12/8:
    ``of_pulses`` and ``pulses_at`` are the way there and back.
    """

    changes: tuple[TempoChange, ...]

    def __post_init__(self) -> None:
        onsets = [change.onset_beats for change in self.changes]
        if not onsets or onsets[0] != 0 or any(a >= b for a, b in pairwise(onsets)):
            raise ValueError("tempo changes start at beat 0 and rise")

    @classmethod
    def constant(cls, tempo_bpm: Fraction) -> TempoMap:
        return cls((TempoChange(Fraction(0), tempo_bpm),))

    @classmethod
    def of_pulses(cls, pulses_bpm: Fraction, meter: Meter) -> TempoMap:
        """A constant tempo in pulses of a meter a minute."""
        return cls((TempoChange.of_pulses(Fraction(0), pulses_bpm, meter),))

    @cached_property
    def _seconds(self) -> tuple[Fraction, ...]:
        """Seconds at each change."""
        total = Fraction(0)
        times = [total]
        for before, after in pairwise(self.changes):
            total += beats_to_seconds(after.onset_beats - before.onset_beats, before.tempo_bpm)
            times.append(total)
        return tuple(times)

    @cached_property
    def _onsets(self) -> tuple[Fraction, ...]:
        return tuple(change.onset_beats for change in self.changes)

    def index_at(self, beats: Fraction) -> int:
        """Which of the changes is in force at a time; before beat 0 the first."""
        return max(0, bisect_right(self._onsets, beats) - 1)

    def change_at(self, beats: Fraction) -> TempoChange:
        """The tempo in force at a time; before beat 0 the first."""
        return self.changes[self.index_at(beats)]

    def tempo_at(self, beats: Fraction) -> Fraction:
        """Quarter notes a minute in force at a time."""
        return self.change_at(beats).tempo_bpm

    def pulses_at(self, beats: Fraction, meter: Meter) -> Fraction:
        """Pulses of a meter a minute in force at a time."""
        return self.change_at(beats).pulses(meter)

    def seconds_at(self, beats: Fraction) -> Fraction:
        """Exact seconds from beat 0 to ``beats`` (negative before beat 0)."""
        index = self.index_at(beats)
        change = self.changes[index]
        return self._seconds[index] + beats_to_seconds(beats - change.onset_beats, change.tempo_bpm)

    def sample_at(self, beats: Fraction, rate_hz: int) -> int:
        """Sample frame of a time, counted from beat 0."""
        return seconds_to_samples(self.seconds_at(beats), rate_hz)

    def shifted(self, beats: Fraction) -> TempoMap:
        """The map with ``beats`` of the first tempo set before it."""
        later = (TempoChange(c.onset_beats + beats, c.tempo_bpm) for c in self.changes[1:])
        return TempoMap((self.changes[0], *later))


@dataclass(frozen=True, slots=True)
class Bar:
    """A played bar. ``number`` counts from 1 over the whole piece, ``form_number`` within a chorus.

    A pickup has number 0 and lacks ``missing_beats`` of a bar at its beginning. In a bar with ``hits``
    the band strikes these together and rests between; with none of them it is silent.
    """

    number: int
    form_number: int
    chorus: int
    onset_beats: Fraction
    meter: Meter
    section: str
    missing_beats: Fraction = Fraction(0)
    hits: tuple[Hit, ...] | None = None

    @property
    def length_beats(self) -> Fraction:
        return self.meter.bar_beats - self.missing_beats

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats

    @property
    def is_pickup(self) -> bool:
        return self.missing_beats > 0

    @property
    def counted_from(self) -> Fraction:
        """The time that beats of the bar are counted from: its onset, in a pickup before that."""
        return self.onset_beats - self.missing_beats


PUSH_BEATS = Fraction(1, 2)
"""How far ahead of its beat a pushed chord is struck: an eighth [common practice]."""
PUSH_SIGN = "<"
"""What stands before a pushed chord in a chart."""


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord and how long it sounds. ``chord`` is None where the chart says N.C.

    Of a pushed chord ``push_beats`` tells how far before ``onset_beats`` it is struck; harmony is
    counted by the beat, and only who strikes chords comes early. ``optional`` is a chord that the chart
    puts into parentheses: this one, or one that may be played instead.

    ``reading`` is what its harmony is taken to be, where that was found out with the whole recipe
    at hand; whoever asks for it asks ``Timeline.reading_of``, which has one for every span.
    """

    onset_beats: Fraction
    length_beats: Fraction
    chord: Chord | None
    reading: Reading | None = field(default=None, compare=False)
    push_beats: Fraction = Fraction(0)
    optional: Chord | None = None

    @property
    def struck_beats(self) -> Fraction:
        """When it is struck: at its onset, or before it; never before the piece begins."""
        return max(Fraction(0), self.onset_beats - self.push_beats)

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


@dataclass(frozen=True, slots=True)
class SectionSpan:
    """A named section as it is played; ``chorus`` counts from 1.

    ``key`` is given where it is in another one than the piece, ``sets_tempo`` tells that it has a tempo
    of its own.
    """

    onset_beats: Fraction
    length_beats: Fraction
    name: str
    chorus: int
    key: Key | None = None
    sets_tempo: bool = False

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


@dataclass(frozen=True)
class Timeline:
    """What is played over: bars, chords and sections without gaps, in a key at a tempo.

    A chord that goes on over a bar line is one span where the chart repeats it (``%`` or the
    same symbol again) only if ``merged_chords`` is read; ``chords`` keeps one span a bar.

    ``repeats`` are the passages, in order, that the chart writes with repeat signs. They change
    nothing about what is played: the bars stand in playing order. A turnaround may have changed
    bars of a pass, so whoever draws a repeat looks whether its passes are alike. ``jumps`` are the
    jumps back that the chart writes, likewise.

    ``pickup_beats`` come before the first bar of a page or a take, at negative times; a loop, which is
    whole bars, has none. ``signs`` are fermatas and ritardandos: ``tempo`` knows of them in a take only.
    """

    key: Key
    tempo: TempoMap
    bars: tuple[Bar, ...]
    chords: tuple[ChordSpan, ...]
    sections: tuple[SectionSpan, ...]
    repeats: tuple[RepeatSpan, ...] = ()
    jumps: tuple[JumpSpan, ...] = ()
    pickup_beats: Fraction = Fraction(0)
    signs: tuple[TempoSign, ...] = ()

    def __post_init__(self) -> None:
        for name, spans in (("bars", self.bars), ("chords", self.chords), ("sections", self.sections)):
            _require_contiguous(name, spans, self.length_beats)
        if self.repeats:
            _require_on_bar_lines(self.repeats, self.bars)

    @property
    def length_beats(self) -> Fraction:
        return self.bars[-1].end_beats

    @property
    def meter(self) -> Meter:
        """The meter of the first bar."""
        return self.bars[0].meter

    @property
    def pickup_bar(self) -> Bar | None:
        """The short bar before the first one."""
        if not self.pickup_beats:
            return None
        first, missing = self.bars[0], self.meter.bar_beats - self.pickup_beats
        return replace(
            first,
            number=0,
            form_number=first.form_number - 1,
            onset_beats=-self.pickup_beats,
            missing_beats=missing,
            hits=None,
        )

    @cached_property
    def merged_chords(self) -> tuple[ChordSpan, ...]:
        """Chord spans with equal neighbours joined."""
        merged: list[ChordSpan] = []
        for span in self.chords:
            if merged and merged[-1].chord == span.chord:
                last = merged.pop()
                span = replace(last, length_beats=last.length_beats + span.length_beats)
            merged.append(span)
        return tuple(merged)

    @cached_property
    def has_chords(self) -> bool:
        """Whether there is a chord anywhere; nothing says N.C. where there is none at all."""
        return any(span.chord is not None for span in self.chords)

    @cached_property
    def _chord_onsets(self) -> tuple[Fraction, ...]:
        return tuple(span.onset_beats for span in self.chords)

    @cached_property
    def _bar_onsets(self) -> tuple[Fraction, ...]:
        return tuple(bar.onset_beats for bar in self.bars)

    def chord_at(self, beats: Fraction) -> ChordSpan:
        """The span sounding at a time; times outside the piece wrap round, as a loop does."""
        return self.chords[bisect_right(self._chord_onsets, beats % self.length_beats) - 1]

    def chord_before(self, beats: Fraction) -> ChordSpan:
        """The span that sounds until a time; before the first one the last, as a loop has it."""
        return self.chords[bisect_left(self._chord_onsets, beats % self.length_beats) - 1]

    def chord_label(self, span: ChordSpan, named: Callable[[Chord], str] = str) -> str:
        """What stands over the bars for a chord: its symbol, or what it is ``named``, N.C. for none.

        Nothing where the piece has no chords at all (a drill, a phrase of notes only): N.C. would
        tell the player nothing there.
        """
        if span.chord is not None:
            return named(span.chord)
        return NO_CHORD if self.has_chords else ""

    def written_label(self, span: ChordSpan, named: Callable[[Chord], str] = str) -> str:
        """The same as charts write it: with the sign of a chord that is pushed, what is optional in
        parentheses."""
        label = self.chord_label(span, named)
        if span.optional is not None:
            label = f"({label})" if span.optional == span.chord else f"{label}({named(span.optional)})"
        return f"{PUSH_SIGN if span.push_beats else ''}{label}"

    @cached_property
    def readings(self) -> tuple[Reading, ...]:
        """The harmony of each span of ``chords``: key, numeral, function, chord scale, reason.

        Spans that bring no reading are read here, in the key of the timeline, its end leading back
        to its beginning.
        """
        if all(span.reading is not None for span in self.chords):
            return tuple(span.reading for span in self.chords if span.reading is not None)
        starts = {section.onset_beats for section in self.sections}
        places = [
            Place(span.chord, span.length_beats, starts=span.onset_beats in starts)
            for span in self.chords
        ]
        found = analyse(places, self.key).readings
        return tuple(span.reading or own for span, own in zip(self.chords, found, strict=True))

    def reading_at(self, beats: Fraction) -> Reading:
        """The harmony at a time; times outside the piece wrap round, as a loop does."""
        return self.readings[bisect_right(self._chord_onsets, beats % self.length_beats) - 1]

    def reading_of(self, span: ChordSpan) -> Reading:
        """The harmony of a chord span, merged or not: that of its beginning."""
        return self.reading_at(span.onset_beats)

    @cached_property
    def _section_onsets(self) -> tuple[Fraction, ...]:
        return tuple(section.onset_beats for section in self.sections)

    def key_at(self, beats: Fraction) -> Key:
        """The key whose signature is in force at a time: that of its section, or of the piece."""
        beats = Fraction(0) if self._is_in_pickup(beats) else beats
        section = self.sections[bisect_right(self._section_onsets, beats % self.length_beats) - 1]
        return section.key or self.key

    def _is_in_pickup(self, beats: Fraction) -> bool:
        return -self.pickup_beats <= beats < 0

    def bar_at(self, beats: Fraction) -> Bar:
        """The bar that a time falls into, also that of the pickup; other times outside the piece wrap
        round."""
        if self._is_in_pickup(beats) and (pickup := self.pickup_bar) is not None:
            return pickup
        return self.bars[bisect_right(self._bar_onsets, beats % self.length_beats) - 1]

    def bar_before(self, bar: Bar) -> Bar:
        """The bar that ends where this one begins; before the first comes the last."""
        return self.bars[bisect_left(self._bar_onsets, bar.onset_beats) - 1]

    def bars_between(self, start_beats: Fraction, end_beats: Fraction) -> tuple[Bar, ...]:
        """The bars that begin at ``start_beats`` or later, and before ``end_beats``."""
        first = bisect_left(self._bar_onsets, start_beats)
        return self.bars[first : bisect_left(self._bar_onsets, end_beats)]

    def chords_in(self, bar: Bar) -> tuple[ChordSpan, ...]:
        """The chord spans that begin in a bar."""
        return self.chords_between(bar.onset_beats, bar.end_beats)

    def chords_between(self, start_beats: Fraction, end_beats: Fraction) -> tuple[ChordSpan, ...]:
        """The chord spans that begin at ``start_beats`` or later, and before ``end_beats``."""
        first = bisect_left(self._chord_onsets, start_beats)
        return self.chords[first : bisect_left(self._chord_onsets, end_beats)]

    def changes(self) -> Iterator[tuple[ChordSpan, ChordSpan]]:
        """Each merged chord with the one that follows it; the last is followed by the first."""
        spans = self.merged_chords
        yield from zip(spans, (*spans[1:], spans[0]), strict=True)


def _require_contiguous(
    name: str, spans: Sequence[Bar] | Sequence[ChordSpan] | Sequence[SectionSpan], length: Fraction
) -> None:
    expected = Fraction(0)
    for span in spans:
        if span.onset_beats != expected or span.length_beats <= 0:
            raise ValueError(f"{name} leave a gap or overlap at beat {expected}")
        expected = span.end_beats
    if expected != length:
        raise ValueError(f"{name} end at beat {expected}, the piece at beat {length}")


def _require_on_bar_lines(repeats: Sequence[RepeatSpan], bars: Sequence[Bar]) -> None:
    edges = {bar.onset_beats for bar in bars} | {bars[-1].end_beats}
    reached = Fraction(0)
    for repeat in repeats:
        places = {edge for turn in repeat.passes for edge in (turn.ending_beats, turn.end_beats)}
        if repeat.onset_beats < reached or not places | {repeat.onset_beats} <= edges:
            raise ValueError(f"repeats overlap or begin or end inside a bar: {repeat}")
        reached = repeat.end_beats
