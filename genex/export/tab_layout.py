"""Where everything stands on a line of tab.

A line (``System``) holds 4, 2 or 1 bars of one section, or a piece of a bar that is too wide. All
its columns come from one scale, ``columns_per_beat``: the smallest that leaves every text its
room, then widened while the page allows.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

from genex.exact import Fraction
from genex.export.hand_marks import hand_sign
from genex.export.metric_values import values_at
from genex.export.note_names import namer, note_name
from genex.export.note_values import is_counted, letters
from genex.export.page_bars import Event, Measure
from genex.export.phrases import words
from genex.export.tab_signs import ARTICULATIONS, LEGATO, STROKES, Marks, after_fret, bar_heading
from genex.export.tempo_words import TempoSigns
from genex.export.text_canvas import TextCanvas
from genex.score import PUSH_SIGN, Articulation, Bar, Note, Timeline
from genex.theory import Chord, Pitch

BARS_A_LINE = (4, 2, 1)
NARROWEST_STEP = 3
"""Columns between neighbouring notes, at least."""
WIDEST_STEP = 4
"""Columns between the closest notes of a line, at most, when it is widened to the page."""
COLUMNS_PER_BEAT = 4
"""The scale for lines of long notes."""
EXACT_SCALE = 12
"""Columns per beat up to which onsets keep exactly proportional columns: sixteenths and triplets."""


@dataclass(frozen=True, slots=True)
class TabStyle:
    """What the page wants: its width in columns, and which rows to print.

    changes       for a part of chords the onsets at which the hand changes: there stand its fingers,
                  read from the lowest string; None for a single line
    show_strokes  the way of every strum
    language      of words and names of notes
    """

    width: int
    show_degrees: bool
    show_fingers: bool
    changes: frozenset[Fraction] | None = None
    show_strokes: bool = False
    language: str = "en"


@dataclass(frozen=True)
class System:
    """A finished line of tab: its rows of text and the signs in it."""

    lines: tuple[str, ...]
    marks: frozenset[Marks]
    letters: frozenset[str]


@dataclass
class _Cell:
    """What stands in one column, ``at`` beats from the start of the segment.

    ``before`` maps strings to the sign in the column left of the fret.
    """

    at: Fraction
    value: str
    frets: dict[int, str] = field(default_factory=dict)
    before: dict[int, str] = field(default_factory=dict)
    articulation: str = ""
    stroke: str = ""
    finger: str = ""
    move: str = ""
    degree: str = ""
    count: str = ""

    @cached_property
    def width(self) -> int:
        """Columns of the widest text, the sign before it not counted, once all is written."""
        texts = (
            self.value,
            *self.frets.values(),
            self.articulation,
            self.finger,
            self.move,
            self.degree,
            self.count,
        )
        return max(map(len, texts))

    @property
    def lead(self) -> int:
        return 1 if self.before else 0


@dataclass
class _Segment:
    """A bar, or the piece of a wide bar that begins ``from_beats`` into it."""

    bar: Bar
    from_beats: Fraction
    length_beats: Fraction
    cells: list[_Cell]
    chords: list[tuple[Fraction, str]]
    heading: str
    is_last_of_bar: bool

    @property
    def is_first_of_bar(self) -> bool:
        return self.from_beats == 0

    @cached_property
    def least_scale(self) -> Fraction:
        """The least columns per beat that give every text its room."""
        return max(Fraction(columns) / beats for beats, columns in self._needs())

    @cached_property
    def grid(self) -> int:
        """Columns per beat of which every onset has a whole number."""
        times = (self.length_beats, *(cell.at for cell in self.cells))
        return math.lcm(*(time.denominator for time in times))

    def _needs(self) -> Iterator[tuple[Fraction, int]]:
        """``(beats, columns)``: how much room each stretch of time must have at least."""
        yield Fraction(2), COLUMNS_PER_BEAT
        for cell, after in pairwise(self.cells):
            yield after.at - cell.at, max(NARROWEST_STEP, cell.width + 1) + after.lead
        if self.cells:
            last = self.cells[-1]
            yield self.length_beats - last.at, max(2, last.width + 1)
        ends = [at for at, _ in self.chords[1:]] + [self.length_beats]
        for (at, name), end in zip(self.chords, ends, strict=True):
            yield end - at, len(name) + 1
        yield self.length_beats, len(self.heading) + 1


def lay_out(
    bars: Sequence[Measure], strings: Sequence[Pitch], timeline: Timeline, style: TabStyle
) -> list[System]:
    """The lines of tab of a part."""
    names = string_names(strings, words(style.language))
    signs = TempoSigns(timeline, timeline.bars)
    margin = max(len(name) for name in names) + 1
    room = style.width - margin - 1
    cells = _bar_cells(bars, style)
    segments = []
    for measure, row in zip(bars, cells, strict=True):
        segments += _segments(measure.bar, row, timeline, room, style, signs)
    groups = list(_lines(segments, room, timeline))
    return [
        _draw(group, names, margin, room, timeline, is_end=group is groups[-1], style=style)
        for group in groups
    ]


def string_names(strings: Sequence[Pitch], phrases: Mapping[str, str] | None = None) -> list[str]:
    """Names for the left edge, string 1 first; English ones without ``phrases``.

    Lower case are string 1 where a lower string shares its name (e B G D A E), and a re-entrant
    string, one that sounds higher than a string nearer to the first (A E C g).
    """
    named = words() if phrases is None else phrases
    names = [note_name(pitch.name, named) for pitch in strings]
    midis = [pitch.midi for pitch in strings]
    shown = []
    for index, name in enumerate(names):
        twin = index == 0 and name in names[1:]
        re_entrant = any(midis[index] > higher for higher in midis[:index])
        shown.append(name.lower() if twin or re_entrant else name)
    return shown


def _bar_cells(bars: Sequence[Measure], style: TabStyle) -> list[list[_Cell]]:
    """The cells of each bar; hand movements need the note before, also across bar lines."""
    rows = []
    before: Note | None = None
    for measure in bars:
        row = []
        for event in measure.events:
            cell = _cell(event, measure.bar, style)
            if event.notes and not event.tied_from:
                if style.changes is not None and event.onset_beats not in style.changes:
                    cell.finger = cell.degree = ""  # the hand holds them already
                if style.show_fingers:
                    cell.move = hand_sign(before, event.notes[0])
                before = event.notes[0]
            row.append(cell)
        rows.append(row)
    return rows


def _cell(event: Event, bar: Bar, style: TabStyle) -> _Cell:
    start = event.onset_beats - bar.onset_beats
    cell = _Cell(start, "")
    value = letters(
        values_at(event.onset_beats - bar.counted_from, event.duration_beats, bar.meter),
        event.duration_beats,
    )
    if not event.notes:
        cell.value = "rest" if event.fills_bar else f"r{value}"
        return cell
    cell.value = value + ("~" if event.tied_to else "")
    for note in event.notes:
        place = note.fretting
        assert place is not None, "checked by tab_text"
        fret = "x" if note.articulation is Articulation.DEAD else str(place.fret)
        cell.frets[place.string] = f"{fret})" if event.tied_from else fret
        if event.tied_from:
            cell.before[place.string] = "("
        else:
            cell.frets[place.string] = fret + after_fret(note, place.fret)
            if note.slide:
                cell.before[place.string] = "/" if note.slide.from_semitones < 0 else "\\"
            elif note.legato:
                cell.before[place.string] = LEGATO[note.legato]
    first = event.notes[0]
    if event.tied_from:
        return cell
    cell.articulation = ARTICULATIONS.get(first.articulation, "") + "L" * first.rings
    cell.count = first.syllable
    up = 1 if style.changes is None else -1  # grips are read from the lowest string
    notes = sorted(event.notes, key=lambda note: up * note.fretting.string if note.fretting else 0)
    if style.show_strokes and first.stroke is not None:
        cell.stroke = STROKES[first.stroke]
    if style.show_fingers:
        cell.finger = "".join(
            str(note.fretting.finger)
            for note in notes
            if note.fretting and note.fretting.finger is not None
        )
    if style.show_degrees:
        cell.degree = " ".join(str(note.degree) for note in notes if note.degree is not None)
    return cell


def _segments(
    bar: Bar,
    cells: list[_Cell],
    timeline: Timeline,
    room: int,
    style: TabStyle,
    signs: TempoSigns,
) -> list[_Segment]:
    """The bar as one segment; where it is too wide, cut into equal groups of pulses.

    Where even these do not fit, or one would be empty, the bar is cut before whatever note or
    chord no longer fits.
    """

    def cut(cuts: Sequence[Fraction]) -> list[_Segment]:
        return [_piece(bar, cells, timeline, a, b, named, signs) for a, b in pairwise(cuts)]

    named = namer(words(style.language))

    pulses = bar.meter.pulses
    for size in range(len(pulses), 0, -1):
        found = cut([*pulses[::size], bar.length_beats])
        if all(piece.cells and _width([piece], _scale([piece])) <= room for piece in found):
            return found
    cuts = [Fraction(0)]
    chords = {span.onset_beats - bar.onset_beats for span in timeline.chords_in(bar)}
    onsets = sorted(chords | {cell.at for cell in cells})
    for at, after in pairwise([*onsets, bar.length_beats]):
        piece = cut([cuts[-1], after])
        if at > cuts[-1] and _width(piece, math.ceil(_least_scale(piece))) > room:
            cuts.append(at)
    return cut([*cuts, bar.length_beats])


def _piece(
    bar: Bar,
    cells: list[_Cell],
    timeline: Timeline,
    start: Fraction,
    end: Fraction,
    named: Callable[[Chord], str],
    signs: TempoSigns,
) -> _Segment:
    inside = [replace(cell, at=cell.at - start) for cell in cells if start <= cell.at < end]
    opening = timeline.chord_at(bar.onset_beats + start)
    chords = [(Fraction(0), opening)]
    chords += [
        (span.onset_beats - bar.onset_beats - start, span)
        for span in timeline.chords_in(bar)
        if start < span.onset_beats - bar.onset_beats < end
    ]
    here = bar.onset_beats + start
    names = [
        (at, label(s, named))
        for at, s in chords
        for label in [timeline.written_label if here + at == s.onset_beats else timeline.chord_label]
    ]
    if bar.is_pickup:
        names = [(Fraction(0), "")]
    heading = bar_heading(bar, timeline, signs) if start == 0 else f"({bar.number})"
    return _Segment(bar, start, end - start, inside, names, heading, end == bar.length_beats)


def _lines(segments: list[_Segment], room: int, timeline: Timeline) -> Iterator[list[_Segment]]:
    """Segments grouped into lines: 4, 2 or 1 bars of one section, a pickup before the first."""
    section_starts = {section.onset_beats for section in timeline.sections}
    at = 0
    while at < len(segments):
        before = sum(segment.bar.is_pickup for segment in segments[at:])
        for size in BARS_A_LINE:
            count = size + before
            group = segments[at : at + count]
            if count > 1:
                opens = any(s.bar.onset_beats in section_starts for s in group[1 + before :])
                split = any(not (s.is_first_of_bar and s.is_last_of_bar) for s in group)
                if opens or split or len(group) < count:
                    continue
            if count == 1 or _width(group, _scale(group)) <= room:
                break
        yield group
        at += len(group)


def _least_scale(group: Sequence[_Segment]) -> Fraction:
    """The least columns per beat that give every text its room."""
    return max(segment.least_scale for segment in group)


def _scale(group: Sequence[_Segment]) -> int:
    """Columns per beat that give every text its room and keep every onset exactly in proportion.

    Where that would more than double the line (say quintuplets beside triplets), columns are
    rounded instead.
    """
    least = _least_scale(group)
    grid = _grid(group)
    exact = grid * math.ceil(least / grid)
    return exact if exact <= EXACT_SCALE or exact <= 2 * least else math.ceil(least)


def _grid(group: Sequence[_Segment]) -> int:
    return math.lcm(*(segment.grid for segment in group))


def _page_scale(group: Sequence[_Segment], room: int) -> int:
    """The scale that a line is drawn with: widened evenly while the page and the eye allow."""
    scale = _scale(group)
    if _width(group, scale) > room:
        return math.ceil(_least_scale(group))
    grid = _grid(group)
    step = grid if scale % grid == 0 else 1
    steps = [b.at - a.at for segment in group for a, b in pairwise(segment.cells)]
    closest = min([Fraction(1), *steps])
    while (scale + step) * closest <= WIDEST_STEP and _width(group, scale + step) <= room:
        scale += step
    return scale


def _lead(group: Sequence[_Segment]) -> int:
    """Columns between a bar line and the first note; one more where a sign stands before it."""
    return 2 if any(segment.cells and segment.cells[0].lead for segment in group) else 1


def _width(group: Sequence[_Segment], scale: int) -> int:
    """Columns of a line right of its first bar line, the last bar line included."""
    return sum(_lead(group) + math.ceil(s.length_beats * scale) + 1 for s in group) + 1


def _columns(segment: _Segment, scale: int) -> list[int]:
    """Columns of the cells from the first note's column; rounding never squeezes a text."""
    found: list[int] = []
    for index, cell in enumerate(segment.cells):
        column = math.floor(cell.at * scale + Fraction(1, 2))
        if index:
            before = segment.cells[index - 1]
            column = max(column, found[-1] + before.width + 1 + cell.lead)
        found.append(column)
    return found


def _draw(
    group: list[_Segment],
    names: list[str],
    margin: int,
    room: int,
    timeline: Timeline,
    *,
    is_end: bool,
    style: TabStyle,
) -> System:
    scale = _page_scale(group, room)
    lead = _lead(group)
    width = _width(group, scale)
    tab = TextCanvas(len(names), "-", width)
    rows = {name: TextCanvas(1, " ", width) for name in _ABOVE + _BELOW}
    marks: set[Marks] = set()
    written: set[str] = set()
    column = 0
    shown = ""
    for segment in group:
        for string in range(len(names)):
            tab.put(string, column, "|" if segment.is_first_of_bar else ":")
        rows["heading"].put(0, column, segment.heading)
        first = column + 1 + lead
        for at, name in segment.chords:
            if name != shown:
                rows["chords"].put(0, first + math.floor(at * scale + Fraction(1, 2)), name)
            if name.startswith(PUSH_SIGN):
                marks.add(Marks.PUSH)
            shown = name.removeprefix(PUSH_SIGN)
        if not segment.cells:
            rows["values"].put(0, first, "~")
        for cell, offset in zip(segment.cells, _columns(segment, scale), strict=True):
            _put_cell(cell, first + offset, tab, rows)
            marks |= _marks(cell, style)
            written |= set(cell.value) if cell.value != "rest" else set()
        column = first + math.ceil(segment.length_beats * scale)
    for string in range(len(names)):
        last = group[-1]
        tab.put(string, column, ("||" if is_end else "|") if last.is_last_of_bar else ":")
        del tab.rows[string][column + (2 if is_end else 1) :]
    edge = " " * margin
    lines = []
    begins = max(Fraction(0), group[0].bar.onset_beats)
    starts = [s for s in timeline.sections if s.onset_beats == begins]
    if starts and group[0].is_first_of_bar:
        told = words(style.language)["chorus"].format(number=starts[0].chorus)
        chorus = told if starts[0].chorus > 1 else ""
        if heading := ", ".join(filter(None, (starts[0].name.strip(), chorus))):
            lines.append(f"{edge}[{heading}]"[: style.width])
    lines += [edge + rows[name].text(0) for name in _ABOVE if not rows[name].is_blank]
    lines += [name.ljust(margin) + tab.text(index) for index, name in enumerate(names)]
    lines += [edge + rows[name].text(0) for name in _BELOW if not rows[name].is_blank]
    return System(tuple(lines), frozenset(marks), frozenset(written))


_ABOVE = ("heading", "chords", "values", "articulations")
_BELOW = ("strokes", "fingers", "moves", "degrees", "count")


def _put_cell(cell: _Cell, column: int, tab: TextCanvas, rows: dict[str, TextCanvas]) -> None:
    for string, fret in cell.frets.items():
        tab.put(string - 1, column, fret)
    for string, sign in cell.before.items():
        tab.put(string - 1, column - 1, sign)
    rows["values"].put(0, column, cell.value)
    rows["articulations"].put(0, column, cell.articulation)
    rows["strokes"].put(0, column, cell.stroke)
    rows["fingers"].put(0, column, cell.finger)
    rows["moves"].put(0, column, cell.move)
    rows["degrees"].put(0, column, cell.degree)
    rows["count"].put(0, column, cell.count)


def _marks(cell: _Cell, style: TabStyle) -> set[Marks]:
    together = len(cell.finger) > 1 or " " in cell.degree
    found = (
        (Marks.DOT, "." in cell.value),
        (Marks.TRIPLET, "3" in cell.value),
        (Marks.REST, cell.value.startswith("r") and cell.value != "rest"),
        (Marks.TIE, "~" in cell.value or "(" in cell.before.values()),
        (Marks.FINGERS, bool(cell.finger)),
        (Marks.PAIRS, together and style.changes is None),
        (Marks.CHORDS, together and style.changes is not None),
        (Marks.STROKES, bool(cell.stroke) and style.changes is not None),
        (Marks.PICKED, bool(cell.stroke) and style.changes is None),
        (Marks.ROLL, cell.move == "="),
        (Marks.SHIFT, cell.move in ("<", ">")),
        (Marks.SLIDE, bool({"/", "\\"} & set(cell.before.values()))),
        (Marks.DEAD, "x" in cell.frets.values()),
        (Marks.ACCENT, "!" in cell.articulation),
        (Marks.STACCATO, "'" in cell.articulation),
        (Marks.GHOST, "o" in cell.articulation),
        (Marks.LEGATO, bool({"h", "p"} & set(cell.before.values()))),
        (Marks.BEND, any("b" in fret for fret in cell.frets.values())),
        (Marks.RELEASE, any("r" in fret for fret in cell.frets.values())),
        (Marks.VIBRATO, any("~" in fret for fret in cell.frets.values())),
        (Marks.RINGS, "L" in cell.articulation),
        (Marks.DEGREES, bool(cell.degree)),
        (Marks.COUNT, bool(cell.count)),
        (Marks.WORDS, bool(cell.count) and not is_counted(cell.count)),
    )
    return {mark for mark, is_there in found if is_there}
