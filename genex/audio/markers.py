"""Named points in time for editors: one a bar and one a chord change."""

from __future__ import annotations

from typing import NamedTuple

from genex.exact import Fraction
from genex.score import Score


class Marker(NamedTuple):
    """A label at a sample frame."""

    sample: int
    label: str


def loop_markers(score: Score, rate_hz: int, passes: int = 1) -> tuple[Marker, ...]:
    """A marker for every bar and every chord change of a loop, in order.

    Labels read ``bar 5 | Gm7`` where both fall together, ``bar 6`` where the chord goes on and
    ``C7`` within a bar.
    """
    frames = score.tempo.sample_at(score.length_beats, rate_hz)
    once = _markers(score, rate_hz, Fraction(0))
    return tuple(Marker(sample + n * frames, label) for n in range(passes) for sample, label in once)


def take_markers(score: Score, rate_hz: int) -> tuple[Marker, ...]:
    """The same for the take, whose samples count from the start of its lead-in."""
    lead_beats = score.lead_in.length_beats if score.lead_in else Fraction(0)
    found = _markers(score, rate_hz, lead_beats)
    return (Marker(0, "count-in"), *found) if lead_beats else found


def _markers(score: Score, rate_hz: int, lead_beats: Fraction) -> tuple[Marker, ...]:
    timeline = score.timeline
    tempo = score.tempo.shifted(lead_beats) if lead_beats else score.tempo
    labels: dict[Fraction, list[str]] = {bar.onset_beats: [f"bar {bar.number}"] for bar in timeline.bars}
    for span in timeline.merged_chords:
        labels.setdefault(span.onset_beats, []).append(str(span.chord) if span.chord else "N.C.")
    return tuple(
        Marker(tempo.sample_at(beats + lead_beats, rate_hz), " | ".join(texts))
        for beats, texts in sorted(labels.items())
    )
