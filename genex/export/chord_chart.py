"""The chord chart: bars in a grid, section by section, and as text.

Sections that are played several times with the same bars are printed once; the order of the form
stands below. Choruses that are alike are told by their number. Repeats and endings are drawn as the
chart was written. A bar like the one before is a ``%`` [common practice]. Under the chords numerals
and the names of scales may stand.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from genex.exact import Fraction
from genex.export.chart_rows import Row, rows_of
from genex.export.moved_sections import only_chord
from genex.export.note_names import key_words, namer
from genex.export.page_signs import PLAIN, UNDERSTOOD_TIMES, Signs
from genex.export.phrases import capitalised, named, words
from genex.export.repeat_signs import PageBar, chart_page
from genex.export.tempo_words import FERMATA, TempoSigns, plain_number
from genex.export.under_chords import Texts, UnderChords, aligned, texts_under
from genex.score import PUSH_SIGN, Hit, Meter, Score, SectionSpan, Timeline, written_hits
from genex.theory import Chord, Key

REPEAT_SIGN = "%"
BARS_A_LINE = (4, 2, 1)


@dataclass(frozen=True, slots=True)
class ChartBar:
    """A bar: chords with their place in it as a share of the bar, 0 to 1.

    Without any in a piece that has no chords at all. ``under`` is what stands under each, if anything.
    ``hits`` are what the band strikes alone, None where it plays on. ``fermatas``
    are shares of the bar at which chords begin that are held.
    """

    meter: Meter
    chords: tuple[tuple[Fraction, str], ...]
    repeats: bool = False
    signs: Signs = PLAIN
    under: tuple[Texts, ...] = ()
    hits: tuple[Hit, ...] | None = None
    tempo_words: str = ""
    fermatas: tuple[Fraction, ...] = ()

    @property
    def before(self) -> str:
        """What stands over the beginning of the bar: signs that a jump goes to, words of tempo."""
        return " ".join(filter(None, (signs_before(self.signs), self.tempo_words)))

    @property
    def stands_above(self) -> bool:
        """Whether anything is written over the bar, fermatas apart."""
        return self.signs.stands_above or bool(self.tempo_words)

    @property
    def told_hits(self) -> str:
        """The hits as they are counted, in braces; empty where the band plays on."""
        return "" if self.hits is None else written_hits(self.hits)

    @property
    def drawn_hits(self) -> tuple[Hit, ...] | None:
        """The hits to draw; None, too, in a bar that only says that the one before comes again."""
        return None if self.repeats else self.hits

    def share_of(self, beats: Fraction) -> float:
        """A time in the bar as a share of it."""
        return float(beats / self.meter.bar_beats)

    @property
    def shares(self) -> tuple[Fraction, ...]:
        """The share of the bar that each chord has."""
        edges = [*(at for at, _ in self.chords), Fraction(1)]
        return tuple(end - at for at, end in pairwise(edges))


@dataclass(frozen=True, slots=True)
class ChartSection:
    """A section as printed; ``name`` may be empty.

    ``key`` and ``tempo``, what a metronome mark says, are given where they are not those of the chart.
    """

    name: str
    bars: tuple[ChartBar, ...]
    key: Key | None = None
    tempo: Fraction | None = None

    @property
    def has_signs(self) -> bool:
        return any(bar.signs != PLAIN for bar in self.bars)


@dataclass(frozen=True)
class Chart:
    """Sections as printed, the order in which they are played, and how often all of it is.

    With a ``capo`` the first text under each chord is its shape.
    """

    sections: tuple[ChartSection, ...]
    order: tuple[str, ...]
    times: int
    capo: int = 0

    @property
    def has_signs(self) -> bool:
        """Whether there are repeats inside of a section."""
        return any(section.has_signs for section in self.sections)

    @property
    def has_pushes(self) -> bool:
        """Whether a chord comes ahead of its beat."""
        bars = [bar for section in self.sections for bar in section.bars]
        return any(name.startswith(PUSH_SIGN) for bar in bars for _, name in bar.chords)

    @property
    def has_hits(self) -> bool:
        """Whether there are bars of hits."""
        return any(bar.hits is not None for section in self.sections for bar in section.bars)

    @property
    def is_one_repeat(self) -> bool:
        """Whether all of it stands between repeat signs; never about other ones."""
        return self.times > 1 and not self.has_signs


def chart_of(
    timeline: Timeline,
    under: Collection[UnderChords] = (),
    texts: Mapping[Fraction, Texts] | None = None,
    capo: int = 0,
    phrases: Mapping[str, str] | None = None,
) -> Chart:
    """The chart of a timeline, with what is asked for ``under`` its chords, or other ``texts`` there.

    With a ``capo`` the shapes of the chords stand under them first.
    Sections of one name are printed once if they are the same; those that are named by their only
    chord, one after another, are one without a name.
    """
    if texts is None:
        texts = texts_under(timeline, under, capo, phrases)
    else:
        capo = 0
    named = namer(words() if phrases is None else phrases)
    page = chart_page(timeline, texts)
    tempo_signs = TempoSigns(timeline)
    played: list[ChartSection] = []
    by_chord = named_by_chord(timeline)
    for is_run, run in groupby(timeline.sections, lambda span: span.onset_beats in by_chord):
        # Chords that are named anyway: their bars make one section.
        spans = list(run)
        for first, last in [(spans[0], spans[-1])] if is_run else zip(spans, spans, strict=True):
            bars = [e for e in page.bars if first.onset_beats <= e.bar.onset_beats < last.end_beats]
            if bars:
                name = "" if is_run else first.name
                tempo = _own_tempo(timeline, first, bars[0].bar.meter)
                section_bars = tuple(_bars(timeline, bars, texts, named, tempo_signs))
                played.append(ChartSection(name, section_bars, first.key, tempo))
    printed = tuple(dict.fromkeys(played))
    if len({section.name for section in printed}) < len(printed):
        printed = tuple(played)
    return Chart(printed, tuple(section.name for section in played), page.times, capo)


def named_by_chord(timeline: Timeline) -> frozenset[Fraction]:
    """Where sections begin that say no more than their only chord, at least two in a row.

    One alone may well be called A over the chord A.
    """
    found: set[Fraction] = set()
    told = [(span.onset_beats, _says_its_chord(timeline, span)) for span in timeline.sections]
    for (first, is_one), (second, is_other) in pairwise(told):
        if is_one and is_other:
            found |= {first, second}
    return frozenset(found)


def _says_its_chord(timeline: Timeline, span: SectionSpan) -> bool:
    chord = only_chord(timeline, span)
    if chord is None or span.key is not None or span.sets_tempo:
        return False
    return span.name.strip() in (chord.symbol, chord.plain_symbol)


def _own_tempo(timeline: Timeline, span: SectionSpan, meter: Meter) -> Fraction | None:
    """The tempo of a section, if the chart's heading names another one."""
    here, first = timeline.tempo.change_at(span.onset_beats), timeline.tempo.changes[0]
    is_told = span.sets_tempo or timeline.sections[0].sets_tempo
    return here.mark(meter) if is_told and here.tempo_bpm != first.tempo_bpm else None


def section_facts(section: ChartSection, phrases: Mapping[str, str]) -> list[str]:
    """Key and tempo of a section where they are not those of the chart."""
    facts = []
    if section.key is not None:
        facts.append(named(phrases["key"], key_words(section.key, phrases), phrases))
    if section.tempo is not None:
        facts.append(named(phrases["tempo"], plain_number(section.tempo, phrases), phrases))
    return facts


def _bars(
    timeline: Timeline,
    page: Sequence[PageBar],
    texts: Mapping[Fraction, Texts],
    named: Callable[[Chord], str],
    tempo_signs: TempoSigns,
) -> list[ChartBar]:
    found: list[ChartBar] = []
    before: object = None
    for entry in page:
        bar = entry.bar
        if entry.signs.is_fresh:
            before = None
        opening = timeline.chord_at(bar.onset_beats)
        spans = [(bar.onset_beats, opening)]
        spans += [(s.onset_beats, s) for s in timeline.chords_in(bar) if s.onset_beats > bar.onset_beats]
        chords = tuple(
            (
                (at - bar.onset_beats) / bar.length_beats,
                label(span, named),
            )
            for at, span in spans
            for label in [timeline.written_label if at == span.onset_beats else timeline.chord_label]
            if timeline.has_chords
        )
        under = tuple(texts[span.onset_beats] for _, span in spans if texts)
        repeats = bool(chords) and (chords, under, bar.hits) == before
        fermatas = tuple((at - bar.onset_beats) / bar.length_beats for at in tempo_signs.fermatas(bar))
        repeats = repeats and not fermatas
        words = tempo_signs.words(bar)
        found.append(ChartBar(bar.meter, chords, repeats, entry.signs, under, bar.hits, words, fermatas))
        before = chords, under, bar.hits
    return found


def chart_text(
    score: Score,
    *,
    width: int = 80,
    language: str = "en",
    under: Collection[UnderChords] = (),
    capo: int = 0,
) -> str:
    """The chart in plain text, at most ``width`` columns wide where the symbols allow it."""
    phrases = words(language)
    chart = chart_of(score.timeline, under, capo=capo, phrases=phrases)
    lines = textwrap.wrap(score.title, width)
    lines += textwrap.wrap("   ".join(chart_facts(score, phrases)), width)
    marks = _Marks.of(chart)
    count, cell = marks.fitting(chart, width)
    broken = _broken(chart)
    if marks.fitting(broken, width)[0] > count:
        chart = broken
        count, cell = marks.fitting(chart, width)
    meter = chart.sections[0].bars[0].meter
    for section in chart.sections:
        lines.append("")
        if section.name.strip():
            lines += textwrap.wrap(
                "   ".join([f"[{section.name}]", *section_facts(section, phrases)]), max(width, 40)
            )
        rows = rows_of(section.bars, count)
        for index, row in enumerate(rows):
            cells = []
            below = []
            for bar in row.bars:
                text, texts = marks.cell(bar, cell), marks.under(bar, cell)
                if bar.meter != meter:
                    sign = f"({bar.meter}) "
                    text = (sign + text).rstrip().ljust(cell)
                    texts = [" " * len(sign) + line for line in texts]
                    meter = bar.meter
                widest = max(len(line) for line in (text, *texts))
                cells.append(text.ljust(widest))
                below.append([line.ljust(widest) for line in texts])
            opens = section is chart.sections[0] and index == 0
            closes = section is chart.sections[-1] and index == len(rows) - 1
            if index and any(below):
                lines.append("")
            lines += marks.line_above(row, cells)
            lines.append(marks.line(row, cells, opens=opens, closes=closes))
            lines += marks.lines_below(row, cells, below)
    notes = chart_notes(chart, phrases)
    if notes:
        lines += ["", *notes]
    return "\n".join(lines) + "\n"


@dataclass(frozen=True, slots=True)
class _Marks:
    """How bar lines are written: with room behind each for ``:``, ``1.`` where there are any.

    outer  everything stands between repeat signs
    width  columns of that room
    """

    outer: bool
    width: int

    @classmethod
    def of(cls, chart: Chart) -> _Marks:
        bars = [bar for section in chart.sections for bar in section.bars]
        return cls(chart.is_one_repeat, max(len(_begin(bar.signs)) for bar in bars))

    def fitting(self, chart: Chart, width: int) -> tuple[int, int]:
        """Bars in a line of that width, and the width of each."""
        bars = [bar for section in chart.sections for bar in section.bars]
        cell = max(8, *(max(len(self.cell(bar, 0)), len(_above(bar, 0))) for bar in bars))
        return next((n for n in BARS_A_LINE if n * (cell + self.width + 3) + 2 <= width), 1), cell

    def cell(self, bar: ChartBar, width: int) -> str:
        """What stands in a bar; a passage played more than twice says so where it closes."""
        times = self._times(bar)
        return _bar_text(bar, max(0, width - len(times))) + times

    def under(self, bar: ChartBar, width: int) -> list[str]:
        """The lines under a bar that is so wide."""
        return _under_text(bar, max(0, width - len(self._times(bar))))

    def _times(self, bar: ChartBar) -> str:
        return f" ({bar.signs.times}x)" if bar.signs.times > UNDERSTOOD_TIMES else ""

    def line(self, row: Row[ChartBar], cells: Sequence[str], *, opens: bool, closes: bool) -> str:
        """A row; ``opens`` and ``closes`` tell whether the chart begins or ends with it."""
        begin = "||: " if opens and self.outer else "|   " if self.outer else "|"
        text = ""
        for bar, cell in zip(row.bars, cells, strict=True):
            sign = "" if self.outer and not text else f"{_begin(bar.signs):<{self.width}} "
            text += f"{sign}{cell}{':' if bar.signs.closes else ' '}|"
        if closes:
            text = text[:-1] + (":||" if self.outer else "||")
        return self._indent(row, cells) + begin + text

    def line_above(self, row: Row[ChartBar], cells: Sequence[str]) -> list[str]:
        """The signs of jumps over a row, each over its bar; no line where there are none."""
        text = "    " if self.outer else "  "
        for index, (bar, cell) in enumerate(zip(row.bars, cells, strict=True)):
            sign = 0 if self.outer and index == 0 else self.width
            text += " " * sign + _above(bar, len(cell)) + "   "
        return [(self._indent(row, cells) + text).rstrip()] if text.strip() else []

    def lines_below(
        self, row: Row[ChartBar], cells: Sequence[str], below: Sequence[Sequence[str]]
    ) -> list[str]:
        """What stands under a row, each text under its chord."""
        found = []
        for number in range(max(map(len, below))):
            text = "    " if self.outer else " "
            for index, (cell, texts) in enumerate(zip(cells, below, strict=True)):
                sign = 0 if self.outer and index == 0 else self.width + 1
                line = texts[number] if number < len(texts) else ""
                text += " " * sign + line.ljust(len(cell)) + "  "
            found.append((self._indent(row, cells) + text).rstrip())
        return [line for line in found if line]

    def _indent(self, row: Row[ChartBar], cells: Sequence[str]) -> str:
        return " " * row.indent * (len(cells[0]) + self.width + 3)


def _begin(signs: Signs) -> str:
    """What is written behind the bar line before a bar."""
    if signs.ending_begins:
        return f"{signs.ending}."
    return ":" if signs.opens else ""


def signs_before(signs: Signs) -> str:
    """The signs that a jump goes to, in words."""
    return " ".join(name for name, stands in (("Segno", signs.segno), ("Coda", signs.coda)) if stands)


def _above(bar: ChartBar, width: int) -> str:
    """What is written over a bar: at its beginning where jumps go to and how fast, at its end where they
    leave and what is held."""
    line = bar.before
    for share in bar.fermatas:
        column = min(int(share * width), width - len(FERMATA))
        line = f"{line.ljust(column)}{'  ' if len(line) > column else ''}{FERMATA}"
    gap = "  " if line and bar.signs.said else ""
    return f"{line}{gap}{bar.signs.said.rjust(width - len(line) - len(gap))}"


def chart_facts(score: Score, phrases: Mapping[str, str]) -> list[str]:
    """Key, tempo, meter and feel, each with its name."""
    timeline = score.timeline
    key = key_words(timeline.key, phrases)
    tempo = plain_number(timeline.tempo.changes[0].mark(timeline.meter), phrases)
    return [
        named(phrases["key"], key, phrases),
        named(phrases["tempo"], tempo, phrases),
        named(phrases["meter"], timeline.meter, phrases),
        named(phrases["feel"], score.feel, phrases),
        *(
            [named(capitalised(phrases["pickup"]), score.pickup_value, phrases)]
            if score.pickup_beats
            else []
        ),
    ]


def chart_notes(chart: Chart, phrases: Mapping[str, str]) -> list[str]:
    """The order of the sections where it is not that of the page, the number of choruses, and what a
    sign means."""
    notes = []
    if chart.order != tuple(section.name for section in chart.sections):
        notes.append(phrases["order_of_sections"].format(order=" ".join(chart.order)))
    if chart.times > 1:
        told = "played_times" if chart.is_one_repeat else "all_played_times"
        notes.append(phrases[told].format(count=chart.times))
    notes += sign_notes(chart, phrases)
    return notes


def sign_notes(chart: Chart, phrases: Mapping[str, str]) -> list[str]:
    """What pushed chords, hits and the lines under a capo's chords mean, where there are any."""
    notes = []
    if chart.has_pushes:
        notes.append(phrases["pushed"])
    if chart.has_hits:
        notes.append(phrases["hits"])
    if chart.capo:
        notes.append(phrases["capo_shapes"].format(capo=chart.capo))
    return notes


def _bar_text(bar: ChartBar, width: int) -> str:
    """A bar's chords, each at its share of ``width``, at least two columns apart."""
    if bar.repeats:
        return REPEAT_SIGN.ljust(width)
    if bar.hits is not None:
        hits, bar = f" {bar.told_hits}", replace(bar, hits=None)
        return _bar_text(bar, max(0, width - len(hits))) + hits
    line = ""
    for column, (_, name) in zip(_columns(bar, width), bar.chords, strict=True):
        line = line.ljust(column) + name
    longest = max(map(len, _under_text(bar, width)), default=0)
    return line.ljust(max(width, longest))


def _columns(bar: ChartBar, width: int) -> list[int]:
    """The column at which each chord of a bar begins, with what stands under it.

    One that would push the rest over the end begins earlier, as long as there is room.
    """
    found: list[int] = []
    sizes = [
        max(map(len, (name, *(bar.under[index] if bar.under else ()))))
        for index, (_, name) in enumerate(bar.chords)
    ]
    reached = 0
    for index, (share, _) in enumerate(bar.chords):
        latest = width - sum(sizes[index:]) - 2 * (len(sizes) - index - 1)
        column = max(min(int(share * width), latest), reached + 2 if index else 0)
        found.append(column)
        reached = column + sizes[index]
    return found


def _broken(chart: Chart) -> Chart:
    """The chart with a line for each word of what stands under its chords."""
    bars = [bar for section in chart.sections for bar in section.bars]
    lines = iter(aligned([(texts, 1) for bar in bars for texts in bar.under]))
    sections = [
        replace(
            section,
            bars=tuple(
                replace(bar, under=tuple(tuple(next(lines)) for _ in bar.under)) for bar in section.bars
            ),
        )
        for section in chart.sections
    ]
    return replace(chart, sections=tuple(sections))


def _under_text(bar: ChartBar, width: int) -> list[str]:
    """The lines under a bar; none under one like the bar before."""
    if bar.repeats or not bar.under:
        return []
    lines = [""] * len(bar.under[0])
    for column, texts in zip(_columns(bar, width), bar.under, strict=True):
        lines = [line.ljust(column) + text for line, text in zip(lines, texts, strict=True)]
    return lines


def enclosed(bars: Sequence[ChartBar], *, opens: bool, closes: bool) -> list[ChartBar]:
    """The bars with the sign of a repeat that opens before the first, or closes behind the last."""
    found = list(bars)
    if opens:
        found[0] = replace(found[0], signs=replace(found[0].signs, opens=True))
    if closes:
        found[-1] = replace(found[-1], signs=replace(found[-1].signs, closes=True))
    return found
