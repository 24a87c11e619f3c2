"""A line in tab, as genex prints it and as people type it.

What is read of a line of tab, from top to bottom: chord symbols; note values in letters (``q`` quarter,
``e`` eighth, ``.`` dotted, ``3`` triplet, ``r`` rest, ``~`` tied); signs; strings; fingers; syllables.
A meter behind the number of a bar holds from there on. Moves of the hand and degrees are passed over, as
is everything before the first strings.
Without note values the columns of a bar part it evenly, and a note lasts until the next one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from genex.errors import Place
from genex.exact import Fraction
from genex.fretboard import Tuning, pitch_at
from genex.lines.counting import SYLLABLES
from genex.plain_text import clean
from genex.readers.charts.foreign_chart import ForeignBar, quoted
from genex.readers.lines.marks import LOUDNESS, with_marks
from genex.readers.lines.places import Locate
from genex.readers.lines.tab_words import (
    are_degrees,
    by_string,
    english_symbol,
    is_chord,
    length_of,
    meters_of,
    names_meant,
    names_of_string,
    time_at,
    tokens_of,
)
from genex.readers.lines.typed_line import (
    Measure,
    TypedChord,
    TypedLine,
    TypedNote,
    assembled,
    refuse,
)
from genex.score import BASE_VALUES, TUPLETS, Meter, Note
from genex.theory import Key, NoteNames

_NAME = "[A-Ha-h](?:[b#]|[ie]?s)?|(?:[Dd][oó]|[Rr][eé]|[Mm]i|[Ff][aá]|[Ss]ol|[Ll][aá]|[Ss]i)[♭♯]?"
_ROW = re.compile(rf"\s*(?P<name>{_NAME})?\s*(?P<row>[|:].*-.*[|:])\s*$")
_PLAYED = re.compile(
    r"(?P<sign>[(/\\hp]?)(?P<fret>\d+|[xX])(?P<bend>b\d*)?(?P<release>r\d*)?(?P<vibrato>~?)\)?"
)
_QUIET = set("-|: ")
_LETTERS = "".join(base.letter for base in BASE_VALUES)
_PLAIN = rf"[{_LETTERS}]\.{{0,2}}[{''.join(map(str, TUPLETS))}]?"
_VALUE = re.compile(rf"rest|~|r?(?:{_PLAIN}(?:~{_PLAIN})*|\d{{1,3}}/\d{{1,3}})~?")
_SIGNS = {
    "!": "accent", ">": "accent", "'": "staccato", ".": "staccato", "o": "ghost", "L": "let-ring",
}  # fmt: skip
_BEFORE = {"/": "slide-up", "\\": "slide-down", "h": "hammer-on", "p": "pull-off"}
_STROKES = {"d": "down", "u": "up"}
_BENDS = {(1, False): "half-bend", (2, False): "bend", (1, True): "half-bend-release",
          (2, True): "bend-release"}  # fmt: skip
_COUNTED = frozenset(name for names in SYLLABLES.values() for name in names)
_HAND_SIGNS = frozenset("=<>")
_COLUMN_BEATS = frozenset(Fraction(n, d) for n in (1, 2, 3) for d in (1, 2, 3, 4, 6, 8, 12))
"""How much of a beat a column may stand for, where columns alone tell the time."""


def read_tab_line(
    text: str,
    locate: Locate,
    meters: Sequence[Meter],
    key: Key,
    tuning: Tuning,
    *,
    note_names: NoteNames = "english",
) -> TypedLine:
    """The line that a tab for a tuning holds; ``meters`` are those of the bars that it is read for.

    ``note_names`` are those of the chord symbols above it. Raises ChartFileError with line and column.
    """
    return _Reader(text, locate, meters, key, tuning, note_names).read()


@dataclass
class _Struck:
    """What stands in a column: fret (None for a dead note) and sign by string."""

    frets: dict[int, tuple[int | None, str]] = field(default_factory=dict)
    value: str = ""
    marks: list[str] = field(default_factory=list)
    own: dict[int, list[str]] = field(default_factory=dict)
    fingers: dict[int, int] = field(default_factory=dict)
    syllable: str = ""

    @property
    def ties(self) -> bool:
        return self.value.endswith("~")


class _Reader:
    def __init__(
        self,
        text: str,
        locate: Locate,
        meters: Sequence[Meter],
        key: Key,
        tuning: Tuning,
        note_names: NoteNames,
    ) -> None:
        self.lines = [line.rstrip().expandtabs(8) for line in text.splitlines()]
        self.locate, self.around, self.key, self.tuning = locate, meters, key, tuning
        self.note_names = note_names
        self.said_meter: Meter | None = None
        self.measures: list[Measure] = []
        self.tied: set[tuple[int, int]] = set()
        self.hand = 0
        self.counts = False

    def read(self) -> TypedLine:
        systems = list(self._systems())
        if not systems:
            raise refuse(
                "there is no tab here",
                f"write {len(self.tuning.strings)} lines such as e |--5--7--|, the highest string first",
                self.locate(1, 1),
            )
        self.counts = any(self._counts(below) for _, _, below in systems)
        for start, above, below in systems:
            self._system(start, above, below)
        return assembled(self.measures, self.around, says_meter=self.said_meter is not None)

    def _at(self, line: int, column: int) -> Place:
        return self.locate(line + 1, column + 1)

    # --- rows ----------------------------------------------------------------------------------

    def _systems(self) -> Iterator[tuple[int, range, range]]:
        """The first string of each line of tab, and the rows above and below its strings."""
        count = len(self.tuning.strings)
        at, free = 0, 0
        while at < len(self.lines):
            if _ROW.match(self.lines[at]) is None:
                free = at + 1 if not self.lines[at] else free
                at += 1
                continue
            end = at
            while end < len(self.lines) and _ROW.match(self.lines[end]) is not None:
                end += 1
            if (end - at) % count:
                raise refuse(
                    f"{end - at} strings stand here together, and the instrument has {count}",
                    "write a line for every string, and an empty line between two lines of tab",
                    self._at(at, 0),
                )
            for start in range(at, end, count):
                last = start + count
                below = last
                while last == end and below < len(self.lines) and self.lines[below]:
                    below += 1
                yield start, range(free, start), range(last, below)
                free = below
            at = max(end, free)

    def _system(self, start: int, above: range, below: range) -> None:
        count = len(self.tuning.strings)
        rows = [self._row(start + number, number) for number in range(count)]
        edges = {column: sign for column, sign in rows[0].items() if sign in "|:"}
        for number, row in enumerate(rows):
            found = {column: sign for column, sign in row.items() if sign in "|:"}
            if found != edges:
                column = min(set(found.items()) ^ set(edges.items()))[0]
                raise refuse(
                    "the bar lines do not stand under one another",
                    "give every string of a line the same columns",
                    self._at(start + number, column),
                )
        struck = self._struck(start)
        values = self._values(above)
        if values is not None:
            self._give_values(struck, values, start)
            above = range(above.start, values[0])
        self._give_signs(struck, range(values[0] + 1 if values else above.start, start))
        self._give_below(struck, below)
        chords = self._chords(above)
        meters = dict(pair for line in above for pair in meters_of(self.lines[line]))
        columns = sorted(edges)
        if edges[columns[0]] == ":" and not self.measures:
            raise refuse(
                "a bar begins with |", "write | before the first note", self._at(start, columns[0])
            )
        for left, right in pairwise(columns):
            inside = {column: one for column, one in struck.items() if left < column < right}
            if right == left + 1 and not inside:
                continue  # a double bar line
            if edges[left] == "|":
                self._new_bar(self._at(start, left), meters.get(left))
            self._segment(start, left, right, inside, chords, is_timed=values is not None)

    def _row(self, line: int, number: int) -> dict[int, str]:
        """The signs of a string's row by column, its name checked and left out."""
        match = _ROW.match(self.lines[line])
        assert match is not None
        if match["name"]:
            wanted = self.tuning.strings[number].name
            names = names_of_string(match["name"])
            if all(name.pitch_class != wanted.pitch_class for name in names):
                raise refuse(
                    f"string {number + 1} is {wanted} in this tuning, and {names[0]} here",
                    "write the tab for the recipe's tuning, or the recipe's tuning for the tab",
                    self._at(line, match.start("name")),
                )
        first = match.start("row")
        row = dict(enumerate(match["row"], start=first))
        for column, sign in row.items():
            if sign not in _QUIET and not sign.isdigit() and sign not in "xX()/\\hpbr~":
                raise refuse(
                    f"the sign {quoted(sign)} is not read",
                    "on strings stand frets and x, / \\ h p before, b r ~ behind and ( ) round them",
                    self._at(line, column),
                )
        return row

    def _struck(self, start: int) -> dict[int, _Struck]:
        found: dict[int, _Struck] = {}
        for number in range(len(self.tuning.strings)):
            line = self.lines[start + number]
            match = _ROW.match(line)
            assert match is not None
            for played in _PLAYED.finditer(line, match.start("row")):
                column = played.start("fret")
                fret = None if played["fret"] in "xX" else int(played["fret"][:3])
                if fret is not None and fret > self.tuning.last_fret:
                    raise refuse(
                        f"there is no fret {fret} on this neck",
                        f"frets run from 0 to {self.tuning.last_fret}",
                        self._at(start + number, column),
                    )
                one = found.setdefault(column, _Struck())
                one.frets[number + 1] = fret, played["sign"]
                one.own[number + 1] = list(self._behind(played, fret, start + number))
        return found

    def _behind(self, played: re.Match[str], fret: int | None, line: int) -> Iterator[str]:
        """Marks behind a fret: bends, named by the fret that sounds then, and vibrato."""
        if played["bend"]:
            to = int(played["bend"][1:3] or 0) or (fret or 0) + 2
            name = _BENDS.get((to - (fret or 0), played["release"] is not None))
            if fret is None or name is None:
                raise refuse(
                    "a bend goes up by one or two frets",
                    "write b and the fret that it sounds like: 7b9, let back 7b9r7",
                    self._at(line, played.start("bend")),
                )
            yield name
        elif played["release"]:
            raise refuse(
                "nothing is bent that could be let back",
                "write 7b9r7",
                self._at(line, played.start("release")),
            )
        if played["vibrato"]:
            yield "vibrato"

    def _values(self, above: range) -> tuple[int, dict[int, str]] | None:
        """The row of note values, if there is one, by column."""
        for line in reversed(above):
            tokens = tokens_of(self.lines[line])
            if tokens and all(_VALUE.fullmatch(token) for token in tokens.values()):
                return line, tokens
        return None

    def _give_values(
        self, struck: dict[int, _Struck], values: tuple[int, dict[int, str]], start: int
    ) -> None:
        line, tokens = values
        for column in sorted(struck):
            if column in tokens:
                continue
            # Numbers of two digits and of one in a chord begin in neighbouring columns.
            near = next((c for c in (column - 1, column + 1) if c in tokens), None)
            if near is None:
                string = min(struck[column].frets)
                raise refuse(
                    "no note value stands above this fret",
                    "write a letter in its column: q quarter, e eighth, s sixteenth, h half, w whole",
                    self._at(start + string - 1, column),
                )
            moved = struck.pop(column)
            struck.setdefault(near, _Struck()).frets |= moved.frets
            struck[near].own |= moved.own
        for column, token in tokens.items():
            is_silent = token == "~" or token.startswith("r")
            if is_silent == (column in struck):
                said = "a rest stands above a fret" if is_silent else "no fret stands below this value"
                raise refuse(said, "a rest is written with r before it: rq", self._at(line, column))
            struck.setdefault(column, _Struck()).value = token

    def _give_signs(self, struck: Mapping[int, _Struck], rows: range) -> None:
        for line in rows:
            tokens = tokens_of(self.lines[line])
            if all(set(token) <= _SIGNS.keys() for token in tokens.values()):
                for column, token in tokens.items():
                    if column in struck:
                        struck[column].marks += [_SIGNS[sign] for sign in token]

    def _give_below(self, struck: Mapping[int, _Struck], rows: range) -> None:
        """Strokes, fingers and syllables; moves of the hand and degrees are passed over."""
        has_fingers = False
        for line in rows:
            tokens = tokens_of(self.lines[line])
            is_count = self.counts and line == rows.stop - 1
            if tokens and all(text in _STROKES for text in tokens.values()):
                for column, text in tokens.items():
                    if column in struck:
                        struck[column].marks.append(_STROKES[text])
                continue
            if all(text in _HAND_SIGNS for text in tokens.values()):
                continue
            if not is_count and not has_fingers and self._are_fingers(tokens, struck):
                has_fingers = True
                for column, text in tokens.items():
                    struck[column].fingers = by_string(text, struck[column].frets)
            elif is_count or not are_degrees(tokens):
                for column, text in tokens.items():
                    if column not in struck:
                        raise refuse(
                            f"no note stands above {quoted(text)}",
                            "a syllable or a finger begins in the column of its fret",
                            self._at(line, column),
                        )
                    struck[column].syllable = clean(text)

    def _counts(self, rows: range) -> bool:
        """Whether the last row below the strings counts: it does so everywhere then, in numbers too."""
        tokens = tokens_of(self.lines[rows[-1]]) if rows else {}
        said = [text for text in tokens.values() if not re.fullmatch(r"[b#]{0,2}\d+|[du=<>]", text)]
        return bool(said) and all(text in _COUNTED for text in said)

    @staticmethod
    def _are_fingers(tokens: Mapping[int, str], struck: Mapping[int, _Struck]) -> bool:
        def fits(column: int, text: str) -> bool:
            one = struck.get(column)
            if one is None or not re.fullmatch(r"[0-4]+", text) or len(text) != len(one.frets):
                return False
            opens = sum(fret == 0 for fret, _ in one.frets.values())
            return text.count("0") == opens or None in [fret for fret, _ in one.frets.values()]

        return all(fits(column, text) for column, text in tokens.items())

    def _chords(self, above: range) -> dict[int, TypedChord]:
        """The row of chord symbols by column, with places; empty where there is none."""
        for line in reversed(above):
            tokens = tokens_of(self.lines[line])
            if not tokens:
                continue
            read = {column: english_symbol(text, self.note_names) for column, text in tokens.items()}
            if all(map(is_chord, read.values())):
                return {
                    column: TypedChord(Fraction(0), text, self._at(line, column))
                    for column, text in read.items()
                }
            if (names := names_meant(list(tokens.values()))) is not None:
                column = next(column for column, text in read.items() if not is_chord(text))
                raise refuse(
                    f"{quoted(tokens[column])} is no chord symbol by {self.note_names} names",
                    f"write 'note_names: {names}' in the recipe, or the chords with "
                    f"{self.note_names} names",
                    self._at(line, column),
                )
        return {}

    # --- bars ----------------------------------------------------------------------------------

    def _segment(
        self,
        start: int,
        left: int,
        right: int,
        inside: Mapping[int, _Struck],
        chords: Mapping[int, TypedChord],
        *,
        is_timed: bool,
    ) -> None:
        measure = self.measures[-1]
        columns = sorted(inside)
        begun = measure.bar.length_beats
        meter = measure.bar.meter
        times = (
            self._times(inside, meter, begun)
            if is_timed
            else self._even(start, left, right, columns, meter)
        )
        for column in columns:
            one = inside[column]
            if one.value == "~":
                continue
            onset, length = times[column]
            for string in sorted(one.frets, reverse=True):
                self._note(measure, one, string, onset, length, self._at(start + string - 1, column))
            ends = one.frets.items() if one.ties else ()
            self.tied = {(string, fret) for string, (fret, _) in ends if fret is not None}
        for column, chord in chords.items():
            if left <= column < right:
                onset = time_at(column, times, right) if times else begun
                measure.chords.append(replace(chord, onset_beats=onset))
        if is_timed:
            measure.bar.length_beats += sum((length for _, length in times.values()), Fraction(0))
        else:
            measure.bar.length_beats = measure.bar.meter.bar_beats

    def _new_bar(self, place: Place, said: Meter | None) -> None:
        """A bar in the meter that is said with its number, or in that of the bar that it is read for."""
        if said is not None and self.said_meter is None:
            for measure in self.measures:
                measure.bar.meter = self.around[0]
        self.said_meter = said or self.said_meter
        first = self.measures[0].bar if self.measures else None
        is_behind_pickup = first is not None and first.length_beats < first.meter.bar_beats
        number = len(self.measures) - is_behind_pickup
        meter = self.said_meter or self.around[number % len(self.around)]
        self.measures.append(Measure(ForeignBar(place, meter)))

    def _times(
        self, inside: Mapping[int, _Struck], meter: Meter, at: Fraction
    ) -> dict[int, tuple[Fraction, Fraction]]:
        """Onset and length of each column by the note values; the first begins ``at``."""
        found = {}
        for column in sorted(inside):
            length = length_of(inside[column].value, meter)
            found[column] = at, length
            at += length
        return found

    def _even(
        self, start: int, left: int, right: int, columns: Sequence[int], meter: Meter
    ) -> dict[int, tuple[Fraction, Fraction]]:
        """Onset and length of each column where columns alone tell the time."""
        full = meter.bar_beats
        for pad in (1, 0):
            first, count = left + 1 + pad, right - left - 1 - pad
            step = full / count if count > 0 else full
            if step in _COLUMN_BEATS and (not columns or columns[0] >= first):
                onsets = [(column - first) * step for column in columns]
                ends = [*onsets[1:], full][: len(onsets)]
                return {
                    column: (onset, end - onset)
                    for column, onset, end in zip(columns, onsets, ends, strict=True)
                }
        raise refuse(
            f"{right - left - 1} columns do not part a bar of {meter} evenly",
            "write note values in letters above the strings (q e s), or as many columns as the bar has "
            "eighths or sixteenths",
            self._at(start, left),
        )

    def _note(
        self,
        measure: Measure,
        one: _Struck,
        string: int,
        onset: Fraction,
        length: Fraction,
        place: Place,
    ) -> None:
        fret, sign = one.frets[string]
        marks = [*one.marks, *one.own.get(string, ())]
        if fret is None:
            fret = self.hand
            marks.append("dead")
        else:
            self.hand = fret or self.hand
        goes_on = sign == "(" and (string, fret) in self.tied
        if goes_on:
            marks = []
        elif sign == "(":
            marks.append("ghost")
        elif sign:
            marks.append(_BEFORE[sign])
        pitch = self.key.spell(pitch_at(self.tuning, string, fret))
        syllable = one.syllable if string == max(one.frets) and not goes_on else ""
        finger = None if goes_on else one.fingers.get(string)
        note = Note(onset, length, pitch, LOUDNESS["mf"], syllable=syllable)
        written = TypedNote(note, place, string, fret, finger, ties=one.ties)
        measure.notes.append(with_marks(written, marks))
