"""Swing and humanising: from the written grid to sounding time and touch.

Literature
----------
* Friberg and Sundström 2002, "Swing ratios and ensemble timing in jazz performance: evidence for
  a common rhythmic pattern", Music Perception 19(3), 333-349: the ride cymbal's ratio falls about
  linearly with tempo, up to 3.5:1 at slow tempos and toward 1:1 at fast ones, while the short note
  stays near 100 ms at medium to fast tempos.
  On the beat soloists lie behind the ride, off the beat together with it: so they swing less.
* Corcoran and Frieler 2021, Music Perception 38(4), 372-385: soloists play far more evenly than
  the ride cymbal, mostly between 1:1 and 2:1.
* Nelias et al. 2022, "Downbeat delays are a key component of swing in jazz", Communications Physics
  5, 237: such delays make a performance swing in the ears of experts, about 30 ms at 150 a minute.
* SoundFont Technical Specification 2.04, section 8.4.1: a velocity's level lies 40 lg(127 / velocity)
  dB below the loudest.
* Fastl and Zwicker 2007, Psychoacoustics, chapter 7: a change of level is noticed from about 1 dB on.

Tempo here counts pulses (the beats that swing) a minute. Offsets are exact fractions of a beat.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_right
from collections.abc import Container, Iterable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from genex.exact import Fraction
from genex.score import COMMON_TIME, Meter, Note, TempoMap
from genex.units import TICKS_PER_BEAT, beats_to_ticks, ticks_to_beats

SHORT_NOTE_SECONDS = 0.1
MAX_SWING_RATIO = 3.5
MAX_LEAD_RATIO = 2.0
LEAD_SHARE = 0.5
"""Share of the ride's swing (ratio minus one) that a lead line takes."""
MAX_LEAD_DELAY_MS = 75.0
"""A lead line lies no more behind the ride than that, however slow the tempo."""

MAX_TIMING_MS = 15.0
_LEVEL_DB = 40.0  # from a tenth of a velocity to the whole
LEVEL_STEP_DB = 1.0
"""Loudness is played in steps too small to be heard: a drawn velocity is moved by half a step at the
most, and to a whole number. So a player's strokes are a few dozen different sounds, not a hundred."""

ZERO = Fraction(0)


def swing_ratio(tempo_bpm: float | Fraction) -> float:
    """Long against short eighth at a tempo: the short one lasts 100 ms, within 1 to 3.5.

    At 150 pulses a minute 3.0, at 200 2.0, from 300 on 1.0 (Friberg and Sundström 2002).
    """
    ratio = 60.0 / float(tempo_bpm) / SHORT_NOTE_SECONDS - 1.0
    return min(MAX_SWING_RATIO, max(1.0, ratio))


def lead_swing_ratio(ratio: float) -> float:
    """The ratio of a lead line over a band that swings at ``ratio`` (Corcoran and Frieler 2021)."""
    return min(MAX_LEAD_RATIO, 1.0 + LEAD_SHARE * (ratio - 1.0))


def swing_offset(
    onset_beats: Fraction,
    ratio: float,
    pair_beats: Fraction = Fraction(1),
    *,
    all_of_it: bool = False,
) -> Fraction:
    """Sounding minus written onset under a swing ratio.

    Within each ``pair_beats`` (a beat for swung eighths, half a beat for swung sixteenths) the
    middle moves to ratio / (1 + ratio) and the rest stretches with it. Onsets off the binary grid
    are left alone: a written triplet is already where it sounds. ``all_of_it`` stretches them, too:
    triplets that fill a half of a pair whose middle is struck.
    """
    return _swung(onset_beats % pair_beats / pair_beats, ratio, all_of_it) * pair_beats


def halved_pairs(times: Iterable[Fraction], pair_beats: Fraction) -> frozenset[Fraction]:
    """Where pairs begin that a line divides by two, at its onsets and ends: what else stands in them
    fills a half, and is stretched with it."""
    return frozenset(
        time - phase * pair_beats
        for time in set(times)
        if (phase := time % pair_beats / pair_beats) and is_binary(phase)
    )


def is_binary(phase: Fraction) -> bool:
    """Whether a place inside a pair lies on its halves, quarters and so on."""
    return not phase.denominator & (phase.denominator - 1)


@lru_cache(maxsize=1024)
def _swung(phase: Fraction, ratio: float, all_of_it: bool) -> Fraction:
    """``swing_offset`` in pairs, for a place inside a pair from 0 to 1."""
    if ratio == 1 or phase == 0 or not (all_of_it or is_binary(phase)):
        return ZERO
    long = Fraction(ratio).limit_denominator(1000)
    middle = long / (1 + long)
    half = Fraction(1, 2)
    moved = 2 * phase * middle if phase <= half else middle + 2 * (phase - half) * (1 - middle)
    return moved - phase


@dataclass(frozen=True)
class FeelTiming:
    """Where written notes sound under a feel. ``ratio`` None follows the tempo; 1 is straight.

    ``line_ms``: how far a lead line lies behind the band; where pairs are swung, on the beat only.
    """

    tempo: TempoMap
    ratio: float | None = 1.0
    pair_beats: Fraction = Fraction(1)
    meter: Meter = COMMON_TIME
    line_ms: float = 0.0

    def ratio_at(self, onset_beats: Fraction) -> float:
        """The band's swing ratio at a time."""
        if self.ratio is not None:
            return self.ratio
        return self._ratios[self.tempo.index_at(onset_beats)]

    @cached_property
    def _ratios(self) -> tuple[float, ...]:
        """The swing ratio that follows each tempo: it is asked for note by note."""
        return tuple(swing_ratio(change.pulses(self.meter)) for change in self.tempo.changes)

    def offset(self, onset_beats: Fraction, halved: Container[Fraction] = ()) -> Fraction:
        """Sounding minus written onset for the band. ``halved``: pairs of ``halved_pairs``."""
        if self.ratio == 1:
            return ZERO
        all_of_it = onset_beats - onset_beats % self.pair_beats in halved
        ratio = self.ratio_at(onset_beats)
        return swing_offset(onset_beats, ratio, self.pair_beats, all_of_it=all_of_it)

    def lead_offset(
        self,
        onset_beats: Fraction,
        freedom: float = 1.0,
        drift_ms: float = 0.0,
        halved: Container[Fraction] = (),
    ) -> Fraction:
        """Sounding minus written onset for a lead line: behind the band on the beat, with it off it.

        ``freedom`` 0 leaves it with the band everywhere. Only where pairs are even it is behind all
        through. ``halved``: the line's ``halved_pairs``.
        """
        late_ms = freedom * self.lead_late_ms(onset_beats) + drift_ms
        return self.offset(onset_beats, halved) + self.milliseconds(onset_beats, late_ms)

    def lead_late_ms(self, onset_beats: Fraction) -> float:
        """How far behind the band a lead line lies at a time."""
        late = self.lead_delay_ms(onset_beats)
        if late and self.ratio != 1:
            late *= abs(1 - 2 * float(onset_beats % self.pair_beats / self.pair_beats))
        return late

    def lead_delay_ms(self, onset_beats: Fraction) -> float:
        """How far behind the band a lead line lies on the beat.

        With swing by tempo so far that, its off-beats being those of the ride, its own pairs have
        ``lead_swing_ratio`` [published: Friberg and Sundström 2002]; the feel's own wish comes to that.
        """
        if self.ratio is not None:
            return self.line_ms
        return self._lead_delays_ms[self.tempo.index_at(onset_beats)]

    @cached_property
    def _lead_delays_ms(self) -> tuple[float, ...]:
        """``lead_delay_ms`` for each tempo."""
        delays = []
        for change, ratio in zip(self.tempo.changes, self._ratios, strict=True):
            lead = lead_swing_ratio(ratio)
            pair_ms = 60_000 / float(change.tempo_bpm) * float(self.pair_beats)
            delay = pair_ms * (ratio / (1 + ratio) - lead / (1 + lead)) + self.line_ms
            delays.append(min(MAX_LEAD_DELAY_MS, delay))
        return tuple(delays)

    def milliseconds(self, onset_beats: Fraction, amount_ms: float) -> Fraction:
        """Milliseconds as beats at the tempo of a time, in whole ticks."""
        beats = float(self.tempo.tempo_at(onset_beats)) * amount_ms / 60_000
        return Fraction(round(beats * TICKS_PER_BEAT), TICKS_PER_BEAT)


@dataclass(frozen=True)
class Touch:
    """How freely a part plays: standard deviations, and how far behind the beat it sits.

    timing_ms    scatter of onsets, cut at 2 standard deviations and at 15 ms
    velocity     scatter of MIDI velocities, cut at 2 standard deviations
    behind_ms    constant delay (negative: ahead)
    looseness    share of the feel's drift, see ``ensemble_time.py``
    """

    timing_ms: float = 5.0
    velocity: float = 5.0
    behind_ms: float = 0.0
    looseness: float = 1.0

    def delay_ms(self, rng: random.Random, humanise: float) -> float:
        """A drawn delay in milliseconds."""
        drawn = max(-2.0, min(2.0, rng.gauss(0.0, 1.0))) * self.timing_ms
        return humanise * (self.behind_ms + max(-MAX_TIMING_MS, min(MAX_TIMING_MS, drawn)))

    def earliest_ms(self, humanise: float) -> float:
        """How far ahead of its place a note can sound, in milliseconds; never negative."""
        return max(0.0, humanise * (min(2.0 * self.timing_ms, MAX_TIMING_MS) - self.behind_ms))

    def latest_ms(self, humanise: float) -> float:
        """How far behind its place a note can sound, in milliseconds; never negative."""
        return max(0.0, humanise * (min(2.0 * self.timing_ms, MAX_TIMING_MS) + self.behind_ms))

    def velocity_of(self, velocity: float, rng: random.Random, humanise: float) -> int:
        """A velocity with its drawn scatter, within 1 to 127, in steps of ``LEVEL_STEP_DB``."""
        drawn = max(-2.0, min(2.0, rng.gauss(0.0, 1.0))) * self.velocity * humanise
        return stepped_velocity(velocity + drawn)


_COUNT = round(_LEVEL_DB * math.log10(127) / LEVEL_STEP_DB)
_STEPS = [
    max(1, round(127 / 10 ** (step * LEVEL_STEP_DB / _LEVEL_DB))) for step in range(_COUNT, -1, -1)
]
_EDGES = [127 / 10 ** ((step + 0.5) * LEVEL_STEP_DB / _LEVEL_DB) for step in range(_COUNT - 1, -1, -1)]
"""The velocities that are played, softest first, and from which velocity on the next one is nearer."""


def stepped_velocity(velocity: float) -> int:
    """The velocity whose level is the whole number of steps below the loudest that is nearest."""
    return _STEPS[bisect_right(_EDGES, velocity)]


def settle(notes: Iterable[Note], length_beats: Fraction) -> list[Note]:
    """Notes made consistent: none before beat 0 or written past the end, equal pitches never overlap.

    A note that is struck again ends where the next one of its pitch begins.
    """
    following: dict[int, int] = {}
    settled: list[Note] = []
    order = [
        (beats_to_ticks(note.onset_beats + note.offset_beats), index, note)
        for index, note in enumerate(notes)
    ]
    for start, _, note in sorted(order, reverse=True, key=lambda entry: entry[:2]):
        if start < 0:
            start, note = 0, replace(note, offset_beats=-note.onset_beats)
        if note.written_end_beats > length_beats:
            note = replace(note, duration_beats=length_beats - note.onset_beats)
        limit = following.get(note.midi)
        if limit is not None:
            if limit <= start:
                continue
            length = note.duration_beats if note.sounding_beats is None else note.sounding_beats
            if beats_to_ticks(note.onset_beats + note.offset_beats + length) > limit:
                end = ticks_to_beats(limit)
                note = replace(note, sounding_beats=end - note.onset_beats - note.offset_beats)
        following[note.midi] = start
        settled.append(note)
    return settled
