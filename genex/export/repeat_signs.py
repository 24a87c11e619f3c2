"""Repeats on paper: what a page writes once, and the signs around its bars.

Three things are played again and are one idea: a passage between the chart's repeat signs, a
section that follows itself, and the form, which every chorus repeats. Each is a ``RepeatSpan``. It
is written once only where all its passes are the same on paper: where a line goes on differently
in one of them, or a turnaround changes its chords, the bars are written out.

Repeats lie inside of one another: endings in a chorus, a chorus of sections. Two signs never meet
on one bar line, since readers would not agree where to go back to; where they would, the page
keeps the repeats that leave fewer bars, and of equal ones the outer.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from genex.exact import Fraction
from genex.export.page_bars import signs_of
from genex.export.page_signs import BETWEEN, PLAIN, Signs
from genex.score import Bar, ChordSpan, JumpSpan, Note, Part, RepeatSpan, Timeline

_NOTHING: Mapping[Fraction, object] = {}


@dataclass(frozen=True, slots=True)
class PageBar:
    """A bar that stands on the page."""

    bar: Bar
    signs: Signs = PLAIN


@dataclass(frozen=True)
class Page:
    """The bars of a page, and how often all of it is played where choruses are alike.

    inner  the repeats with signs of their own inside of the choruses
    also   by the first bar of a section that is printed once: the first bars where it comes again
    """

    bars: tuple[PageBar, ...]
    times: int = 1
    inner: tuple[RepeatSpan | JumpSpan, ...] = ()
    also: Mapping[int, tuple[int, ...]] = field(default_factory=dict)


def full_page(timeline: Timeline, parts: Iterable[Part] = ()) -> tuple[PageBar, ...]:
    """Every bar as it is played, without signs."""
    return _with_pickup((PageBar(bar) for bar in timeline.bars), timeline, parts)


def _with_pickup(
    bars: Iterable[PageBar], timeline: Timeline, parts: Iterable[Part]
) -> tuple[PageBar, ...]:
    """The bars of a page, before them the pickup, but where all of the parts are silent in it."""
    pickup, parts = timeline.pickup_bar, list(parts)
    is_heard = not parts or any(note.onset_beats < 0 for part in parts for note in part.notes[:1])
    return (*([PageBar(pickup)] if pickup and is_heard else []), *bars)


def signed_page(timeline: Timeline, parts: Iterable[Part] = ()) -> tuple[PageBar, ...]:
    """The page that says everything with signs: choruses, sections that follow themselves, repeats."""
    parts = list(parts)
    form = chorus_repeat(timeline)
    candidates = [*section_repeats(timeline), *timeline.repeats, *([form] if form else [])]
    jumps = _drawn_jumps(timeline, timeline.length_beats, parts)
    if len(jumps) > 1:
        jumps = ()  # readers would not agree in what order several are taken
    for jump in jumps:
        # Of a repeat about a jump readers would not agree whether the jump is part of each pass.
        candidates = [c for c in candidates if not c.onset_beats <= jump.onset_beats < c.end_beats]
    bars = page_bars(timeline, _chosen(timeline, _alike(timeline, candidates, parts)), jumps)
    return _with_pickup(bars, timeline, parts)


def chart_page(timeline: Timeline, under: Mapping[Fraction, object] = _NOTHING) -> Page:
    """The page of a chart that says in words how often the form and its sections are played.

    Signs stand for the chart's own repeats only. ``under`` is what else is written with the chords,
    by onset.
    """
    page = _form_page(timeline, timeline.repeats, (), under)
    end = page.bars[-1].bar.end_beats
    jumps = _drawn_jumps(timeline, end, (), under)
    if not jumps:
        return page
    repeats = [repeat for repeat in page.inner if isinstance(repeat, RepeatSpan)]
    bars = page_bars(timeline, repeats, jumps)
    kept = tuple(entry for entry in bars if entry.bar.onset_beats < end)
    return replace(page, bars=kept, inner=(*repeats, *jumps))


def line_page(timeline: Timeline, parts: Iterable[Part]) -> Page:
    """The page of lines with a note on equal choruses: signs stand about them if none are inside."""
    parts = list(parts)
    page = _form_page(timeline, [*section_repeats(timeline), *timeline.repeats], parts)
    form = chorus_repeat(timeline)
    if page.times > 1 and not page.inner and form is not None:
        page = Page(page_bars(timeline, (form,)), page.times)
    return replace(page, bars=_with_pickup(page.bars, timeline, parts))


def printed_once(page: Page, timeline: Timeline, part: Part) -> Page:
    """The page without sections that are, on paper, an earlier one of the same name again."""
    line = _Line(part, timeline)
    begun = {section.onset_beats for section in timeline.sections}
    first_of: dict[object, int] = {}
    also: dict[int, tuple[int, ...]] = {}
    kept = [entry for entry in page.bars if entry.bar.is_pickup]
    for section in timeline.sections:
        start, end = section.onset_beats, section.onset_beats + section.length_beats
        entries = [entry for entry in page.bars if start <= entry.bar.onset_beats < end]
        whole = len(entries) == len(timeline.bars_between(start, end))
        plain = whole and all(entry.signs == PLAIN for entry in entries)
        if not entries or not plain or line.crossed & {start, end}:
            kept += entries
            continue
        body = _chart_body(timeline, start, end, begun, _NOTHING)
        content = (section.name, tuple(map(str, body)), tuple(line.body(start, end)))
        number = entries[0].bar.number
        if content in first_of:
            first = first_of[content]
            also[first] = (*also.get(first, ()), number)
        else:
            first_of[content] = number
            kept += entries
    return replace(page, bars=tuple(kept), also=also)


def _form_page(
    timeline: Timeline,
    repeats: Sequence[RepeatSpan],
    parts: Iterable[Part],
    under: Mapping[Fraction, object] = _NOTHING,
) -> Page:
    """The first of choruses that are alike, or all bars, with the signs of repeats inside."""
    form = chorus_repeat(timeline)
    alike = _alike(timeline, [*repeats, *([form] if form else [])], parts, under)
    once = form if form in alike else None
    end = once.passes[0].end_beats if once else timeline.length_beats
    inner = _chosen(timeline, [r for r in alike if r is not once and r.end_beats <= end])
    bars = tuple(entry for entry in page_bars(timeline, inner) if entry.bar.onset_beats < end)
    return Page(bars, len(once.passes) if once else 1, tuple(inner))


def chorus_repeat(timeline: Timeline) -> RepeatSpan | None:
    """The choruses as passes of one repeat over the form; None where they are not all of the piece."""
    count = timeline.bars[-1].chorus
    length = timeline.length_beats / count
    starts = {bar.chorus: bar.onset_beats for bar in reversed(timeline.bars)}
    if count < 2 or starts != {chorus: (chorus - 1) * length for chorus in range(1, count + 1)}:
        return None
    return RepeatSpan(Fraction(0), length, (Fraction(0),) * count)


def section_repeats(timeline: Timeline) -> list[RepeatSpan]:
    """The runs of sections of one name and length within a chorus, each as a repeat."""
    found = []
    for _, run in groupby(timeline.sections, key=lambda s: (s.chorus, s.name, s.length_beats)):
        first, *more = run
        if more:
            endings = (Fraction(0),) * (1 + len(more))
            found.append(RepeatSpan(first.onset_beats, first.length_beats, endings))
    return found


def page_bars(
    timeline: Timeline, repeats: Iterable[RepeatSpan], jumps: Sequence[JumpSpan] = ()
) -> tuple[PageBar, ...]:
    """The bars as a page has them that draws these repeats, whose signs never meet, and jumps."""
    page: list[PageBar] = []
    pending = sorted(repeats, key=lambda repeat: repeat.onset_beats, reverse=True)
    around: list[RepeatSpan] = []
    behind = [_ends_before(timeline, jump) for jump in jumps]
    for bar in timeline.bars:
        around = [repeat for repeat in around if bar.onset_beats < repeat.end_beats]
        while pending and pending[-1].onset_beats <= bar.onset_beats:
            around.append(pending.pop())
        found = [_signs(bar, repeat) for repeat in around]
        found += [_jump_signs(bar, *one) for one in zip(jumps, behind, strict=True)]
        signs = PLAIN
        for one in found:
            if one is None:
                break
            signs = signs.beside(one)
        else:
            page.append(PageBar(bar, signs))
    return tuple(page)


def jump_signs(timeline: Timeline) -> dict[Fraction, Signs]:
    """The signs of all jumps, by the onset of the bar that has some, on a page with all bars as played.

    Bars that are played again have none: the page goes on with them.
    """
    found: dict[Fraction, Signs] = {}
    for jump in timeline.jumps:
        behind = _ends_before(timeline, jump)
        first_time = timeline.bars_between(jump.target_beats, jump.onset_beats)
        for bar in (*first_time, timeline.bar_at(jump.end_beats)):
            signs = _jump_signs(bar, jump, behind) or PLAIN
            if signs != PLAIN:
                found[bar.onset_beats] = found.get(bar.onset_beats, PLAIN).beside(signs)
    return found


def _ends_before(timeline: Timeline, jump: JumpSpan) -> frozenset[Fraction]:
    """Ends of the bars that may be the last on a page before a jump: where a repeat without endings
    comes before it, a page with signs has only the first pass."""
    onset = jump.onset_beats
    around = [repeat for repeat in timeline.repeats if repeat.onset_beats < onset == repeat.end_beats]
    plain = [repeat for repeat in around if not any(turn.has_ending for turn in repeat.passes)]
    return frozenset({onset, *(repeat.passes[0].end_beats for repeat in plain)})


def _jump_signs(bar: Bar, jump: JumpSpan, behind: frozenset[Fraction]) -> Signs | None:
    """The signs of a jump around a bar; None where the bar is played again.

    The jump itself stands behind a bar that ends at one of the times ``behind``.
    """
    if jump.onset_beats <= bar.onset_beats < jump.end_beats:
        return None
    leaves = bar.end_beats in (jump.leave_beats, *jump.also_leave_beats)
    said = [jump.leave_name] if jump.leave_name and leaves else []
    if bar.end_beats in behind:
        said.append(jump.name)
    return Signs(
        segno=jump.has_segno and bar.onset_beats == jump.target_beats,
        coda=jump.has_coda and bar.onset_beats == jump.end_beats,
        said=BETWEEN.join(said),
    )


def _drawn_jumps(
    timeline: Timeline,
    end_beats: Fraction,
    parts: Iterable[Part],
    under: Mapping[Fraction, object] = _NOTHING,
) -> tuple[JumpSpan, ...]:
    """The jumps before the end of a page, if what all of them play again is the same on paper."""
    parts = list(parts)
    jumps = tuple(jump for jump in timeline.jumps if jump.onset_beats < end_beats)
    return jumps if all(_plays_alike(timeline, jump, parts, under) for jump in jumps) else ()


def _plays_alike(
    timeline: Timeline, jump: JumpSpan, parts: Iterable[Part], under: Mapping[Fraction, object]
) -> bool:
    """Whether all bars played again are, in chart and parts, those of the first time."""
    lines = [_Line(part, timeline) for part in parts]
    edges = {jump.target_beats, jump.leave_beats, jump.onset_beats, jump.end_beats}
    if any(line.crossed & edges for line in lines):
        return False
    if not _goes_alike(timeline, jump):
        return False
    again = timeline.bars_between(jump.onset_beats, jump.end_beats)
    for onset, bar in zip(jump.again_beats, again, strict=True):
        first = timeline.bar_at(onset)
        bodies = [
            (
                [_written(span, one.onset_beats, under) for span in timeline.chords_in(one)],
                [line.body(one.onset_beats, one.end_beats) for line in lines],
            )
            for one in (first, bar)
        ]
        if bodies[0] != bodies[1] or (first.meter, first.hits) != (bar.meter, bar.hits):
            return False
    return True


def _goes_alike(timeline: Timeline, jump: JumpSpan) -> bool:
    """Whether all bars played again have the tempo of the first time, and the jump leads to none that
    is another than that before it."""
    tempo = timeline.tempo
    changes = {change.onset_beats: change.tempo_bpm for change in tempo.changes}

    def inside(bar: Bar) -> list[tuple[Fraction, Fraction]]:
        start, end = bar.onset_beats, bar.end_beats
        return [(onset - start, bpm) for onset, bpm in changes.items() if start < onset < end]

    if jump.onset_beats in changes:
        return False
    again = timeline.bars_between(jump.onset_beats, jump.end_beats)
    firsts = map(timeline.bar_at, jump.again_beats)
    return all(
        tempo.tempo_at(first.onset_beats) == tempo.tempo_at(bar.onset_beats)
        and inside(first) == inside(bar)
        and (first.onset_beats in changes or bar.onset_beats not in changes)
        for first, bar in zip(firsts, again, strict=True)
    )


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


def _chosen(timeline: Timeline, repeats: Sequence[RepeatSpan]) -> list[RepeatSpan]:
    """Those of the repeats that leave fewest bars on the page, without two signs on one bar line."""

    def choose(among: Sequence[RepeatSpan]) -> tuple[int, list[RepeatSpan]]:
        """Bars that are not written, and the repeats that save them."""
        saved, chosen = 0, list[RepeatSpan]()
        reached = Fraction(0)
        for outer in sorted(among, key=lambda repeat: (repeat.onset_beats, -repeat.end_beats)):
            if outer.onset_beats < reached:
                continue
            reached = outer.end_beats
            first, *later = outer.passes
            own = sum(len(timeline.bars_between(t.onset_beats, t.ending_beats)) for t in later)
            inside = [
                repeat
                for repeat in among
                if repeat is not outer
                and outer.onset_beats <= repeat.onset_beats
                and repeat.end_beats <= outer.end_beats
            ]
            apart = choose(inside)
            nested = choose(
                [
                    repeat
                    for repeat in inside
                    if outer.onset_beats < repeat.onset_beats and repeat.end_beats < first.ending_beats
                ]
            )
            better = (own + nested[0], [outer, *nested[1]])
            if apart[0] > better[0]:
                better = apart
            saved += better[0]
            chosen += better[1]
        return saved, chosen

    return choose(repeats)[1]


def _alike(
    timeline: Timeline,
    repeats: Iterable[RepeatSpan],
    parts: Iterable[Part],
    under: Mapping[Fraction, object] = _NOTHING,
) -> list[RepeatSpan]:
    """The repeats whose passes have the same bars, chords and, in all the parts, the same notes."""
    lines = [_Line(part, timeline) for part in parts]
    begun = {section.onset_beats for section in timeline.sections}
    return [
        repeat
        for repeat in repeats
        if _has_one_tempo(timeline, repeat)
        and _has_one_chart(timeline, repeat, begun, under)
        and all(line.is_same(repeat) for line in lines)
    ]


def _has_one_tempo(timeline: Timeline, repeat: RepeatSpan) -> bool:
    """Whether the tempo is the same in all passes and changes in none of their endings; passes of which
    only some have an ending cannot be told."""
    tempo = timeline.tempo
    told = len({turn.has_ending for turn in repeat.passes}) == 1
    bodies = {
        (
            tempo.tempo_at(turn.onset_beats),
            tempo.tempo_at(turn.ending_beats) if turn.has_ending else None,
            *(
                (change.onset_beats - turn.onset_beats, change.tempo_bpm)
                for change in tempo.changes
                if turn.onset_beats < change.onset_beats < turn.end_beats
            ),
        )
        for turn in repeat.passes
    }
    return told and len(bodies) == 1


def _has_one_chart(
    timeline: Timeline,
    repeat: RepeatSpan,
    begun: Collection[Fraction],
    under: Mapping[Fraction, object],
) -> bool:
    """Whether meters, chords and sections (they begin at ``begun``) are the same in every body."""
    bodies = []
    for turn in repeat.passes:
        bodies.append(_chart_body(timeline, turn.onset_beats, turn.ending_beats, begun, under))
    return all(body == bodies[0] for body in bodies[1:])


def _written(span: ChordSpan, start: Fraction, under: Mapping[Fraction, object]) -> tuple[object, ...]:
    """What a chart writes for a chord, in times from ``start``."""
    said = span.chord, span.push_beats, span.optional, under.get(span.onset_beats)
    return span.onset_beats - start, *said


def _chart_body(
    timeline: Timeline,
    start: Fraction,
    end: Fraction,
    begun: Collection[Fraction],
    under: Mapping[Fraction, object],
) -> list[object]:
    """What a chart writes from ``start`` to ``end``, in times from there."""
    body: list[object] = []
    for bar in timeline.bars_between(start, end):
        body.append(
            (bar.meter, bar.hits, bar.section, bar.onset_beats != start and bar.onset_beats in begun)
        )
        body += [_written(span, start, under) for span in timeline.chords_in(bar)]
    # A chord that was struck before and goes on.
    opening = timeline.chord_at(start)
    body.append((opening.chord, min(opening.end_beats, end) - start))
    return body


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
        bodies = [self.body(turn.onset_beats, turn.ending_beats) for turn in repeat.passes]
        return all(body == bodies[0] for body in bodies[1:])

    def body(self, start: Fraction, end: Fraction) -> list[tuple[object, ...]]:
        """What stands on paper for the notes from ``start`` to ``end``."""
        first, last = bisect_left(self.onsets, start), bisect_left(self.onsets, end)
        return [_on_paper(note, start) for note in self.notes[first:last]]


def _on_paper(note: Note, start: Fraction) -> tuple[object, ...]:
    """What stands on paper for a note, with its onset from ``start`` of its pass.

    How the hand comes to the first note differs from the first time to the next and is left out.
    """
    place = note.fretting
    where = (place.string, place.fret, place.finger) if place else None
    return (
        note.onset_beats - start,
        note.duration_beats,
        note.pitch,
        signs_of(note),
        where,
    )
