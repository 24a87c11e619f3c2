"""A feel as data: what a groove file says, read and checked. Immutable values.

``groove_files.py`` makes these from YAML; the players in ``drums.py``, ``bass.py`` and ``comping.py``
read them. Loudness digits run from 1 to 9 and become velocities by ``velocity_of``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from genex.band.feel_timing import FeelTiming, Touch
from genex.band.pattern_notation import StepBar, spread
from genex.exact import Fraction
from genex.exercises import LineFamily
from genex.score import COMMON_TIME, Meter, Mix, TempoMap

Clave = Literal["2-3", "3-2"]
"""The directions of a clave: two strokes in its first bar and three in its second, or the other way."""


def default_beats(meter: Meter) -> tuple[Fraction, ...]:
    """The beats that a meter is counted in: its pulses, in odd eighths its groups, in 3/8 eighths."""
    if (meter.count, meter.unit) == (3, 8):
        return (Fraction(1, 2),) * 3
    pulses = len(meter.pulses)
    if pulses * meter.pulse_beats == meter.bar_beats:
        return (meter.pulse_beats,) * pulses
    edges = (*meter.groups, meter.bar_beats)
    return tuple(end - start for start, end in pairwise(edges))


def velocity_of(loudness: float) -> float:
    """MIDI velocity of a loudness digit: 1 gives 24, 5 gives 72, 9 gives 120."""
    return 12.0 + 12.0 * loudness


@dataclass(frozen=True)
class DrumChoice:
    """One way to play a layer or a fill: for each of its bars the steps of each voice."""

    weight: float
    bars: tuple[Mapping[str, StepBar], ...]

    @property
    def length(self) -> int:
        return len(self.bars)

    def spread(self, beats: tuple[Fraction, ...]) -> DrumChoice:
        """A choice written for the first beat and every other, over a bar of ``beats``."""
        bars = ({voice: spread(steps, beats) for voice, steps in bar.items()} for bar in self.bars)
        return DrumChoice(self.weight, tuple(bars))


@dataclass(frozen=True)
class PatternChoice:
    """One pattern of bass or comping, one or more bars long."""

    weight: float
    bars: tuple[StepBar, ...]

    @property
    def length(self) -> int:
        return len(self.bars)


@dataclass(frozen=True)
class DrumRules:
    """``layers`` sound together; of each one choice is drawn. ``crash`` marks a new section.

    snare_ms  how far strokes of the snare lie behind the rest of the kit
    """

    kit: str
    layers: tuple[tuple[DrumChoice, ...], ...]
    mix: Mix
    touch: Touch
    fills: tuple[DrumChoice, ...] = ()
    crash: str | None = None
    crash_loudness: int = 7
    snare_ms: float = 0.0
    steady: float = 0.0

    @property
    def loudest_stroke(self) -> int:
        """How loud anything is struck at the most, fills and crash apart."""
        return max(map(self.loudest, self._voices), default=0)

    @property
    def _voices(self) -> frozenset[str]:
        return frozenset(
            voice for layer in self.layers for choice in layer for bar in choice.bars for voice in bar
        )

    def loudest(self, voice: str) -> int:
        """How loud a voice is struck at the most, fills apart; 0 if it is not."""
        bars = (bar for layer in self.layers for choice in layer for bar in choice.bars)
        return max((int(step.sign) for bar in bars for step in bar.get(voice, ())), default=0)


@dataclass(frozen=True)
class WalkRules:
    """A walking line: ``skips`` is the chance of a skipped eighth in a bar."""

    skips: float = 0.12


@dataclass(frozen=True)
class BassRules:
    """Either ``walk`` or ``patterns``.

    steady      chance that a bar has the section's own pattern
    inversions  chance that a bar in which a chord goes on begins on its third or fifth
    """

    instrument: str
    mix: Mix
    touch: Touch
    walk: WalkRules | None = None
    patterns: tuple[PatternChoice, ...] = ()
    centre: int = 38
    steady: float = 0.0
    inversions: float = 0.0


@dataclass(frozen=True)
class CompingRules:
    """``voicings`` in order of preference. ``picked`` patterns name voices, others loudness.

    centre    MIDI number about which the voicings lie
    strum_ms  time between neighbouring strings of a strummed chord
    listening how far it thins out under a busy line and answers in its rests, 0 to 1
    """

    instrument: str
    voicings: tuple[str, ...]
    patterns: tuple[PatternChoice, ...]
    mix: Mix
    touch: Touch
    picked: bool = False
    centre: int = 60
    strum_ms: float = 0.0
    listening: float = 0.0
    steady: float = 0.0

    @property
    def loudest(self) -> int:
        """How loud a chord is struck at the most; 0 where none is, as in picking."""
        signs = (step.sign for choice in self.patterns for bar in choice.bars for step in bar)
        return 0 if self.picked else max((int(sign) for sign in signs if sign.isdigit()), default=0)


@dataclass(frozen=True)
class Groove:
    """A feel.

    meters                   meters it has patterns for; none stands for any
    beats                    lengths of the beats of a bar, as patterns count them
    tempo_low … tempo_usual  suitable tempos, in pulses of the meter a minute
    swing                    ratio of swung pairs; None follows the tempo, 1 is straight
    pair_beats               length of a swung pair: 1 for eighths, 1/2 for sixteenths
    drift_ms                 standard deviation of each player's slow drift
    line_ms                  how far a line lies behind the band
    lines                    whose rhythms lines over it have, where the file says it
    clave                    the side of the clave that comes first in patterns of two bars
    """

    name: str
    title: str
    description: str
    meters: tuple[Meter, ...]
    beats: tuple[Fraction, ...]
    tempo_low: float
    tempo_high: float
    tempo_usual: float
    swing: float | None
    pair_beats: Fraction
    drift_ms: float = 0.0
    line_ms: float = 0.0
    lines: LineFamily | None = None
    clave: Clave | None = None
    drums: DrumRules | None = None
    bass: BassRules | None = None
    comping: CompingRules | None = None

    @property
    def line_family(self) -> LineFamily | None:
        """Whose rhythms lines over it have: what the file says, else swing where eighths are swung
        and funk where sixteenths are; None leaves it to the meter."""
        if self.lines is not None or self.swing == 1.0:
            return self.lines
        if any(meter.count == 3 for meter in self.meters):
            return "waltz"
        return "swing" if self.pair_beats == 1 else "funk"

    @property
    def bar_beats(self) -> Fraction:
        return sum(self.beats, Fraction(0))

    @property
    def parts(self) -> tuple[str, ...]:
        """Names of the parts that this feel has."""
        found = (("drums", self.drums), ("bass", self.bass), ("comping", self.comping))
        return tuple(name for name, rules in found if rules is not None)

    @property
    def is_for_any_meter(self) -> bool:
        """Whether the patterns are one word for the first beat and one for every other."""
        return not self.meters

    def fits(self, meter: Meter) -> bool:
        """Whether the feel has patterns for a meter."""
        return self.is_for_any_meter or meter in self.meters

    def in_meter(self, meter: Meter) -> Groove:
        """The feel with patterns for a meter: itself, unless it is made for any meter."""
        if not self.is_for_any_meter or self.drums is None:
            return self
        beats = default_beats(meter)
        layers = tuple(tuple(choice.spread(beats) for choice in layer) for layer in self.drums.layers)
        return replace(self, meters=(meter,), beats=beats, drums=replace(self.drums, layers=layers))

    def suits_tempo(self, pulses_a_minute: float) -> bool:
        return self.tempo_low <= pulses_a_minute <= self.tempo_high

    def feel_timing(self, tempo: TempoMap, swing: float | None = None) -> FeelTiming:
        """Swing for a tempo map; ``swing`` overrides the feel's own ratio.

        ``FeelTiming.lead_offset`` serves a lead line, ``offset`` the band.
        """
        ratio = self.swing if swing is None else swing
        meter = self.meters[0] if self.meters else COMMON_TIME
        return FeelTiming(tempo, ratio, self.pair_beats, meter, self.line_ms)
