"""ABC, the text notation of folk tunes [published: ABC standard v2.1, abcnotation.com]: its chords.

Read are title, credits, key, meter, tempo, parts, bars with repeats and endings, and the chord symbols
in quotes, each at the onset of the note behind it, and the melody without its ornaments.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

from genex.errors import ChartFileError, NotationError, Place
from genex.exact import Fraction
from genex.plain_text import clean
from genex.readers.charts.abc_music import (
    ENDING,
    FIELD,
    TOKEN,
    broken,
    divides,
    endings,
    key_of,
    length_of,
    meter_of,
    parts_of,
    repeat_dots,
    tune_number,
    tuplet,
    usual_unit,
    without_remark,
)
from genex.readers.charts.abc_pitch import NOTE, AbcPitches
from genex.readers.charts.foreign_chart import (
    MAX_PASSES,
    ForeignBar,
    ForeignChart,
    ForeignNote,
    cut,
    open_repeat,
    quoted,
)
from genex.readers.charts.form_signs import add_sign, decoration, sign_in_words
from genex.readers.charts.symbols import add_other_symbol, add_symbol
from genex.recipe.jumps import stands_before
from genex.score import Meter

_CREDITS = {
    "A": "area", "B": "book", "C": "composer", "D": "discography", "F": "file", "H": "history",
    "N": "notes", "O": "origin", "R": "rhythm", "S": "source", "Z": "notated by",
}  # fmt: skip
_MOST_CREDITS = 24
_MOST_LISTED = 8


def read_abc(text: str, file: str, number: int | None = None) -> ForeignChart:
    """The chart of one tune. ``number`` is that behind X: where a file has several.

    Raises ChartFileError with line and column.
    """
    header, tunes = _tunes(text)
    if not tunes:
        raise ChartFileError(
            "there is no tune in the file",
            hint="a tune in ABC begins with a line X:1 and has a line K: with its key",
            place=Place(file, 1, 1),
        )
    return _Reader(file).read(header + _chosen(tunes, number, file))


_Lines = list[tuple[int, str]]


def _tunes(text: str) -> tuple[_Lines, list[_Lines]]:
    """Lines before the first tune, and those of each tune, with their numbers."""
    header: _Lines = []
    tunes: list[_Lines] = []
    open_tune = False
    for number, line in enumerate(text.splitlines(), start=1):
        if line.startswith("X:"):
            tunes.append([(number, line)])
            open_tune = True
        elif not line.strip():
            open_tune = False
        elif open_tune:
            tunes[-1].append((number, line))
        elif not tunes and re.match(r"[MLQUmI]:", line):
            header.append((number, line))
    return header, tunes


def _chosen(tunes: list[_Lines], number: int | None, file: str) -> _Lines:
    if number is None and len(tunes) == 1:
        return tunes[0]
    numbers = [tune_number(lines[0][1]) for lines in tunes]
    if number is not None and str(number) in numbers:
        return tunes[numbers.index(str(number))]
    shown = ", ".join(
        f"{one} {_title_of(lines)}" for one, lines in zip(numbers, tunes[:_MOST_LISTED], strict=False)
    )
    more = f", and {len(tunes) - _MOST_LISTED} more" if len(tunes) > _MOST_LISTED else ""
    said = f"has {len(tunes)} tunes" if number is None else f"has no tune X:{number}"
    raise ChartFileError(
        f"the file {said}",
        hint=f"choose one by its number with --tune: {shown}{more}",
        place=Place(file, tunes[0][0][0] if number is None else 1, 1),
    )


def _title_of(lines: _Lines) -> str:
    return next((cut(line[2:])[:40] for _, line in lines if line.startswith("T:")), "without a title")


class _Reader:
    """Reads a tune from line to line; ``bar`` is the one that is being filled."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.chart = ForeignChart(file, "ABC")
        self.meter = Meter(4, 4)
        self.unit: Fraction | None = None
        self.units_a_minute: Fraction | None = None
        self.in_body = False
        self.voice = ""
        self.voices: list[str] = []
        self.waiting: list[tuple[str, Place]] = []
        self.tuplet_left, self.tuplet_factor = 0, Fraction(1)
        self.last, self.next_factor = Fraction(0), Fraction(1)
        self.longest = Fraction(0)
        self.bar = ForeignBar(Place(file, 1, 1), self.meter)
        self.pitches = AbcPitches()
        self.passed_over: dict[str, Place] = {}

    def read(self, lines: _Lines) -> ForeignChart:
        for number, line in lines:
            found = FIELD.match(line)
            if line.startswith("%"):
                if line.startswith("%%") and not self.pitches.directive(line):
                    self.chart.leave(f"the directive {quoted(line.split('%%')[1])}", self._at(number))
            elif found is not None and not (self.in_body and found[1] in "GJMN" and "|" in found[2]):
                self._field(found[1], found[2], number, found.start(2))
            elif line.startswith("+:"):
                self.chart.leave(f"the line goes on with {quoted(line[2:])}", self._at(number))
            elif self.in_body:
                self._music(line, number)
            else:
                raise ChartFileError(
                    f"{quoted(line)} stands before the key of the tune",
                    hint="a tune's header ends with a line such as K:G, and music follows",
                    place=self._at(number),
                )
        if not self.in_body:
            raise ChartFileError(
                "the tune has no key", hint="write a line such as K:G before the music",
                place=self._at(lines[-1][0]),
            )  # fmt: skip
        self._end_bar("")
        for text, place in self.waiting:
            self.chart.leave(f"{quoted(text)} stands behind the last note", place)
        for name, place in self.passed_over.items():
            self.chart.leave(name, place)
        return self.chart

    def _at(self, line: int, column: int = 1) -> Place:
        return Place(self.file, line, column)

    # --- fields --------------------------------------------------------------------------------

    def _field(self, letter: str, written: str, line: int, column: int) -> None:
        place = self._at(line, column + 1)
        value = without_remark(written).strip()
        try:
            if letter == "K":
                self._key(value, place)
            elif letter == "M":
                self._meter(value, place)
            elif letter == "L":
                self._unit(value)
            elif letter == "Q":
                self._tempo(value, place)
            elif letter == "P":
                self._part(value)
            elif letter == "V":
                self.voice = (value.split() or [""])[0]
            elif letter == "T":
                self._title(value, place)
            elif letter in "wWs":
                what = "the words" if letter in "wW" else "the line of signs"
                self.chart.leave(f"{what} {quoted(value)}", place)
            elif letter in _CREDITS and not self.in_body:
                if value and len(self.chart.credits) < _MOST_CREDITS:
                    self.chart.credits.append(f"{_CREDITS[letter]}: {cut(value)}")
                elif value:
                    self.chart.leave(f"the {_CREDITS[letter]} {quoted(value)}", place)
            elif letter not in "XrI" or (letter == "I" and value):
                self.chart.leave(f"the field {letter}:{cut(value)}", place)
        except NotationError as error:
            raise ChartFileError(error.message, hint=error.hint, place=place) from None

    def _title(self, value: str, place: Place) -> None:
        if not self.chart.title:
            self.chart.title = clean(value).strip()
        elif value:
            self.chart.leave(f"a further title {quoted(value)}", place)

    def _key(self, value: str, place: Place) -> None:
        key = None
        if value.lower().startswith("hp"):
            self.chart.leave("the key of the bagpipes", place)
        else:
            key = key_of(value)
        with suppress(NotationError):
            self.pitches.set_key(value)
        if re.search(r"\bexp\b|\s[\^_=]", value):
            self.chart.leave(f"the accidentals of the key {quoted(value)}, which the melody has", place)
        if self.in_body:
            self._fresh_bar()
            self.bar.key = key
            return
        self.chart.key = key
        self.in_body = True
        self.unit = self.unit or usual_unit(self.meter)
        if self.units_a_minute is not None:
            self.chart.tempo = self.units_a_minute * self.unit
        self.bar = ForeignBar(place, self.meter)

    def _meter(self, value: str, place: Place) -> None:
        try:
            meter = meter_of(value)
        except NotationError:
            self.chart.leave(f"the meter {quoted(value)}; its bars are taken for bars of 4/4", place)
            meter = Meter(4, 4)
        if meter is None:
            self.chart.leave("it is in free meter; its bars are taken for bars of 4/4", place)
        self.meter = meter or Meter(4, 4)
        if self.in_body:
            self._fresh_bar()
            self.bar.meter = self.meter

    def _fresh_bar(self) -> None:
        """What comes now counts from the bar that comes next, if this one has begun."""
        if self.bar.length_beats:
            self._end_bar("")

    def _unit(self, value: str) -> None:
        above, _, below = value.partition("/")
        if not (above.strip().isdecimal() and (below.strip() or "1").isdecimal()):
            raise NotationError(f"'{value}' is not a note length", hint="write for example L:1/8")
        if not 1 <= int(below.strip()[:6] or 1) <= 512 or not 1 <= int(above.strip()[:6]) <= 16:
            raise NotationError(f"'{value}' is not a note length", hint="write for example L:1/8")
        self.unit = Fraction(4 * int(above.strip()), int(below.strip() or 1))

    def _tempo(self, value: str, place: Place) -> None:
        plain = re.sub(r'"[^"]*"', "", value).strip()
        for word in re.findall(r'"([^"]+)"', value):
            self.chart.leave(f"the tempo in words {quoted(word)}", place)
        lengths, sign, rate = plain.rpartition("=")
        number = re.fullmatch(r"\s*([0-9]{1,4}(?:\.[0-9]{1,3})?)\s*", rate)
        beats = sum(
            (Fraction(4 * int(a), int(b)) for a, b in re.findall(r"(\d{1,3})/([1-9]\d{0,2})", lengths)),
            Fraction(0),
        )
        if not plain:
            return
        if self.in_body and self.chart.bars and (number is None or not beats or not self.chart.tempo):
            self.chart.leave(f"the change of tempo {quoted(value)}", place)
        elif self.in_body and self.chart.bars and number is not None:
            self._fresh_bar()
            self.bar.tempo = _decimal(number[1]) * beats
        elif number is None or (sign and not beats):
            self.chart.leave(f"the tempo {quoted(value)}", place)
        elif not sign:
            self.units_a_minute = _decimal(number[1])
        else:
            self.chart.tempo = _decimal(number[1]) * beats

    def _part(self, value: str) -> None:
        if not self.in_body:
            self.chart.form = parts_of(value)
            return
        self._fresh_bar()
        self.bar.section = clean(value).strip() or None

    # --- music ---------------------------------------------------------------------------------

    def _music(self, line: str, number: int) -> None:
        at = 0
        # No note begins with a digit: at the head of a line it is an ending of the bar line before.
        if (first := ENDING.match(line)) is not None and not self.bar.length_beats:
            self._ending(first[1], self._at(number))
            at = first.end()
        while at < len(line):
            match = TOKEN.match(line, at)
            if match is None:  # pragma: no cover - TOKEN ends with any sign
                break
            at = match.end()
            place = self._at(number, match.start() + 1)
            kind = match.lastgroup
            if kind in ("note", "length", "chord_length", "bars", "bars_rest"):
                self._use_voice(place)
            if match["bar"]:
                following = ENDING.match(line, at)
                self._end_bar(match["bar"])
                if following is not None:
                    at = following.end()
                    self._ending(following[1], place)
                self.bar.place = self._at(number, at + 1)
            elif match["field"]:
                self._field(match["field"], match["value"], number, match.start("value"))
            elif match["ending"]:
                self._ending(match["ending"], place)
            else:
                self._word(match, place)

    def _word(self, match: re.Match[str], place: Place) -> None:
        if match["quoted"] is not None:
            self._quoted(match["quoted"], place)
        elif match["unclosed"]:
            raise ChartFileError(
                "the quote that opens here never closes",
                hint='write chord symbols as "Am7" on one line', place=place,
            )  # fmt: skip
        elif match["note"]:
            self._sound(length_of(match["length"]), [NOTE.fullmatch(match["note"] + match["length"])])
        elif match["chord"] is not None:
            heads = list(NOTE.finditer(match["chord"]))
            self._sound(length_of(heads[0][4]) * length_of(match["chord_length"]), heads)
        elif match["bars_rest"]:
            self._rest_of_bars(min(int(match["bars"] or 1), 2000), place)
        elif match["broken"]:
            self._broken(match["broken"])
        elif match["tuplet"]:
            self.tuplet_factor, self.tuplet_left = tuplet(
                int(match["tuplet"]), match["in_time_of"], match["notes"], self.meter
            )
        elif match["overlay"]:
            self.longest = max(self.longest, self.bar.length_beats)
            self.bar.length_beats = Fraction(0)
            self.chart.leave("a second voice inside the bar", place)
        elif mark := match["mark"] or match["old_mark"]:
            if (name := decoration(mark)) is not None:
                add_sign(self._bar_of_sign(name), name, place)
            elif mark.lower() == "fermata":
                self.chart.leave(f"the sign {quoted(mark)}", place)
            else:
                self.passed_over.setdefault("ornaments and other signs over notes", place)
        elif match["grace"]:
            self.passed_over.setdefault("grace notes", place)
        elif match["silent"] == "-":
            self._tie()
        elif match["silent"] in ("(", ")"):
            self.passed_over.setdefault("slurs", place)
        elif match["silent"]:
            self.passed_over.setdefault("ornaments and other signs over notes", place)
        elif match["stray"]:
            self.chart.leave(f"the sign {quoted(match['stray'])}", place)

    def _use_voice(self, place: Place) -> None:
        if not self.bar.length_beats:
            self.bar.place = place
        if self.voice not in self.voices:
            self.voices.append(self.voice)
        if len(self.voices) > 1:
            raise ChartFileError(
                f"the tune has a second voice, V:{cut(self.voice)[:20]}",
                hint="leave one voice in the file, the one with the chord symbols",
                place=place,
            )

    def _quoted(self, text: str, place: Place) -> None:
        """A chord symbol, a sign of a jump, or words, which begin with a sign of their place."""
        if (name := sign_in_words(text.strip().lstrip("^_<>@"))) is not None:
            add_sign(self._bar_of_sign(name), name, place)
        elif text.strip() and text.lstrip()[0] not in "^_<>@":
            self.waiting.append((text.strip(), place))
        elif text.strip():
            self.chart.leave(f"the words {quoted(text.strip()[1:])}", place)

    def _bar_of_sign(self, name: str) -> ForeignBar:
        """The bar that is being filled; behind a bar line the one before, for what stands behind."""
        is_behind = not stands_before(name) and not self.bar.length_beats and self.chart.bars
        return self.chart.bars[-1] if is_behind else self.bar

    def _tie(self) -> None:
        if self.bar.notes:
            self.bar.notes[-1] = replace(self.bar.notes[-1], ties=True)

    def _sound(self, units: Fraction, heads: Sequence[re.Match[str] | None]) -> None:
        assert self.unit is not None
        beats = units * self.unit * self.next_factor
        self.next_factor = Fraction(1)
        if self.tuplet_left:
            self.tuplet_left -= 1
            beats *= self.tuplet_factor
        self._place_symbols()
        onset = self.bar.length_beats
        pitches = {
            self.pitches.pitch(head, onset) for head in heads if head is not None and head[2] not in "zx"
        }
        if pitches and beats > 0 and not self.longest:
            ordered = tuple(sorted(pitches, key=lambda pitch: pitch.midi))
            ties = any(head is not None and head[5] for head in heads)
            self.bar.notes.append(ForeignNote(onset, beats, ordered, ties))
        self.bar.length_beats += beats
        self.last = beats

    def _place_symbols(self) -> None:
        onset = self.bar.length_beats
        for index, (text, place) in enumerate(self.waiting):
            if index:
                add_other_symbol(self.chart, self.bar, text, place)
            else:
                add_symbol(self.chart, self.bar, text, onset, place)
        self.waiting.clear()

    def _broken(self, signs: str) -> None:
        first, self.next_factor = broken(signs)
        if self.bar.notes and self.bar.notes[-1].end_beats == self.bar.length_beats:
            self.bar.notes[-1] = replace(self.bar.notes[-1], length_beats=self.last * first)
        self.bar.length_beats += self.last * (first - 1)

    def _rest_of_bars(self, count: int, place: Place) -> None:
        for number in range(count):
            if number:
                self._end_bar("|")
                self.bar.place = place
            self._place_symbols()
            self.bar.length_beats += self.meter.bar_beats

    def _ending(self, written: str, place: Place) -> None:
        if self.bar.length_beats:
            self._end_bar("")
            self.bar.place = place
        self.bar.ending = endings(written)

    def _end_bar(self, sign: str) -> None:
        """What a bar line does. ``sign`` is the line as written, empty for an end without one."""
        bar = self.bar
        bar.length_beats = max(bar.length_beats, self.longest)
        self.longest = Fraction(0)
        self.pitches.end_bar(
            {
                pitch
                for one in bar.notes[-1:]
                if one.ties and one.end_beats == bar.length_beats
                for pitch in one.pitches
            }
        )
        # A bar line before the first note of an ending or a part does not end it.
        if bar.length_beats or bar.symbols:
            self.chart.add_bar(bar)
            self.bar = ForeignBar(bar.place, self.meter)
        self.next_factor, self.tuplet_left = Fraction(1), 0
        before, after = repeat_dots(sign)
        if before and self.chart.bars:
            self.chart.bars[-1].passes = min(before + 1, MAX_PASSES)
            open_repeat(self.chart.bars)
        if after:
            self.bar.opens = True
        if self.chart.bars and divides(sign):
            self.chart.bars[-1].divides = True


def _decimal(text: str) -> Fraction:
    whole, _, part = text.partition(".")
    return Fraction(int(whole + part), 10 ** len(part))
