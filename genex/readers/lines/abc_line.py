"""A line in ABC [published: ABC standard v2.1, abcnotation.com]: its notes, as they sound.

Fields are optional: without ``K:`` the key that is handed in gives the signature, without ``M:`` each
bar has the meter of the bar that it is read for, and without ``L:`` the unit is an eighth, in meters
below 3/4 a sixteenth. What is not read is refused with its place.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from genex.errors import NotationError, Place
from genex.exact import Fraction
from genex.plain_text import clean
from genex.readers.charts.abc_music import (
    ENDING,
    FIELD,
    TOKEN,
    broken,
    divides,
    endings,
    length_of,
    meter_of,
    repeat_dots,
    tune_number,
    tuplet,
    usual_unit,
    without_remark,
)
from genex.readers.charts.abc_pitch import NOTE, AbcPitches
from genex.readers.charts.foreign_chart import MAX_BARS, MAX_PASSES, ForeignBar, open_repeat, quoted
from genex.readers.lines.abc_words import syllables
from genex.readers.lines.marks import ABC_DECORATIONS, ABC_SIGNS, LOUDNESS, MARKS, with_marks
from genex.readers.lines.places import Locate
from genex.readers.lines.typed_line import (
    Measure,
    TypedChord,
    TypedLine,
    TypedNote,
    assembled,
    refuse,
)
from genex.score import Meter, Note
from genex.theory import Key

_SILENT_FIELDS = "ABCDFGHNOQRSTXZrm"
"""Fields that tell where a tune comes from, and its tempo, which is the recipe's."""
_TIED = re.compile(r"\s*-(?!-)")
_REFUSED = {
    "grace": ("grace notes are not read", "write the note with a length, or '!slide!' before its note"),
    "overlay": ("a second voice is not read", "write one voice: notes together stand in brackets, [CE]"),
    "bars_rest": ("rests of whole bars are written as Z alone", "write one Z for each bar"),
    "unclosed": ("the quote that opens here never closes", 'write chord symbols as "Am7"'),
}


def read_abc_line(
    text: str, locate: Locate, meters: Sequence[Meter], key: Key, number: int | None = None
) -> TypedLine:
    """The line of one tune. ``number`` is that behind X: where there are several; ``meters`` are those
    of the bars that it is read for.

    Raises ChartFileError with line and column.
    """
    return _Reader(locate, meters, key).read(_tune(text, locate, number))


_Lines = list[tuple[int, str]]


def _tune(text: str, locate: Locate, number: int | None) -> _Lines:
    """The numbered lines of a tune; all of them where none is numbered."""
    lines = list(enumerate(text.splitlines(), start=1))
    starts = [index for index, (_, line) in enumerate(lines) if line.startswith("X:")]
    if not starts:
        if number is not None:
            raise refuse("no tune here has a number", "leave 'number' away", locate(1, 1))
        return lines
    numbers = {tune_number(lines[at][1]): at for at in reversed(starts)}
    if number is None and len(starts) > 1:
        raise refuse(
            f"there are {len(starts)} tunes",
            f"choose one with 'number: {next(iter(reversed(numbers)))}'",
            locate(lines[starts[1]][0], 1),
        )
    start = starts[0] if number is None else numbers.get(str(number))
    if start is None:
        raise refuse(f"there is no tune X:{number}", f"there are: {' '.join(numbers)}", locate(1, 1))
    head = [line for line in lines[: starts[0]] if re.match(r"[MLI]:|%%", line[1])]
    tune: _Lines = []
    for line in lines[start:]:
        if tune and (not line[1].strip() or line[1].startswith("X:")):
            break
        tune.append(line)
    return head + tune


@dataclass(slots=True)
class _Slot:
    """A place for a syllable: where in the measures a note, or notes together, were written."""

    measure: Measure
    first: int


class _Reader:
    """Reads line after line; ``measure`` is the bar that is being filled."""

    def __init__(self, locate: Locate, meters: Sequence[Meter], key: Key) -> None:
        self.locate = locate
        self.around, self.meter, self.key = meters, meters[0], key
        self.says_meter = False
        self.said_key: Key | None = None
        self.unit: Fraction | None = None
        self.pitches = AbcPitches(key)
        self.velocity = LOUDNESS["mf"]
        self.measures: list[Measure] = []
        self.marks: list[tuple[str, Place]] = []
        self.finger: int | None = None
        self.chord: tuple[str, Place] | None = None
        self.slurs: list[bool] = []  # those that are open; whether its first note is still to come
        self.voice: str | None = None
        self.tuplet_left, self.tuplet_factor = 0, Fraction(1)
        self.last: tuple[Measure, int, Fraction] | None = None
        self.next_factor = Fraction(1)
        self.slots: list[_Slot] = []
        self.has_words = False
        self.line = 1
        self.measure = Measure(ForeignBar(locate(1, 1), self.meter))

    def read(self, lines: _Lines) -> TypedLine:
        for number, line in lines:
            self.line = number
            found = FIELD.match(line)
            if self.pitches.directive(line):
                continue
            if line.startswith("%") or not line.strip():
                continue
            if found is not None and not ("|" in found[2].replace("C|", "") and found[1] in "GJMN"):
                self._field(found[1], found[2], found.start(2))
            else:
                self._music(line)
        self._end_bar("")
        if self.marks or self.chord:
            place = self.marks[0][1] if self.marks else self.chord[1] if self.chord else None
            assert place is not None
            raise refuse("no note follows this sign", "a sign stands right before its note", place)
        return assembled(self.measures, self.around, says_meter=self.says_meter, key=self.said_key)

    def _at(self, column: int) -> Place:
        return self.locate(self.line, column)

    # --- fields --------------------------------------------------------------------------------

    def _field(self, letter: str, written: str, column: int) -> None:
        place = self._at(column + 1)
        value = without_remark(written).strip()
        try:
            if letter == "K":
                self._set_key(value)
            elif letter == "M":
                self._set_meter(value)
            elif letter == "L":
                self.unit = _unit(value)
            elif letter == "V":
                self._set_voice(value)
            elif letter == "w":
                self._words(written, column)
            elif letter in "IW" or (letter == "P" and self.measures and len(value) < 2):
                return
            elif letter == "P" and value:
                raise NotationError(
                    "the order of parts is not played", hint="write the line as it is played, without P:"
                )
            elif letter not in _SILENT_FIELDS:
                raise NotationError(
                    f"the field {letter}: is not read", hint="a line has the fields L: K: M: and w:"
                )
        except NotationError as error:
            raise refuse(error.message, error.hint or "", place) from None

    def _set_key(self, value: str) -> None:
        key = self.pitches.set_key(value)
        if self.said_key is None and not self.measures:
            self.said_key = key

    def _set_meter(self, value: str) -> None:
        meter = meter_of(value)
        if meter is None:
            raise NotationError("free meter is not read", hint="write for example M:4/4")
        if self.measure.bar.length_beats:
            self._end_bar("")
        self.meter, self.says_meter = meter, True
        self.measure.bar.meter = meter

    def _set_voice(self, value: str) -> None:
        name = (value.split() or [""])[0]
        if self.voice is None:
            self.voice = name
        elif name != self.voice:
            raise NotationError("a second voice is not read", hint="leave one voice, V: is not needed")

    # --- music ---------------------------------------------------------------------------------

    def _music(self, line: str) -> None:
        self.slots = []
        self.has_words = False
        at = 0
        if (first := ENDING.match(line)) is not None and not self.measure.bar.length_beats:
            self.measure.bar.ending = endings(first[1])
            at = first.end()
        while at < len(line):
            match = TOKEN.match(line, at)
            assert match is not None, "TOKEN ends with any sign"
            at = match.end()
            if match["bar"]:
                following = ENDING.match(line, at)
                self._end_bar(match["bar"])
                if following is not None:
                    at = following.end()
                    self.measure.bar.ending = endings(following[1])
                self.measure.bar.place = self._at(at + 1)
            elif match["ending"]:
                self._end_bar("")
                self.measure.bar.ending = endings(match["ending"])
            elif match["field"]:
                self._field(match["field"], match["value"], match.start("value"))
            elif match["note"] or match["chord"] is not None:
                tie = _TIED.match(line, at)
                self._sound(match, is_tied=tie is not None)
                at = tie.end() if tie is not None else at
            else:
                self._sign(match)

    def _sign(self, match: re.Match[str]) -> None:
        place = self._at(match.start() + 1)
        kind = match.lastgroup
        if match["quoted"] is not None:
            text = match["quoted"].strip()
            if text[:1] in ("^", "_", "<", ">", "@"):
                raise refuse(
                    f"the words {quoted(text[1:])} are not read", "leave words over the line out", place
                )
            if text:
                self.chord = (text, place)
        elif match["bars_rest"] and (match["bars"] or "1") == "1":
            self._place_chord()
            self.measure.bar.length_beats += self.meter.bar_beats
            self.measure.rests = not self.measure.notes
        elif match["broken"]:
            self._broken(match["broken"], place)
        elif match["tuplet"]:
            self.tuplet_factor, self.tuplet_left = tuplet(
                int(match["tuplet"]), match["in_time_of"], match["notes"], self.meter
            )
        elif match["mark"] is not None or match["old_mark"] is not None:
            self._mark(clean(match["mark"] or match["old_mark"] or ""), place)
        elif match["silent"]:
            self._short_sign(match["silent"], place)
        elif kind in _REFUSED or match["bars_rest"]:
            raise refuse(*_REFUSED["bars_rest" if match["bars_rest"] else str(kind)], place)
        elif match["stray"]:
            raise refuse(
                f"{quoted(match['stray'])} is no sign of ABC",
                "notes are letters, C to B and c to b, z is a rest",
                place,
            )

    def _short_sign(self, sign: str, place: Place) -> None:
        if sign == "(":
            self.slurs.append(True)
        elif sign == ")":
            if not self.slurs:
                raise refuse("no slur is open here", "a slur opens before its first note: (AB)", place)
            self.slurs.pop()
        elif sign in ABC_SIGNS:
            self.marks.append((ABC_SIGNS[sign], place))
        elif sign == "-":
            raise refuse("no note stands before this tie", "a tie stands right behind its note", place)
        else:
            raise refuse(
                f"the sign {quoted(sign)} is not read",
                f"notes are C to B and c to b, rests z; before them may stand {' '.join(ABC_SIGNS)}",
                place,
            )

    def _mark(self, name: str, place: Place) -> None:
        if name in LOUDNESS:
            self.velocity = LOUDNESS[name]
        elif name in ("0", "1", "2", "3", "4"):
            self.finger = int(name)
        elif name in ABC_DECORATIONS:
            self.marks.append((ABC_DECORATIONS[name], place))
        else:
            raise refuse(
                f"the sign !{name}! is not read",
                f"write one of: {' '.join(f'!{one}!' for one in MARKS)}, or a finger such as !2!",
                place,
            )

    def _sound(self, match: re.Match[str], *, is_tied: bool) -> None:
        """A note, notes together, or a rest."""
        place = self._at(match.start() + 1)
        if not self.measure.bar.length_beats and not self.measure.notes:
            self.measure.bar.place = place
        if match["chord"] is None:
            heads = [NOTE.fullmatch(match["note"] + match["length"])]
            units = length_of(match["length"])
        else:
            heads = self._heads(match["chord"], match.start("chord"))
            first = heads[0]
            assert first is not None
            units = length_of(first[4]) * length_of(match["chord_length"])
        self.unit = self.unit or usual_unit(self.meter)  # that of the meter that the line begins in
        length = units * self.unit * self.next_factor
        self.next_factor = Fraction(1)
        if self.tuplet_left:
            self.tuplet_left -= 1
            length *= self.tuplet_factor
        self._place_chord()
        onset = self.measure.bar.length_beats
        first_index = len(self.measure.notes)
        sounding = [head for head in heads if head is not None and head[2] not in "zx"]
        if length <= 0 and sounding:
            raise refuse("a note must last", "write its length behind it, for example C2 or C/", place)
        for head in sounding:
            pitch = self.pitches.pitch(head, onset)
            note = Note(onset, length, pitch, self.velocity)
            finger = self.finger if len(sounding) == 1 else None
            one = TypedNote(note, place, finger=finger, ties=is_tied or head[5] == "-")
            self.measure.notes.append(self._marked(one))
        if sounding:
            self.slots.append(_Slot(self.measure, first_index))
            self.marks, self.finger = [], None
            self.slurs = [False] * len(self.slurs)
        elif self.marks:
            raise refuse("a rest has no sign", "a sign stands before a note", self.marks[0][1])
        self.last = (self.measure, first_index, length)
        self.measure.bar.length_beats += length

    def _marked(self, one: TypedNote) -> TypedNote:
        names = [name for name, _ in self.marks]
        if False in self.slurs:
            names.append("slur")
        return with_marks(one, names)

    def _heads(self, chord: str, start: int) -> list[re.Match[str] | None]:
        """The notes inside brackets, which all last as long as the first [published: 4.17]."""
        found: list[re.Match[str] | None] = []
        at = 0
        while at < len(chord):
            if chord[at].isspace():
                at += 1
                continue
            head = NOTE.match(chord, at)
            if head is None or head[2] in "zx":
                raise refuse(
                    f"{quoted(chord[at])} is no note of a chord",
                    "inside brackets stand notes only, as in [CEG]",
                    self._at(start + at + 1),
                )
            found.append(head)
            at = head.end()
        return found

    def _place_chord(self) -> None:
        if self.chord is not None:
            onset = self.measure.bar.length_beats
            self.measure.chords.append(TypedChord(onset, *self.chord))
            self.chord = None

    def _broken(self, signs: str, place: Place) -> None:
        if self.last is None:
            raise refuse("no note stands before this sign", "broken rhythm joins two notes: A>B", place)
        first, self.next_factor = broken(signs)
        measure, index, length = self.last
        measure.bar.length_beats += length * (first - 1)
        for at in range(index, len(measure.notes)):
            one = measure.notes[at]
            measure.notes[at] = replace(one, note=replace(one.note, duration_beats=length * first))

    def _end_bar(self, sign: str) -> None:
        """What a bar line does. ``sign`` is the line as written, empty for an end without one."""
        bar = self.measure.bar
        if bar.length_beats:
            if len(self.measures) >= MAX_BARS:
                raise refuse(f"the line has more than {MAX_BARS} bars", "take a piece of it", bar.place)
            self.measures.append(self.measure)
            self.pitches.end_bar(
                {
                    one.note.pitch
                    for one in self.measure.notes
                    if one.ties and one.note.written_end_beats == bar.length_beats
                }
            )
            self.measure = Measure(ForeignBar(bar.place, self.meter))
        self.next_factor, self.tuplet_left, self.last = Fraction(1), 0, None
        before, after = repeat_dots(sign)
        if before and self.measures:
            self.measures[-1].bar.passes = min(before + 1, MAX_PASSES)
            open_repeat([measure.bar for measure in self.measures])
        if after:
            self.measure.bar.opens = True
        if self.measures and divides(sign):
            self.measures[-1].bar.divides = True

    # --- words ---------------------------------------------------------------------------------

    def _words(self, written: str, column: int) -> None:
        """Syllables for the notes of the line of music before [published: ABC v2.1, 5.1]."""
        if self.has_words or not self.slots:
            raise refuse(
                "these words have no line of notes to stand under"
                if not self.slots
                else "a second line of words is not printed",
                "write one line of words under each line of notes",
                self._at(column + 1),
            )
        self.has_words = True
        at = 0
        for syllable, start in syllables(written):
            if syllable == "|":
                while 0 < at < len(self.slots) and self.slots[at].measure is self.slots[at - 1].measure:
                    at += 1
                continue
            if at >= len(self.slots):
                raise refuse(
                    f"the syllable {quoted(syllable)} has no note",
                    f"the line of music has {len(self.slots)} notes",
                    self._at(column + start + 1),
                )
            if syllable:
                slot = self.slots[at]
                top = slot.measure.notes[slot.first]
                slot.measure.notes[slot.first] = replace(top, note=replace(top.note, syllable=syllable))
            at += 1


def _unit(value: str) -> Fraction:
    match = re.fullmatch(r"([1-9]|1[0-6])(?:\s*/\s*(1|2|4|8|16|32|64|128))?", value)
    if match is None:
        raise NotationError(f"'{value}' is not a note length", hint="write for example L:1/8")
    return Fraction(4 * int(match[1]), int(match[2] or 1))
