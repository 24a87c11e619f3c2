"""Repeats on paper: which passages a page writes once, and the signs around its bars.

A repeat of the chart is drawn only where all its passes are the same on paper. Where a line goes
on differently in one of them, or a turnaround changes its chords, the bars are written out.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
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
    if not timeline.repeats:
        return ()
    lines = [_Line(part, timeline) for part in parts]
    return tuple(
        repeat
        for repeat in timeline.repeats
        if _is_one_place(timeline, repeat)
        and _same_chart(timeline, repeat)
        and all(line.is_same(repeat) for line in lines)
    )


def _is_one_place(timeline: Timeline, repeat: RepeatSpan) -> bool:
    """Whether no section begins and no tempo changes on the way, and every pass can be told."""
    inside = [span.onset_beats for span in timeline.sections]
    inside += [change.onset_beats for change in timeline.tempo.changes]
    told = len({turn.has_ending for turn in repeat.passes}) == 1
    return told and not any(repeat.onset_beats < time < repeat.end_beats for time in inside)


def _same_chart(timeline: Timeline, repeat: RepeatSpan) -> bool:
    """Whether meters and chords of the body are the same in every pass."""
    bodies = []
    for turn in repeat.passes:
        start = turn.onset_beats
        first, after = (timeline.bar_at(time).number for time in (start, turn.ending_beats - _INSIDE))
        bars = timeline.bars[first - timeline.bars[0].number :][: after - first + 1]
        body: list[object] = [bar.meter for bar in bars]
        body += [(s.onset_beats - start, s.chord) for bar in bars for s in timeline.chords_in(bar)]
        # A chord that was struck before and goes on.
        opening = timeline.chord_at(start)
        body.append((opening.chord, min(opening.end_beats, turn.ending_beats) - start))
        bodies.append(body)
    return all(body == bodies[0] for body in bodies[1:])


_INSIDE = Fraction(1, 10**6)
"""A little less than the end of a bar lies in it."""


class _Line:
    """A part, made ready for being asked about many repeats.

    crossed  bar lines that a note is tied over, or slid over into the next
    """

    def __init__(self, part: Part, timeline: Timeline) -> None:
        self.notes = part.notes
        self.onsets = [note.onset_beats for note in part.notes]
        bar_lines = [bar.onset_beats for bar in timeline.bars]
        ends = {note.written_end_beats for note in part.notes}
        self.crossed = {
            bar_line
            for note in part.notes
            for bar_line in bar_lines[
                bisect_right(bar_lines, note.onset_beats) : bisect_left(
                    bar_lines, note.written_end_beats
                )
            ]
        }
        self.crossed |= {
            note.onset_beats
            for note in part.notes
            if note.slide is not None and note.onset_beats in ends
        }

    def is_same(self, repeat: RepeatSpan) -> bool:
        """Whether the body has the same notes in every pass, and none that leads out of one."""
        edges = {edge for turn in repeat.passes for edge in (turn.ending_beats, turn.end_beats)}
        if self.crossed & (edges | {repeat.onset_beats}):
            return False
        bodies = [
            [
                on_paper(note, turn.onset_beats)
                for note in self.notes[
                    bisect_left(self.onsets, turn.onset_beats) : bisect_left(
                        self.onsets, turn.ending_beats
                    )
                ]
            ]
            for turn in repeat.passes
        ]
        return all(body == bodies[0] for body in bodies[1:])
