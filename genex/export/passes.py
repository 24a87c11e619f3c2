"""Repeats on paper: which passages a page writes once, and the signs around its bars.

A repeat of the chart is drawn only where all its passes are the same on paper. Where a line goes
on differently in one of them, or a turnaround changes its chords, the bars are written out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from genex.exact import Fraction
from genex.export.choruses import on_paper
from genex.score import Bar, Part, RepeatSpan, Timeline

UNDERSTOOD_TIMES = 2
"""What repeat signs mean of themselves; a passage played more often says so."""


@dataclass(frozen=True, slots=True)
class Signs:
    """The signs of repetition around a bar.

    opens           a repeat begins before the bar
    closes          a repeat sign stands after it: back to where the repeat opens
    times           how often a passage without endings is played, at the bar that closes it
    ending          number of the ending that the bar belongs to, 0 for none
    ending_begins, ending_ends  the bar is the first, or the last, of its ending
    is_last_ending  no ending follows
    """

    opens: bool = False
    closes: bool = False
    times: int = 0
    ending: int = 0
    ending_begins: bool = False
    ending_ends: bool = False
    is_last_ending: bool = False

    @property
    def is_fresh(self) -> bool:
        """Bars of two different places on the page come before it: nothing is left unsaid here."""
        return self.opens or self.ending_begins


PLAIN = Signs()


@dataclass(frozen=True, slots=True)
class PageBar:
    """A bar that stands on the page."""

    bar: Bar
    signs: Signs = PLAIN


def page_bars(timeline: Timeline, repeats: Iterable[RepeatSpan]) -> tuple[PageBar, ...]:
    """The bars as a page has them that draws these repeats of the timeline."""
    page: list[PageBar] = []
    pending = list(repeats)
    for bar in timeline.bars:
        while pending and pending[0].end_beats <= bar.onset_beats:
            pending.pop(0)
        if not pending or bar.onset_beats < pending[0].onset_beats:
            page.append(PageBar(bar))
        elif (signs := _signs(bar, pending[0])) is not None:
            page.append(PageBar(bar, signs))
    return tuple(page)


def _signs(bar: Bar, repeat: RepeatSpan) -> Signs | None:
    """The signs of a bar of a repeat; None where the page does not have the bar."""
    passes = repeat.passes
    has_endings = any(turn.has_ending for turn in passes)
    for number, turn in enumerate(passes, start=1):
        if bar.onset_beats >= turn.end_beats:
            continue
        if bar.onset_beats < turn.ending_beats:
            if number > 1:
                return None
            closes = not has_endings and bar.end_beats == turn.ending_beats
            return Signs(
                opens=bar.onset_beats == turn.onset_beats,
                closes=closes,
                times=len(passes) if closes else 0,
            )
        is_last = number == len(passes)
        ends = bar.end_beats == turn.end_beats
        return Signs(
            closes=ends and not is_last,
            ending=number,
            ending_begins=bar.onset_beats == turn.ending_beats,
            ending_ends=ends,
            is_last_ending=is_last,
        )
    return None


def drawn_repeats(timeline: Timeline, parts: Iterable[Part] = ()) -> tuple[RepeatSpan, ...]:
    """The repeats whose passes have the same bars, chords and, in all the parts, the same notes."""
    lines = tuple(parts)
    return tuple(
        repeat
        for repeat in timeline.repeats
        if _is_one_place(timeline, repeat)
        and _same_chart(timeline, repeat)
        and all(_same_notes(part, repeat) for part in lines)
    )


def _is_one_place(timeline: Timeline, repeat: RepeatSpan) -> bool:
    """Whether no section begins and no tempo changes on the way, and every pass can be told."""
    inside = [span.onset_beats for span in timeline.sections]
    inside += [change.onset_beats for change in timeline.tempo.changes]
    told = len({turn.has_ending for turn in repeat.passes}) == 1
    return told and not any(repeat.onset_beats < time < repeat.end_beats for time in inside)


def _same_chart(timeline: Timeline, repeat: RepeatSpan) -> bool:
    bodies = []
    for turn in repeat.passes:
        start, end = turn.onset_beats, turn.ending_beats
        bars = [
            (bar.onset_beats - start, bar.meter)
            for bar in timeline.bars
            if start <= bar.onset_beats < end
        ]
        chords = [
            (span.onset_beats - start, span.length_beats, span.chord)
            for span in timeline.chords
            if span.end_beats > start and span.onset_beats < end
        ]
        bodies.append((bars, chords))
    return all(body == bodies[0] for body in bodies[1:])


def _same_notes(part: Part, repeat: RepeatSpan) -> bool:
    edges = {edge for turn in repeat.passes for edge in (turn.ending_beats, turn.end_beats)}
    if _is_crossed(part, edges | {repeat.onset_beats}):
        return False
    bodies = [
        [
            on_paper(note, turn.onset_beats)
            for note in part.notes
            if turn.onset_beats <= note.onset_beats < turn.ending_beats
        ]
        for turn in repeat.passes
    ]
    return all(body == bodies[0] for body in bodies[1:])


def _is_crossed(part: Part, edges: set[Fraction]) -> bool:
    """Whether a note is tied over one of the edges, or one slides over it into the next."""
    ends = {note.written_end_beats for note in part.notes}
    return any(
        any(note.onset_beats < edge < note.written_end_beats for edge in edges)
        or (note.slide is not None and note.onset_beats in edges and note.onset_beats in ends)
        for note in part.notes
    )
