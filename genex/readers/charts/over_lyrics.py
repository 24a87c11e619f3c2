"""Chords over lyrics, as songbooks print them: a line of chord symbols above a line of words.

Such a page says which chords follow each other and, at best, where bars end. Bar lines are obeyed
where they are written; else each chord is taken for a bar, which the recipe says.
"""

from __future__ import annotations

import re

from genex.errors import ChartFileError, NotationError, Place
from genex.exact import Fraction
from genex.plain_text import clean
from genex.readers.charts.foreign_chart import MAX_PASSES, ForeignBar, ForeignChart, quoted
from genex.readers.charts.symbols import add_symbol, is_symbol
from genex.score import Meter
from genex.theory import Key

_HEADING = re.compile(r"\s*(?:\[([^\]]{1,40})\]|([A-Za-z][\w '.-]{0,38}[\w.]):?)\s*(?::\s*)?$")
_HEADING_WORDS = re.compile(
    r"(?:intro|verse|chorus|refrain|bridge|pre-?chorus|interlude|solo|outro|ending|tag|coda|part|section)"
    r"\b[\s\w.]{0,12}$", re.IGNORECASE,
)  # fmt: skip
_FIELD = re.compile(
    r"\s*(title|key|tempo|bpm|time|meter|capo|composer|by)\s*[:=]\s*(.+?)\s*$", re.IGNORECASE
)
_WORD = re.compile(r"(?P<times>(?:\(?[x×]\s?\d{1,2}\)?|\(?\d{1,2}\s?[x×]\)?)(?=\s|$))|:?\|+:?|[^\s|]+")
_FILLERS = frozenset({"-", "–", "—", "/", ".", "..", "...", "%", "*"})


def read_over_lyrics(text: str, file: str) -> ForeignChart:
    """The chart of a page of text. Raises ChartFileError where no line is one of chords."""
    chart = ForeignChart(file, "chords over lyrics")
    reader = _Page(chart)
    for number, line in enumerate(text.expandtabs().splitlines(), start=1):
        reader.line(line, number)
    if not chart.bars:
        raise ChartFileError(
            "no line of the file is a line of chords",
            hint="chords stand in a line of their own above the words, such as: G   Em   C   D",
            place=Place(file, 1, 1),
        )
    return chart


class _Page:
    def __init__(self, chart: ForeignChart) -> None:
        self.chart = chart
        self.meter = Meter(4, 4)
        self.section: str | None = None
        self.opens = False

    def line(self, line: str, number: int) -> None:
        place = Place(self.chart.file, number, 1)
        words = list(_WORD.finditer(line))
        if not words:
            return
        heading = _HEADING.match(line)
        named = "" if heading is None else (heading[1] or heading[2]).strip()
        given = _FIELD.match(line)
        if given is not None:
            self._field(given[1].lower(), given[2], place)
        elif is_chord_line(line):
            self._chords(words, number)
        elif heading is not None and (heading[1] or _HEADING_WORDS.match(named)):
            self.section = clean(named)
        elif not self.chart.title and not self.chart.bars:
            self.chart.title = " ".join(clean(line).split())
        else:
            self.chart.leave(f"the words {quoted(line)}", place)

    def _field(self, name: str, value: str, place: Place) -> None:
        try:
            if name == "title":
                self.chart.title = clean(value)
            elif name == "key":
                self.chart.key = Key.parse(value)
            elif name in ("time", "meter"):
                self.meter = Meter.parse(value)
            elif name in ("tempo", "bpm") and re.fullmatch(r"\d{1,4}( ?bpm)?", value.lower()):
                self.chart.tempo = Fraction(int(re.sub(r"\D", "", value)))
            elif name in ("composer", "by"):
                self.chart.credits.append(f"composer: {value}")
            else:
                self.chart.leave(f"{name} {quoted(value)}", place)
        except NotationError:
            self.chart.leave(f"the {name} {quoted(value)}", place)

    def _chords(self, words: list[re.Match[str]], number: int) -> None:
        barred = any("|" in word[0] for word in words)
        groups: list[list[re.Match[str]]] = [[]]
        first = len(self.chart.bars)
        for word in words:
            place = Place(self.chart.file, number, word.start() + 1)
            if word["times"]:
                self._bars(groups, number)
                groups = [[]]
                times = int(re.sub(r"\D", "", word[0]))
                if len(self.chart.bars) > first and 2 <= times <= MAX_PASSES:
                    self.chart.bars[first].opens = True
                    self.chart.bars[-1].passes = times
                else:
                    self.chart.leave(f"the repeat {quoted(word[0])}", place)
            elif "|" in word[0]:
                self._bars(groups, number)
                groups = [[]]
                if word[0].startswith(":") and self.chart.bars:
                    self.chart.bars[-1].passes = 2
                self.opens = self.opens or word[0].endswith(":")
            elif barred:
                groups[-1].append(word)
            elif word[0] not in _FILLERS:
                groups.append([word])
        self._bars(groups, number)
        if not barred:
            self.chart.leave("no bar lines are written; each chord is taken for a bar",
                             Place(self.chart.file, None))  # fmt: skip

    def _bars(self, groups: list[list[re.Match[str]]], number: int) -> None:
        for group in groups:
            if group:
                self._bar(group, number)

    def _bar(self, group: list[re.Match[str]], number: int) -> None:
        place = Place(self.chart.file, number, group[0].start() + 1)
        bar = ForeignBar(place, self.meter, self.meter.bar_beats, opens=self.opens, section=self.section)
        self.opens, self.section = False, None
        pulses = self.meter.pulses
        words = [word for word in group if word[0] not in _FILLERS - {"/", "."}]
        slashed = any(word[0] in ("/", ".") for word in words)
        if [word[0] for word in group] == ["%"] and self.chart.bars:
            before = self.chart.bars[-1]
            bar.symbols = list(before.symbols)
        for index, word in enumerate(words):
            if word[0] in ("/", "."):
                continue
            spot = index if slashed else index * len(pulses) // len(words)
            onset = pulses[min(spot, len(pulses) - 1)]
            add_symbol(self.chart, bar, word[0], onset, Place(self.chart.file, number, word.start() + 1))
        self.chart.add_bar(bar)


def is_chord_line(line: str) -> bool:
    """Whether a line is one of chords: all words are, or all but one in four, and not just ``A``."""
    words = [word for word in _WORD.finditer(line) if not word["times"] and "|" not in word[0]]
    words = [word for word in words if word[0] not in _FILLERS]
    chords = [word[0] for word in words if is_symbol(word[0])]
    if not chords:
        return False
    if len(words) == 1:
        return words[0][0] not in ("A", "a") or line.startswith("  ") or "|" in line
    return 4 * len(chords) >= 3 * len(words) and len(words) - len(chords) <= max(1, len(words) // 4)
