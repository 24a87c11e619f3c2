"""Bars dealt to systems, so that a line of music is full and legible."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from genex.export.engraving import STAFF_SPACE_MM, System, engrave
from genex.export.repeat_signs import PageBar
from genex.score import Bar, Score

SYSTEM_BARS = (8, 4, 2, 1)
MOST_EVENTS = 34
"""Notes or chords that one system of page width holds legibly, about five millimetres each."""

MOST_SYMBOLS = 10
"""Chord symbols that one system holds without touching each other."""

SMALL_STAFF_SPACE_MM = 1.35
"""For a line that would just not fit: a staff 5.4 mm high is still a usual size."""


@dataclass(frozen=True, slots=True)
class Line:
    """An engraved system; ``section`` is the name to set above it, empty where none begins."""

    system: System
    section: str = ""


Plan = tuple[tuple[int, ...], float]
"""Indices of the bars that begin a system, and the distance of staff lines in millimetres."""


def engrave_lines(
    document: str, score: Score, page: Sequence[PageBar], width_mm: float
) -> tuple[Line, ...]:
    """A document of the bars of a page in systems of eight, four, two or one bars, as they hold."""
    bars = [entry.bar for entry in page]
    begun = {bar.onset_beats for bar in bars}
    sections = [span for span in score.timeline.sections if span.onset_beats in begun]
    names = {
        span.onset_beats: f"{span.name} ({span.chorus})" if span.chorus > 1 else span.name
        for span in sections
        if len(sections) > 1 and span.name.strip()
    }
    starts, systems = _first_that_holds(document, _plans(score, bars), width_mm)
    if len(starts) != len(systems):
        return tuple(Line(system) for system in systems)
    onsets = [bars[start].onset_beats for start in starts]
    return tuple(
        Line(system, names.get(onset, "")) for system, onset in zip(systems, onsets, strict=True)
    )


def engrave_path(document: str, score: Score, width_mm: float) -> tuple[Line, ...]:
    """A short line in one system, a little smaller if need be, else in systems of equal length."""
    _, systems = _first_that_holds(document, _balanced_plans(score), width_mm)
    return tuple(Line(system) for system in systems)


def _first_that_holds(
    document: str, plans: Iterator[Plan], width_mm: float
) -> tuple[tuple[int, ...], tuple[System, ...]]:
    """The music in the first plan that needs no further breaks; in the last one, if none does."""
    starts: tuple[int, ...] = ()
    systems: tuple[System, ...] = ()
    for starts, staff_space_mm in plans:
        systems = engrave(
            document, width_mm=width_mm, system_starts=starts, staff_space_mm=staff_space_mm
        )
        if len(systems) <= len(starts):
            break
    return starts, systems


def _plans(score: Score, bars: Sequence[Bar]) -> Iterator[Plan]:
    """Coarse plans before fine ones. A section of at least a whole system begins a new one."""
    timeline = score.timeline
    onsets = {(part.name, note.onset_beats) for part in score.parts for note in part.notes}
    struck = Counter(timeline.bar_at(onset).number for _, onset in onsets)
    events = [struck[bar.number] for bar in bars]
    symbols = [len(timeline.chords_in(bar)) for bar in bars]
    sections = {span.onset_beats: span for span in timeline.sections}
    # Chords with their accidentals and symbols are broad: eight bars of them are never legible.
    most = SYSTEM_BARS[any(part.chordal for part in score.parts) :]
    for size in most:
        starts: list[int] = []
        for index, bar in enumerate(bars):
            span = sections.get(bar.onset_beats)
            long = span is not None and span.length_beats >= size * bar.length_beats
            if not starts or index - starts[-1] >= size or long:
                starts.append(index)
        ends = (*starts[1:], len(bars))
        fits = all(
            sum(events[a:b]) <= MOST_EVENTS and sum(symbols[a:b]) <= MOST_SYMBOLS
            for a, b in zip(starts, ends, strict=True)
        )
        if fits or size == SYSTEM_BARS[-1]:
            yield tuple(starts), STAFF_SPACE_MM


def _balanced_plans(score: Score) -> Iterator[Plan]:
    """One system, then two and more that hold about as many notes each."""
    bars = score.timeline.bars
    onsets = sorted(note.onset_beats for part in score.parts for note in part.notes)
    held = [bisect_left(onsets, bar.end_beats) for bar in bars]
    fewest = max(1, -(-len(onsets) // MOST_EVENTS))
    for systems in range(fewest, len(bars) + 1):
        breaks = {_bar_after(held, len(onsets) * count / systems) for count in range(1, systems)}
        for staff_space_mm in (STAFF_SPACE_MM, SMALL_STAFF_SPACE_MM):
            yield (0, *sorted(breaks)), staff_space_mm


def _bar_after(held: Sequence[int], notes: float) -> int:
    """Index of the bar before which most nearly so many notes lie; ``held`` counts to each end."""
    return 1 + min(range(len(held) - 1), key=lambda index: abs(held[index] - notes))
