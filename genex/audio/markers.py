"""Named points in time for editors: one a bar and one a chord change."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from genex.score import Score


class Marker(NamedTuple):
    """A label at a sample frame."""

    sample: int
    label: str


def score_markers(score: Score, rate_hz: int, *, with_lead_in: bool = False) -> tuple[Marker, ...]:
    """A marker for every bar and every chord change, in order; one where both fall together.

    Labels read ``bar 5 | Gm7``, ``bar 6`` (the chord goes on) and ``C7`` (within a bar).
    ``with_lead_in`` counts the samples from the start of the take instead of the loop, with a
    marker ``count-in`` at 0.
    """
    lead = score.lead_in.length_beats if with_lead_in and score.lead_in else Fraction(0)
    tempo = score.tempo.shifted(lead) if lead else score.tempo
    labels: dict[Fraction, list[str]] = {
        bar.onset_beats: [f"bar {bar.number}"] for bar in score.timeline.bars
    }
    for span in score.timeline.merged_chords:
        labels.setdefault(span.onset_beats, []).append(str(span.chord) if span.chord else "N.C.")
    found = [
        Marker(tempo.sample_at(beats + lead, rate_hz), " | ".join(texts))
        for beats, texts in sorted(labels.items())
    ]
    return (Marker(0, "count-in"), *found) if lead else tuple(found)
