"""Bars dealt to systems, so that a line of music is full and legible."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from xml.etree.ElementTree import Element

from genex.errors import GenexError
from genex.exact import Fraction
from genex.export.chord_chart import named_by_chord
from genex.export.engraved_rows import System
from genex.export.engraving import STAFF_SPACE_MM, engrave
from genex.export.repeat_signs import PageBar
from genex.score import Bar, Score, SectionSpan

SYSTEM_BARS = (8, 4, 2, 1)
MOST_EVENTS = 34
"""Notes or chords that one system of page width holds legibly, about five millimetres each at the usual
size of the staff; of smaller staves as many more."""

LEFT_OVER = 1 / 3
"""A last system with less than that share of what the others of its section hold is spared: it would be
stretched over the page for next to nothing."""

SHORT_SECTIONS = 4
"""Bars of sections that share a system."""

MOST_SYMBOLS = 10
"""Chord symbols that one system holds without touching each other."""

USUAL_WIDTH_MM = 176.0
"""The width of a page for which these are."""

MOST_SPREAD = 4.0
"""Bars of long notes and many symbols are set wider, up to so many times as wide."""

SMALL_STAFF_SPACE_MM = 1.35
"""For a line that would just not fit: a staff 5.4 mm high is still a usual size."""

SHORT_HEAD_MM, SHORT_NOTE_MM = 14.0, 6.8
"""What clef and meter, and a note of a practice path with its accidental, take of a system at the most
[measured: 804 paths of 12 types on 12 roots, the widest of 19 notes 136 mm]."""


@dataclass(frozen=True, slots=True)
class Line:
    """An engraved system; ``section`` is the name to set above it, ``also`` where it comes again."""

    system: System
    section: str = ""
    also: str = ""


class CrowdedError(GenexError):
    """Two things would cover each other on a sheet; smaller or larger music may be clear."""


Plan = tuple[tuple[int, ...], float]
"""Indices of the bars that begin a system, and the distance of staff lines in millimetres."""


def engrave_lines(
    document: str | Element,
    score: Score,
    page: Sequence[PageBar],
    width_mm: float,
    *,
    staff_space_mm: float = STAFF_SPACE_MM,
    also: Mapping[int, str] | None = None,
) -> tuple[Line, ...]:
    """A document of the bars of a page in systems of eight, four, two or one bars, as they hold.

    A system that would be broken, or in which two things would cover each other, is set in two
    halves. ``also`` says by a bar's number where its section comes again. Raises CrowdedError with the
    bar where even a bar of its own does not help.
    """
    bars = [entry.bar for entry in page]
    begun = {bar.onset_beats for bar in bars}
    sections = [span for span in score.timeline.sections if span.onset_beats in begun]
    by_chord = named_by_chord(score.timeline)
    names = {
        span.onset_beats: f"{span.name} ({span.chorus})" if span.chorus > 1 else span.name
        for span in sections
        if (len(sections) > 1 or also) and span.name.strip() and span.onset_beats not in by_chord
    }
    share = min(1.0, width_mm / USUAL_WIDTH_MM)
    own = {index for index, bar in enumerate(bars) if bar.number in (also or {})}
    starts = _starts(score, bars, share, share * STAFF_SPACE_MM / staff_space_mm, own)
    spread = 1.0
    while True:
        systems = engrave(
            document,
            width_mm=width_mm,
            system_starts=starts,
            staff_space_mm=staff_space_mm,
            stretched=True,  # no system is narrower than the page beside empty paper
            spread=spread,
        )
        wrong = _crowded(starts, systems, len(bars))
        if wrong:
            starts = tuple(sorted({*starts, *wrong}))
        elif any(system.collisions for system in systems) and spread < MOST_SPREAD:
            spread *= 2
        else:
            break
    _require_clear(systems, [bar.number for bar in bars])
    first_bars = [bars[first] for first in _firsts(systems)]
    return tuple(
        Line(system, names.get(max(Fraction(0), bar.onset_beats), ""), (also or {}).get(bar.number, ""))
        for system, bar in zip(systems, first_bars, strict=True)
    )


def _firsts(systems: Sequence[System]) -> list[int]:
    """The index of the first bar of each system."""
    return [0, *accumulate(system.bars for system in systems)][:-1]


def _crowded(starts: Sequence[int], systems: Sequence[System], count: int) -> set[int]:
    """Where to break anew: in the middle of what did not hold, or in which something meets."""
    found = set()
    firsts = _firsts(systems)
    planned = dict(pairwise((*starts, count)))
    for first, system in zip(firsts, systems, strict=True):
        begin = starts[bisect_right(starts, first) - 1]
        length = planned[begin] - begin
        if length > 1 and (first not in planned or system.collisions):
            found.add(begin + (length + 1) // 2)
    return found


def _require_clear(systems: Sequence[System], numbers: Sequence[int]) -> None:
    for first, system in zip(_firsts(systems), systems, strict=True):
        for collision in system.collisions:
            raise CrowdedError(
                f"the sheet cannot be set: in bar {numbers[first + max(0, collision.measure)]} "
                f"{collision}",
                hint="leave the handout out, or write fewer notes or chords into the bar",
            )


def engrave_path(document: str | Element, score: Score, width_mm: float) -> tuple[Line, ...]:
    """A short line in one system, a little smaller if need be, else in systems of equal length."""
    systems: tuple[System, ...] = ()
    notes = sum(len(part.notes) for part in score.parts)
    is_short = SHORT_HEAD_MM + SHORT_NOTE_MM * notes <= width_mm
    for starts, staff_space_mm in _balanced_plans(score):
        systems = engrave(
            document,
            width_mm=width_mm,
            system_starts=starts,
            staff_space_mm=staff_space_mm,
            is_short=is_short and len(starts) == 1,
        )
        if len(systems) <= len(starts) and not any(system.collisions for system in systems):
            break
    _require_clear(systems, [bar.number for bar in score.timeline.bars])
    return tuple(Line(system) for system in systems)


def _starts(
    score: Score, bars: Sequence[Bar], share: float, of_notes: float, own: Collection[int] = ()
) -> tuple[int, ...]:
    """Systems of eight bars, halved where they hold too much. A long section begins a new one.

    A pickup stands before the first. ``share`` is what the width is of the usual one, ``of_notes`` what
    it holds of their notes, ``own`` bars that begin a system of their own with their section.
    """
    if len(bars) > 1 and bars[0].is_pickup:
        behind = {index - 1 for index in own}
        return (0, *(at + 1 for at in _starts(score, bars[1:], share, of_notes, behind)[1:]))
    timeline = score.timeline
    onsets = {(part.name, note.onset_beats) for part in score.parts for note in part.notes}
    struck = Counter(timeline.bar_at(onset).number for _, onset in onsets)
    events = [struck[bar.number] for bar in bars]
    symbols = [len(timeline.chords_in(bar)) for bar in bars]
    sections = {span.onset_beats: span for span in timeline.sections}

    def holds(first: int, end: int) -> bool:
        return (
            sum(events[first:end]) <= MOST_EVENTS * of_notes
            and sum(symbols[first:end]) <= MOST_SYMBOLS * share
        )

    # The longest systems that most bars can be set in; they give the page its measure.
    # Chords with their accidentals and symbols are broad: eight bars of them are never legible.
    blocks = _joined(_blocks(bars, sections), holds, own)
    for size in SYSTEM_BARS[any(part.chordal for part in score.parts) :]:
        starts = [at for first, end in blocks for at in range(first, end, size)]
        ends = [*starts[1:], len(bars)]
        full = [holds(a, b) for a, b in zip(starts, ends, strict=True)]
        if 3 * sum(full) >= 2 * len(full) or size == SYSTEM_BARS[-1]:
            break
    found: list[int] = []
    for begin, stop in blocks:
        pieces = [(at, min(at + size, stop)) for at in range(begin, stop, size)]
        while any(b - a > 1 and not holds(a, b) for a, b in pieces):
            pieces = [half for a, b in pieces for half in _halved(a, b, holds(a, b))]
        held = [sum(events[a:b]) for a, b in pieces]
        if len(pieces) > 1 and held[-1] < LEFT_OVER * sum(held[:-1]) / (len(pieces) - 1):
            pieces = _without_the_last(pieces, holds)
        found += [a for a, _ in pieces]
    return tuple(found)


def _without_the_last(
    pieces: Sequence[tuple[int, int]], holds: Callable[[int, int], bool]
) -> list[tuple[int, int]]:
    """A section's systems, the last of which holds next to nothing: that in the one before, else bars
    dealt evenly."""
    *others, (before, _), (_, stop) = pieces
    if holds(before, stop):
        return [*others, (before, stop)]
    begin, count = pieces[0][0], len(pieces)
    edges = [begin + -(-(stop - begin) * at // count) for at in range(count + 1)]
    even = list(pairwise(edges))
    return even if all(b - a <= 1 or holds(a, b) for a, b in even) else list(pieces)


def _halved(first: int, end: int, holds: bool) -> list[tuple[int, int]]:
    middle = first + (end - first + 1) // 2
    return [(first, end)] if holds or end - first < 2 else [(first, middle), (middle, end)]


def _joined(
    blocks: Sequence[tuple[int, int]], holds: Callable[[int, int], bool], own: Collection[int]
) -> list[tuple[int, int]]:
    """Sections of two or three bars in pairs that make a system of four: alone they would be stretched
    over the page. Not those, by their first bars in ``own``, that have more over them than a name."""
    found: list[tuple[int, int]] = []
    for begin, stop in blocks:
        before = found[-1][0] if found else begin
        fits = before < begin and stop - before <= SHORT_SECTIONS and holds(before, stop)
        if fits and begin not in own:
            found[-1] = before, stop
        else:
            found.append((begin, stop))
    return found


def _blocks(bars: Sequence[Bar], sections: Mapping[Fraction, SectionSpan]) -> list[tuple[int, int]]:
    """Runs of bars that systems do not cross: sections of two bars and more."""
    starts = [0]
    for index, bar in enumerate(bars):
        span = sections.get(bar.onset_beats)
        if index and span is not None and span.length_beats >= 2 * bar.length_beats:
            starts.append(index)
    return list(pairwise((*starts, len(bars))))


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
