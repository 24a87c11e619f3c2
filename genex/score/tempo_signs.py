"""What a chart says of its time in words and signs: fermata, ritardando, a tempo.

All times are exact ``Fraction`` quarter-note beats from the start of the first bar.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from genex.exact import Fraction

TempoWord = Literal["rit.", "a tempo"]


@dataclass(frozen=True, slots=True)
class TempoSign:
    """A sign and what it lies over: the chord under a fermata, all up to the end of a ritardando.

    ``written`` is the same for all times that one sign of the chart comes by; the last of them,
    ``is_played``, is when a take obeys it.
    """

    name: Literal["fermata"] | TempoWord
    onset_beats: Fraction
    end_beats: Fraction
    written: tuple[object, ...] = ()
    is_played: bool = True
