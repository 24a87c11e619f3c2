"""One ensemble, one time: where each player's notes sound about the written beat.

A player's note lies where the feel's swing puts it, behind or ahead by the player's own place, moved by
a slow drift, and scattered a little. The drift is correlated in time and between players: most of it
is the band's, the rest the player's own, so that the band moves together and nobody trembles.

Drift keeps to the form: its bar lines are drawn chorus by chorus, it has no mean over a chorus, and
it is nought where the loop begins, so that a loop has no seam and a longer form keeps its bars.

Literature
----------
* Hennig et al. 2011, "The nature and perception of fluctuations in human musical rhythms", PLoS ONE
  6(10), e26457: deviations of players are correlated over many beats, and listeners prefer such ones
  to independent ones.
* Hennig 2014, "Synchronization in human musical rhythms and mutually interacting complex systems",
  PNAS 111(36), 12974-12979: two who play together drift together.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Sequence

from genex.band.bar_plans import PHRASE_BARS
from genex.band.feel_timing import FeelTiming, Touch
from genex.exact import Fraction
from genex.score import Bar
from genex.units import TICKS_PER_BEAT

SHARED = 0.8
"""Share of the band in a player's drift, as a standard deviation; squared it is the correlation."""
_OWN = (1 - SHARED**2) ** 0.5
_SLOW, _FAST = 0.95, 0.75
"""Shares of what holds for a phrase and of what changes from bar to bar; the whole has a standard
deviation of about 1."""
_LARGEST = 2.0
_TICK = Fraction(1, TICKS_PER_BEAT)
_BAND = "band"


class Drift:
    """A slow wandering about nought, with a standard deviation of about 1 and never beyond 2."""

    def __init__(self, bars: Sequence[Bar], seed: int, name: str) -> None:
        self._starts = [float(bar.onset_beats) for bar in bars]
        self._lengths = [float(bar.length_beats) for bar in bars]
        values = _bar_lines(bars, seed, name)
        self._values = [*values, values[0]]

    def at(self, onset_beats: Fraction) -> float:
        """The drift at a time; the end of the piece is its beginning."""
        time = float(onset_beats)
        index = max(0, bisect_right(self._starts, time) - 1)
        way = min(1.0, max(0.0, (time - self._starts[index]) / self._lengths[index]))
        before, after = self._values[index], self._values[index + 1]
        return before + (after - before) * way * way * (3 - 2 * way)


def _bar_lines(bars: Sequence[Bar], seed: int, name: str) -> list[float]:
    """The drift on every bar line: one generator a phrase, the mean of each chorus taken away."""
    values: list[float] = []
    choruses: dict[int, list[int]] = {}
    phrase: tuple[int, int] | None = None
    rng, slow = random.Random(), 0.0
    for index, bar in enumerate(bars):
        here = bar.chorus, (bar.form_number - 1) // PHRASE_BARS
        if here != phrase:
            phrase = here
            rng = random.Random(f"{seed}/{name}/drift/{here[0]}/{here[1]}")
            slow = _SLOW * rng.gauss(0.0, 1.0)
        values.append(slow + _FAST * rng.gauss(0.0, 1.0))
        choruses.setdefault(bar.chorus, []).append(index)
    for inside in choruses.values():
        mean = sum(values[index] for index in inside) / len(inside)
        for index in inside:
            values[index] = max(-_LARGEST, min(_LARGEST, values[index] - mean))
    values[0] = 0.0
    return values


class Ensemble:
    """The time that the players of a piece share.

    drift_ms   standard deviation of a player's drift
    humanise   0 is an exact grid (swing stays), 1 the feel's own freedom
    """

    def __init__(
        self, bars: Sequence[Bar], feel: FeelTiming, *, seed: int, drift_ms: float, humanise: float
    ) -> None:
        self._bars = bars
        self._seed = seed
        self.feel = feel
        self.humanise = humanise
        self.drift_ms = drift_ms * humanise
        self._band = Drift(bars, seed, _BAND)
        self._swung: dict[Fraction, Fraction] = {}

    def swung(self, onset_beats: Fraction) -> Fraction:
        """What swing adds to a written time of the band."""
        known = self._swung.get(onset_beats)
        if known is None:
            known = self._swung[onset_beats] = self.feel.offset(onset_beats)
        return known

    def player(self, name: str, touch: Touch) -> PlayerTime:
        """The time of one player."""
        own = Drift(self._bars, self._seed, name)
        return PlayerTime(self, touch, self._band, own)


class PlayerTime:
    """Where one player's notes sound."""

    def __init__(self, ensemble: Ensemble, touch: Touch, band: Drift, own: Drift) -> None:
        self.feel = ensemble.feel
        self.swung = ensemble.swung
        self.humanise = ensemble.humanise
        self.touch = touch
        self._band, self._own = band, own
        self._drift_ms = ensemble.drift_ms * touch.looseness
        self._spread_ms = touch.earliest_ms(self.humanise) + touch.latest_ms(self.humanise)
        self._margin = _TICK if self._drift_ms else Fraction(0)
        self._known: dict[Fraction, float] = {}

    def drift_ms(self, onset_beats: Fraction) -> float:
        """How late the player is at a time, all else apart."""
        if not self._drift_ms:
            return 0.0
        known = self._known.get(onset_beats)
        if known is None:
            known = SHARED * self._band.at(onset_beats) + _OWN * self._own.at(onset_beats)
            known *= self._drift_ms
            self._known[onset_beats] = known
        return known

    def delay_ms(self, onset_beats: Fraction, rng: random.Random) -> float:
        """How late a note is: the player's place, drift, and a drawn scatter."""
        return self.touch.delay_ms(rng, self.humanise) + self.drift_ms(onset_beats)

    def room(self, onset_beats: Fraction, end_beats: Fraction) -> Fraction:
        """How long a note may sound so as not to reach one that begins at ``end_beats``, whatever it is.

        The note itself may be late and the next one early; this leaves room for both, so a note's
        length never depends on what follows.
        """
        later_ms = self.drift_ms(end_beats) - self.drift_ms(onset_beats) - self._spread_ms
        written = end_beats + self.swung(end_beats) - onset_beats - self.swung(onset_beats)
        return written + self.feel.milliseconds(end_beats, later_ms) - self._margin
