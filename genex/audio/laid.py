"""A score laid out in samples: all that decides how it sounds, before a synthesizer is asked.

Whoever renders is given this and nothing else of a score; so what has the digest of something that was
rendered sounds the same, with the same soundfont, libraries and code.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import NamedTuple

from genex.audio.timing import Placement, SampleClock, placements
from genex.score import Part, Score
from genex.units import beats_to_ticks


class LaidPart(NamedTuple):
    """A part and its strikes, in order."""

    part: Part
    placed: list[Placement]


class Laid(NamedTuple):
    """Parts on a stretch of samples.

    bars_end  the frame of the last bar line; of a loop, its length
    loops     whether what lies over one end comes round at the other
    """

    parts: list[LaidPart]
    bars_end: int
    rate_hz: int
    loops: bool

    @property
    def digest(self) -> str:
        """Of all that is heard: of a part its instrument, its place in the mix and its strikes."""
        heard = [
            (laid.part.is_percussion, laid.part.program, laid.part.mix, laid.placed)
            for laid in self.parts
        ]
        text = repr((heard, self.bars_end, self.rate_hz, self.loops))
        return hashlib.sha256(text.encode()).hexdigest()


def laid_loop(score: Score, rate_hz: int, parts: Iterable[Part] | None = None) -> Laid:
    """A score as a loop, or some of its parts."""
    clock = SampleClock(score.tempo, rate_hz)
    chosen = score.parts if parts is None else parts
    laid = [LaidPart(part, placements(part, clock)) for part in chosen]
    return Laid(laid, score.tempo.sample_at(score.length_beats, rate_hz), rate_hz, loops=True)


def laid_take(score: Score, rate_hz: int) -> Laid:
    """A score once, with its lead-in before the first bar."""
    lead_beats = score.lead_in_beats
    clock = SampleClock(score.tempo, rate_hz, lead_beats)
    parts = [(part, clock) for part in score.parts]
    if score.lead_in:
        parts.insert(0, (score.lead_in.part, SampleClock(score.tempo.shifted(lead_beats), rate_hz)))
    laid = [LaidPart(part, placements(part, its)) for part, its in parts]
    return Laid(laid, clock.sample_at(beats_to_ticks(score.length_beats)), rate_hz, loops=False)
