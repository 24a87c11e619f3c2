"""Named points in time: for editors one a bar and one a chord change, for players one a section."""

from __future__ import annotations

from typing import NamedTuple

from genex.exact import Fraction
from genex.score import FileClock, Score


class Marker(NamedTuple):
    """A label at a sample frame."""

    sample: int
    label: str


def loop_markers(score: Score, rate_hz: int, passes: int = 1) -> tuple[Marker, ...]:
    """A marker for every bar and every chord change of a loop, in order.

    Labels read ``bar 5 | Gm7`` where both fall together, ``bar 6`` where the chord goes on and
    ``C7`` within a bar. No chord is named in a piece without chords.
    """
    clock = FileClock.of(score)
    return tuple(marker for turn in range(passes) for marker in _markers(score, clock, rate_hz, turn))


def loop_chapters(score: Score, rate_hz: int, passes: int = 1) -> tuple[Marker, ...]:
    """A chapter for every section of every pass of a loop, in order."""
    clock = FileClock.of(score)
    return tuple(chapter for turn in range(passes) for chapter in _chapters(score, clock, rate_hz, turn))


def take_chapters(score: Score, rate_hz: int) -> tuple[Marker, ...]:
    """The same for the take, whose count-in is a chapter too."""
    clock = FileClock.of(score, include_lead_in=True)
    counted = (Marker(0, "count-in"),) if clock.lead_in_beats else ()
    return (*counted, *_chapters(score, clock, rate_hz))


def _chapters(score: Score, clock: FileClock, rate_hz: int, turn: int = 0) -> tuple[Marker, ...]:
    sections = score.timeline.sections
    several = max(section.chorus for section in sections) > 1
    return tuple(
        Marker(
            clock.sample(section.onset_beats, rate_hz, turn),
            f"{section.name}, chorus {section.chorus}" if several else section.name,
        )
        for section in sections
    )


def take_markers(score: Score, rate_hz: int) -> tuple[Marker, ...]:
    """The same for the take, whose samples count from the start of its lead-in."""
    clock = FileClock.of(score, include_lead_in=True)
    counted = (Marker(0, "count-in"),) if clock.lead_in_beats else ()
    return (*counted, *_markers(score, clock, rate_hz))


def _markers(score: Score, clock: FileClock, rate_hz: int, turn: int = 0) -> tuple[Marker, ...]:
    timeline = score.timeline
    labels: dict[Fraction, list[str]] = {bar.onset_beats: [f"bar {bar.number}"] for bar in timeline.bars}
    for span in timeline.merged_chords:
        if label := timeline.chord_label(span):
            labels.setdefault(span.struck_beats, []).append(label)
    return tuple(
        Marker(clock.sample(beats, rate_hz, turn), " | ".join(texts))
        for beats, texts in sorted(labels.items())
    )
