"""A feel as data: what a groove file says, read and checked. Immutable values.

``reader.py`` makes these from YAML; the players in ``drums.py``, ``bass.py`` and ``comping.py``
read them. Loudness digits run from 1 to 9 and become velocities by ``velocity_of``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from genex.band.grid import StepBar
from genex.band.timing import FeelTiming, Touch, swing_ratio
from genex.score import Meter, Mix, TempoMap


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
    """``layers`` sound together; of each one choice is drawn. ``crash`` marks a new section."""

    kit: str
    layers: tuple[tuple[DrumChoice, ...], ...]
    mix: Mix
    touch: Touch
    fills: tuple[DrumChoice, ...] = ()
    crash: str | None = None
    crash_loudness: int = 7


@dataclass(frozen=True)
class WalkRules:
    """A walking line: ``skips`` is the chance of a skipped eighth in a bar."""

    skips: float = 0.12


@dataclass(frozen=True)
class BassRules:
    """Either ``walk`` or ``patterns``."""

    instrument: str
    mix: Mix
    touch: Touch
    walk: WalkRules | None = None
    patterns: tuple[PatternChoice, ...] = ()
    centre: int = 36


@dataclass(frozen=True)
class CompingRules:
    """``voicings`` in order of preference. ``picked`` patterns name voices, others loudness.

    centre    MIDI number about which the voicings lie
    strum_ms  time between neighbouring strings of a strummed chord
    """

    instrument: str
    voicings: tuple[str, ...]
    patterns: tuple[PatternChoice, ...]
    mix: Mix
    touch: Touch
    picked: bool = False
    centre: int = 60
    strum_ms: float = 0.0


@dataclass(frozen=True)
class Groove:
    """A feel.

    beats                    lengths of the beats of a bar, as patterns count them
    tempo_low … tempo_usual  suitable tempos, in pulses of the meter a minute
    swing                    ratio of swung pairs; None follows the tempo, 1 is straight
    pair_beats               length of a swung pair: 1 for eighths, 1/2 for sixteenths
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
    drums: DrumRules | None = None
    bass: BassRules | None = None
    comping: CompingRules | None = None

    @property
    def bar_beats(self) -> Fraction:
        return sum(self.beats, Fraction(0))

    @property
    def parts(self) -> tuple[str, ...]:
        """Names of the parts that this feel has."""
        found = (("drums", self.drums), ("bass", self.bass), ("comping", self.comping))
        return tuple(name for name, rules in found if rules is not None)

    def fits(self, meter: Meter) -> bool:
        """Whether the feel has patterns for a meter."""
        return meter in self.meters

    def suits_tempo(self, pulses_a_minute: float) -> bool:
        return self.tempo_low <= pulses_a_minute <= self.tempo_high

    def swing_at(self, pulses_a_minute: float) -> float:
        """The swing ratio of the band at a tempo in pulses a minute."""
        return swing_ratio(pulses_a_minute) if self.swing is None else self.swing

    def feel_timing(self, tempo: TempoMap, swing: float | None = None) -> FeelTiming:
        """Swing for a tempo map; ``swing`` overrides the feel's own ratio.

        ``FeelTiming.swing_lead`` moves the notes of a lead line, ``offset`` serves the band.
        """
        ratio = self.swing if swing is None else swing
        return FeelTiming(tempo, ratio, self.pair_beats, self.meters[0].pulse_beats)
