"""Bars dealt to systems, so that a line of music is full and legible."""

from __future__ import annotations

from genex.score import Score

SYSTEM_BARS = (8, 4, 2, 1)
MOST_EVENTS = 34
"""Notes that one system of page width holds legibly, about five millimetres each."""

MOST_SYMBOLS = 10
"""Chord symbols that one system holds without touching each other."""


def system_starts(score: Score) -> tuple[int, ...]:
    """Indices of the bars that begin a system: eight, four, two or one bars, as they hold.

    A section of at least a whole system begins a new one.
    """
    timeline = score.timeline
    bars = timeline.bars
    events = [0] * len(bars)
    for part in score.parts:
        for note in part.notes:
            events[timeline.bar_at(note.onset_beats).number - bars[0].number] += 1
    symbols = [len(timeline.chords_in(bar)) for bar in bars]
    sections = {span.onset_beats: span for span in timeline.sections}
    for size in SYSTEM_BARS:
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
            return tuple(starts)
    raise AssertionError("one bar a system always returns")
