"""Where the beats of a piece lie in a file of it. The one place where lead-in and passes count.

A file is a loop, played one or more times, or a take, which begins with the count-in. Its seconds
and samples count from its first sample, the beats of a piece from the first bar line.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from genex.exact import Fraction
from genex.score.model import Score
from genex.score.timeline import TempoMap
from genex.units import round_half_up


@dataclass(frozen=True)
class FileClock:
    """Beats of a piece as times of a file.

    piece_tempo    tempo map of the piece, from its first bar
    pass_beats     length of the piece, after which a loop begins again
    lead_in_beats  length of the count-in that the file begins with, 0 for none
    """

    piece_tempo: TempoMap
    pass_beats: Fraction
    lead_in_beats: Fraction = Fraction(0)

    @classmethod
    def of(cls, score: Score, *, include_lead_in: bool = False) -> FileClock:
        """The clock of a loop, or with ``include_lead_in`` that of a take."""
        lead_in_beats = score.lead_in_beats if include_lead_in else Fraction(0)
        return cls(score.tempo, score.length_beats, lead_in_beats)

    @cached_property
    def tempo(self) -> TempoMap:
        """The tempo map from the start of the file; a lead-in has the first tempo of the piece."""
        return self.piece_tempo.shifted(self.lead_in_beats)

    def beats(self, beats: Fraction) -> Fraction:
        """Beats of the first pass, from the start of the file."""
        return self.lead_in_beats + beats

    def seconds(self, beats: Fraction, turn: int = 0) -> Fraction:
        """Exact seconds of a time in a pass; ``turn`` counts passes from 0."""
        later = turn * self.piece_tempo.seconds_at(self.pass_beats)
        return self.tempo.seconds_at(self.beats(beats)) + later

    def milliseconds(self, beats: Fraction, turn: int = 0) -> int:
        """The same in whole milliseconds, never before the start of the file."""
        return max(0, round_half_up(self.seconds(beats, turn) * 1000))

    def sample(self, beats: Fraction, rate_hz: int, turn: int = 0) -> int:
        """Sample frame of a time. A pass has a whole number of samples, so later ones begin on one."""
        first = self.tempo.sample_at(self.beats(beats), rate_hz)
        return first + turn * self.piece_tempo.sample_at(self.pass_beats, rate_hz)
