"""A chart of another format as the text of a recipe.

The chart's bars are written with repeats and endings where a recipe can say them, and else written
out. Chords go to the beats of the meter. Whatever had to be changed or left away stands as a remark
above the recipe, and in the chart's list.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from genex.errors import ChartFileError, Place, RecipeError
from genex.exact import Fraction
from genex.readers.charts.bar_layout import laid_out
from genex.readers.charts.foreign_chart import (
    ForeignBar,
    ForeignChart,
    Passage,
    Symbol,
    cut,
    passages,
    quoted,
)
from genex.readers.charts.form_signs import complete
from genex.readers.charts.melody import melody_text
from genex.recipe import parse_recipe
from genex.recipe.chart_bars import pulse_lengths, shared
from genex.recipe.fields import MAX_TEMPO, MIN_TEMPO
from genex.score import PUSH_BEATS, PUSH_SIGN, Meter
from genex.theory import NO_CHORD, Key, without_optional

_BARS_A_LINE = 4
_SHORTEST_PICKUP = 16
"""A pickup is so many sixteenths, or longer notes."""
_FEELS = {
    "4/4": "straight", "3/4": "waltz", "2/4": "two-four", "2/2": "two-beat", "5/4": "five-four",
    "6/8": "ballad-6-8", "7/8": "seven-eight", "9/8": "nine-eight", "12/8": "bed-12-8",
}  # fmt: skip
"""A plain feel for each meter: no file of these formats names one. Others have the click."""


@dataclass
class _Section:
    """Passages under a name; ``key`` and ``tempo`` where they are others than the piece's."""

    name: str
    key: Key | None
    tempo: Fraction | None = None
    passages: list[Passage] = field(default_factory=list)


def recipe_text(chart: ForeignChart, title: str, *, with_melody: bool = True) -> str:
    """The recipe. ``title`` is used where the file has none. Raises ChartFileError without chords and
    notes, or without chords where no melody is wanted."""
    if not chart.has_chords and not (with_melody and any(bar.notes for bar in chart.bars)):
        raise ChartFileError(
            "no chord symbol and no melody that can be read stand in the file",
            hint="import a chart with chord symbols, or a tune",
            place=Place(chart.file),
        )
    bars = laid_out(chart)
    complete(bars)
    _carry_pushes(bars)
    writer = _written(chart, bars, title)
    if with_melody and any(bar.notes or bar.lead for bar in bars):
        writer.line = _melody(writer, chart, bars, title)
        if not writer.line and not chart.has_chords:
            raise ChartFileError(
                f"there are no chords, and not read is {chart.unread[-1].text}",
                hint="import a chart with chord symbols, or a piece of the tune",
                place=chart.unread[-1].place,
            )
    return writer.text(title)


def _written(chart: ForeignChart, bars: list[ForeignBar], title: str) -> _Writer:
    """The writer of a chart that can be read; signs that lead nowhere are listed and left away."""
    signs = [sign for bar in bars for sign in (*bar.before, *bar.behind)]
    for joined in (False, True) if signs else ():
        known = list(chart.unread)
        writer = _Writer(chart, bars, joined=joined)
        if _can_be_read(writer.text(title)):
            return writer
        chart.unread = known
    for bar in bars:
        bar.before.clear()
        bar.behind.clear()
    for sign in signs:
        chart.leave(f"the sign {quoted(sign.name)}, which leads nowhere here", sign.place)
    return _Writer(chart, bars)


def _melody(writer: _Writer, chart: ForeignChart, bars: Sequence[ForeignBar], title: str) -> str:
    """The melody over the bars in the order in which the recipe plays them."""
    recipe = parse_recipe(writer.text(title))
    order = [writer.written[section.name][place] for section in recipe.form for place in section.order]
    return melody_text(chart, [bars[number] for number in order], recipe.key)


def _can_be_read(text: str) -> bool:
    """Whether a recipe is in order, its signs of a jump above all."""
    try:
        parse_recipe(text)
    except RecipeError:
        return False
    return True


def _carry_pushes(bars: Sequence[ForeignBar]) -> None:
    """Give chords an eighth before a bar line that is no sign to the bar behind it."""
    for bar, later in pairwise(bars):
        is_plain = not (later.opens or later.ending or bar.passes > 1)
        is_free = not any(symbol.onset_beats <= 0 for symbol in later.symbols)
        if is_plain and is_free and bar.symbols and bar.meter == later.meter:
            last = max(bar.symbols, key=lambda symbol: symbol.onset_beats)
            if last.onset_beats == bar.meter.bar_beats - PUSH_BEATS:
                bar.symbols.remove(last)
                later.symbols.insert(0, replace(last, onset_beats=-PUSH_BEATS))


class _Writer:
    """Writes the recipe; ``joined`` as one section, since a jump does not leave its section.

    ``meter`` is the one that the piece begins in, by which its recipe goes; ``written`` has, by the
    names of sections, the bars that stand in them, once the text is written.
    """

    def __init__(self, chart: ForeignChart, bars: list[ForeignBar], *, joined: bool = False) -> None:
        self.chart, self.bars, self.joined = chart, bars, joined
        self.meter = self.reached = bars[0].meter
        self.words: list[str] = []
        self.written: dict[str, list[int]] = {}
        self.in_section: list[int] = []
        self.line = ""
        self._write_bars()

    # --- bars ----------------------------------------------------------------------------------

    def _write_bars(self) -> None:
        """The words of every bar. A chord that is held over a bar line is written again."""
        held = NO_CHORD
        before_ending = NO_CHORD
        for bar in self.bars:
            if bar.ending:
                if min(bar.ending) == 1:
                    before_ending = held
                held = before_ending
            placed = self._on_pulses(bar, held)
            behind = [one.name for one in bar.behind]
            self.words.append(" ".join([self._bar_words(bar.meter, placed), *behind]))
            held = without_optional(placed[max(placed)].removeprefix(PUSH_SIGN))[0]

    def _on_pulses(self, bar: ForeignBar, held: str) -> dict[int, str]:
        """The chords of a bar by the beat that they come on, the first one on beat 0."""
        pulses = bar.meter.pulses
        placed: dict[int, str] = {}
        for symbol in sorted(bar.symbols, key=lambda one: one.onset_beats):
            onset = symbol.onset_beats
            free = [number for number in range(len(pulses)) if number not in placed]
            later = [number for number in free if not placed or number > max(placed)]
            if not later:
                self.chart.leave(f"{symbol.text or NO_CHORD}, for which the bar has no beat left",
                                 symbol.place)  # fmt: skip
                continue
            # A chord off the beat is pushed: it belongs to the beat that follows [common practice].
            nearest = min(later, key=lambda number: (abs(pulses[number] - onset), -number))
            is_pushed = bool(symbol.text) and pulses[nearest] - onset == PUSH_BEATS
            if pulses[nearest] != onset and not is_pushed:
                self.chart.leave(f"{symbol.text or NO_CHORD} is off the beat; it stands on beat "
                                 f"{nearest + 1}", symbol.place)  # fmt: skip
            placed[nearest] = f"{PUSH_SIGN if is_pushed else ''}{_word(symbol)}"
        return placed if 0 in placed else {0: held, **placed}

    @staticmethod
    def _bar_words(meter: Meter, placed: dict[int, str]) -> str:
        pulses = pulse_lengths(meter)
        starts = [*sorted(placed), len(pulses)]
        lengths = [sum(pulses[start:end], Fraction(0)) for start, end in pairwise(starts)]
        names = [placed[start] for start in starts[:-1]]
        if lengths == shared(len(names), pulses):
            return " ".join(names)
        rows = [placed.get(number, "/") for number in range(len(pulses))]
        while rows[-1] == "/" and "/" in rows[:-1]:
            rows.pop()
        return " ".join(rows)

    # --- signs ---------------------------------------------------------------------------------

    def _written_bar(self, index: int) -> str:
        """The words of a bar, with its meter where the bar written before has another."""
        self.in_section.append(index)
        meter = self.bars[index].meter
        sign = f"({meter}) " if meter != self.reached else ""
        self.reached = meter
        before = "".join(f"{one.name} " for one in self.bars[index].before)
        return before + sign + self.words[index]

    def _chart_lines(self, section: _Section) -> list[str]:
        lines: list[str] = []
        row: list[str] = []
        self.reached = self.meter
        self.in_section = self.written[section.name] = []

        def end_row() -> None:
            if row:
                lines.append(" | ".join(row) + " |")
                row.clear()

        for passage in section.passages:
            first, *others = passage.passes
            body = _common(passage.passes)
            if not others:
                for index in first:
                    row.append(self._written_bar(index))
                    if len(row) == _BARS_A_LINE:
                        end_row()
                continue
            end_row()
            tails = [one[len(body) :] for one in passage.passes]
            if not any(tails):
                times = f"x{len(passage.passes)}" if len(passage.passes) > 2 else ""
                lines += self._rows(body, "|: ", f" :|{times}")
            elif body and all(tails):
                lines += self._rows(body, "|: ", " |")
                for number, tail in enumerate(tails, start=1):
                    lines += self._rows(tail, f"[{number}. ", " :|")
            else:
                self.chart.leave("the repeat that begins here is written out",
                                 self.bars[passage.start].place)  # fmt: skip
                for one in passage.passes:
                    lines += self._rows(one, "", " |")
        end_row()
        return lines

    def _rows(self, indices: Sequence[int], opening: str, closing: str) -> list[str]:
        words = [self._written_bar(index) for index in indices]
        rows = [words[at : at + _BARS_A_LINE] for at in range(0, len(words), _BARS_A_LINE)]
        lines = [" | ".join(row) for row in rows]
        if lines:
            lines = [f"{line} |" for line in lines[:-1]] + [lines[-1] + closing]
            lines[0] = opening + lines[0]
        return lines

    # --- sections ------------------------------------------------------------------------------

    def _sections(self) -> list[_Section]:
        found: list[_Section] = []
        key, tempo = self.chart.key, self.chart.tempo
        for passage in passages(self.bars):
            cuts = [passage.start]
            if len(passage.passes) == 1:
                cuts += [
                    n for n in range(passage.start + 1, passage.stop) if self._begins(n, key, tempo)
                ]
            for start, end in zip(cuts, [*cuts[1:], passage.stop], strict=True):
                bar = self.bars[start]
                changed = self._changes(bar, key, tempo)
                key, tempo = bar.key or key, bar.tempo or tempo
                if found and self.joined:
                    self._leave_marks(bar, changed=changed)
                elif not found or bar.section or changed:
                    own_key = key if key != self.chart.key else None
                    own_tempo = tempo if tempo != self.chart.tempo else None
                    found.append(_Section(bar.section or "", own_key, own_tempo))
                piece = Passage(start, end, (tuple(range(start, end)),))
                found[-1].passages.append(piece if len(passage.passes) == 1 else passage)
            for bar in self.bars[passage.start + 1 : passage.stop]:
                if len(passage.passes) > 1 and bar.section:
                    self.chart.leave(f"the mark '{cut(bar.section)}' inside a repeat", bar.place)
                if len(passage.passes) > 1 and bar.key and bar.key != key:
                    self.chart.leave(f"the key {bar.key} inside a repeat", bar.place)
                if len(passage.passes) > 1 and bar.tempo and bar.tempo != tempo:
                    self._leave_tempo(bar, "inside a repeat")
        return _named(found)

    def _leave_marks(self, bar: ForeignBar, *, changed: bool) -> None:
        """List the marks of a section that is not written as one."""
        if bar.section:
            self.chart.leave(f"the mark '{cut(bar.section)}' between the signs of a jump", bar.place)
        if changed and bar.key:
            self.chart.leave(f"the key {bar.key} between the signs of a jump", bar.place)
        if changed and bar.tempo:
            self._leave_tempo(bar, "between the signs of a jump")

    def _leave_tempo(self, bar: ForeignBar, where: str) -> None:
        said = f"{float(bar.tempo or 0):g} quarter notes a minute"
        self.chart.leave(f"the change of tempo to {said} {where}", bar.place)

    def _begins(self, index: int, key: Key | None, tempo: Fraction | None) -> bool:
        bar = self.bars[index]
        return bool(bar.section) or self._changes(bar, key, tempo)

    @staticmethod
    def _changes(bar: ForeignBar, key: Key | None, tempo: Fraction | None) -> bool:
        """Whether a bar brings another key or tempo."""
        return (bar.key or key) != key or (bar.tempo or tempo) != tempo

    # --- the recipe ----------------------------------------------------------------------------

    def text(self, title: str) -> str:
        sections = self._sections()
        body: list[str] = []
        if len(sections) == 1 and not self.bars[0].section:
            body += ["chords: |", *(f"  {line}" for line in self._chart_lines(sections[0]))]
        else:
            body.append("sections:")
            for section in sections:
                chart = self._chart_lines(section)
                own = [f"    key: {section.key}"] if section.key else []
                if tempo := self._tempo_of(section):
                    own.append(f"    tempo: {tempo}")
                if not own:
                    body += [f"  {_quoted(section.name)}: |", *(f"    {line}" for line in chart)]
                else:
                    body += [f"  {_quoted(section.name)}:", *own, "    chords: |"]
                    body += [f"      {line}" for line in chart]
            body.append(f"form: [{', '.join(_quoted(name) for name in self._form(sections))}]")
        tempo = self._tempo()
        feel = _FEELS.get(str(self.meter), "click")
        head = [
            f"title: {json.dumps(self.chart.title[:120] or title, ensure_ascii=False)}",
            *([f"key: {self.chart.key}"] if self.chart.key else []),
            *([f"tempo: {tempo}"] if tempo else []),
            f"meter: {self.meter}",
            f"feel: {feel}",
        ]
        if pickup := self._pickup():
            head.append(f"pickup: {pickup}")
        if not any(symbol.text for bar in self.bars for symbol in bar.symbols):
            head.append(f"parts: {'click' if feel == 'click' else 'drums'} exercise")
        if self.line:
            body += ["", "exercise:", "  kind: line", "  abc: |"]
            body += [f"    {row}" for row in self.line.splitlines()]
        return "\n".join([*self._remarks(), "", *head, "", *body, ""])

    def _pickup(self) -> str:
        """The pickup as a note value; empty for none, or one that a recipe cannot have."""
        length = self.chart.pickup_beats / 4
        if not length:
            return ""
        if length.denominator > _SHORTEST_PICKUP or length * 4 >= self.meter.bar_beats:
            place = Place(self.chart.file)
            self.chart.leave(f"the pickup of {self.chart.pickup_beats} quarter notes", place)
            return ""
        return f"{length.numerator}/{length.denominator}"

    def _form(self, sections: list[_Section]) -> list[str]:
        known = [section.name for section in sections]
        wanted = self.chart.form
        if wanted and all(name in known for name in wanted):
            return list(wanted)
        if wanted:
            self.chart.leave(f"the order of parts {' '.join(wanted)}, as not all of them are marked",
                             Place(self.chart.file))  # fmt: skip
        return known

    def _tempo(self) -> str:
        return self._pulses(self.chart.tempo, self.meter)

    def _tempo_of(self, section: _Section) -> str:
        """The tempo of a section that has its own, counted in the meter that it begins in."""
        return self._pulses(section.tempo, self.bars[section.passages[0].start].meter)

    def _pulses(self, quarters: Fraction | None, meter: Meter) -> str:
        """A tempo in pulses of a meter a minute; empty for none, or one that a recipe cannot have."""
        if quarters is None:
            return ""
        beats = quarters / meter.pulse_beats
        if not MIN_TEMPO <= beats <= MAX_TEMPO:
            self.chart.leave(f"the tempo of {float(beats):g} beats a minute", Place(self.chart.file))
            return ""
        return f"{round(float(beats), 2):g}"

    def _remarks(self) -> list[str]:
        name = re.split(r"[/\\]", self.chart.file)[-1]
        rows = [f"# From {cut(name)} ({self.chart.format}). The feel is a plain one for the meter."]
        rows += [f"# {line}" for line in self.chart.credits]
        if self.chart.listed:
            rows += ["#", "# What the file has and this recipe has not, or has otherwise:"]
            rows += [f"#   {line}" for line in self.chart.listed]
        return rows


def _word(symbol: Symbol) -> str:
    text = symbol.text.replace("[", "(").replace("]", ")") or NO_CHORD
    if not symbol.optional:
        return text
    return f"({text})" if symbol.optional == symbol.text else f"{text}({symbol.optional})"


def _common(passes: Sequence[Sequence[int]]) -> tuple[int, ...]:
    """The bars that all passes begin with."""
    count = 0
    while all(len(one) > count and one[count] == passes[0][count] for one in passes):
        count += 1
    return tuple(passes[0][:count])


def _named(sections: list[_Section]) -> list[_Section]:
    """Every section under a name of its own."""
    used = {section.name for section in sections if section.name}
    letters = (letter for letter in "ABCDEFGHIJKLMOPQRSTUVWXZ" if letter not in used)
    seen: dict[str, int] = {}
    for number, section in enumerate(sections, start=1):
        name = section.name[:40] or next(letters, f"part {number}")
        seen[name] = seen.get(name, 0) + 1
        while seen[name] > 1 and f"{name} {seen[name]}" in used:
            seen[name] += 1
        section.name = name if seen[name] == 1 else f"{name} {seen[name]}"
    return sections


def _quoted(name: str) -> str:
    plain = re.fullmatch(r"[A-Z][0-9]?", name) and name not in ("Y", "N")
    return name if plain else json.dumps(name, ensure_ascii=False)
