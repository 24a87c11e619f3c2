"""A line as somebody wrote it, whatever the format: its notes in playing order, at their times.

Every reader of this room fills ``Measure`` after ``Measure`` as they are written, with the signs around
them; ``assembled`` plays the repeats, joins ties and bars that a sign cuts in two, and takes the short
bar that a line begins with for its pickup.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import accumulate, groupby
from typing import Literal

from genex.errors import ChartFileError, Place
from genex.exact import Fraction
from genex.lines.connected import Connection
from genex.readers.charts.foreign_chart import ForeignBar, played_bars
from genex.score import Articulation, Meter, Note, Slide
from genex.theory import Key

MAX_NOTES = 5000
MAX_PLAYED_BARS = 512
ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class TypedNote:
    """A note and what its writer says of it. Notes of one onset are struck together.

    place   where it is written
    string  that it is played on, with ``fret``; None where the writer leaves that open
    finger  0 open, 1 to 4; None where it is left open
    ties    it goes on in the next note of its pitch
    slide   it is reached by a slide: ``up``, ``down``, or from wherever the note before lies
    legato  it is hammered on, pulled off, or under a ``slur`` and either if that can be
    """

    note: Note
    place: Place
    string: int | None = None
    fret: int | None = None
    finger: int | None = None
    ties: bool = False
    slide: Literal["", "up", "down", "any"] = ""
    legato: Connection = ""

    def at(self, onset_beats: Fraction) -> TypedNote:
        """The note at another time."""
        return replace(self, note=replace(self.note, onset_beats=onset_beats))


@dataclass(frozen=True, slots=True)
class TypedChord:
    """A chord symbol over the line, as it is written."""

    onset_beats: Fraction
    text: str
    place: Place


@dataclass(frozen=True)
class TypedLine:
    """A line over whole bars.

    notes         in order of onset and pitch; those of the pickup have onsets below 0
    meters        of each whole bar behind the pickup
    says_meter    the writer says them; else they are those of the bars that the line is read for
    key           as the writer says, None where nothing is said
    """

    notes: tuple[TypedNote, ...]
    meters: tuple[Meter, ...]
    pickup_beats: Fraction = ZERO
    says_meter: bool = False
    key: Key | None = None
    chords: tuple[TypedChord, ...] = ()

    @property
    def bars(self) -> int:
        """Whole bars behind the pickup."""
        return len(self.meters)

    @property
    def length_beats(self) -> Fraction:
        """Length of the whole bars behind the pickup."""
        return sum((meter.bar_beats for meter in self.meters), ZERO)

    @property
    def bar_lines(self) -> tuple[Fraction, ...]:
        """Onset of each whole bar, in beats."""
        return tuple(accumulate((meter.bar_beats for meter in self.meters[:-1]), initial=ZERO))


@dataclass(slots=True)
class Measure:
    """A bar as it is written; onsets count from its bar line. ``bar`` has its length and its signs.

    ``rests`` tells that all of it is a rest, however long the bar is.
    """

    bar: ForeignBar
    notes: list[TypedNote] = field(default_factory=list)
    chords: list[TypedChord] = field(default_factory=list)
    rests: bool = False


def refuse(message: str, hint: str, place: Place) -> ChartFileError:
    """The error for what stands at a place of a line."""
    return ChartFileError(message, hint=hint, place=place)


def assembled(
    measures: Sequence[Measure],
    around: Sequence[Meter],
    *,
    says_meter: bool = False,
    key: Key | None = None,
) -> TypedLine:
    """The line that measures make. Raises ChartFileError with its place.

    around      meters of the bars that the line is read for, from its first whole bar on, over and over
    says_meter  the measures have meters of their own, which count
    """
    order = played_bars([measure.bar for measure in measures])
    if len(order) > MAX_PLAYED_BARS:
        raise refuse(
            f"the line has {len(order)} bars with its repeats",
            f"at most {MAX_PLAYED_BARS} are read: take a piece of it",
            measures[0].bar.place,
        )
    at = pickup = ZERO
    meters: list[Meter] = []
    notes: list[TypedNote] = []
    chords: list[TypedChord] = []
    is_cut = False  # whether the bar before is the first piece of one that a sign cuts in two
    for number, index in enumerate(order):
        measure = measures[index]
        meter = measure.bar.meter if says_meter else around[len(meters) % len(around)]
        full = meter.bar_beats
        length = full if measure.rests and not says_meter else measure.bar.length_beats
        last = number + 1 == len(order)
        after = ZERO if last else measures[order[number + 1]].bar.length_beats
        is_short = length < full
        if number == 0 and is_short and not last:
            at, pickup = -length, length
        elif is_cut:
            is_cut = False
        elif is_short and (length + after == full or (last and length + pickup == full)):
            is_cut = not last
            meters.append(meter)
        elif length != full:
            raise refuse(
                f"the bar holds {beats_text(length)}, and {meter} has {beats_text(full)}",
                "write rests where nothing is played, and a bar line where the bar is over",
                measure.bar.place,
            )
        else:
            meters.append(meter)
        notes += [one.at(at + one.note.onset_beats) for one in measure.notes]
        chords += [replace(one, onset_beats=at + one.onset_beats) for one in measure.chords]
        at += length
    if not notes:
        place = measures[0].bar.place if measures else Place("")
        raise refuse("the line has no notes", "write a note or more", place)
    whole = _joined(notes)
    _require_one_voice(whole)
    return TypedLine(_sounding(_slid(whole)), tuple(meters), pickup, says_meter, key, tuple(chords))


def _joined(notes: Iterable[TypedNote]) -> tuple[TypedNote, ...]:
    """The notes in order, those that are tied as one."""
    found: list[TypedNote] = []
    open_ties: dict[int, int] = {}
    for one in sorted(notes, key=lambda one: (one.note.onset_beats, one.note.midi)):
        note = one.note
        index = open_ties.pop(note.midi, None)
        if index is not None and found[index].note.written_end_beats == note.onset_beats:
            begun = found[index]
            length = begun.note.duration_beats + note.duration_beats
            found[index] = replace(begun, note=replace(begun.note, duration_beats=length), ties=False)
        elif index is not None:
            raise _open_tie(found[index])
        else:
            index = len(found)
            found.append(replace(one, ties=False))
        if one.ties:
            open_ties[note.midi] = index
    for index in open_ties.values():
        raise _open_tie(found[index])
    if len(found) > MAX_NOTES:
        raise refuse(
            f"the line has {len(found)} notes", f"at most {MAX_NOTES} are read", found[MAX_NOTES].place
        )
    return tuple(found)


def _strokes(notes: Iterable[TypedNote]) -> list[list[TypedNote]]:
    """Notes in order, those of one onset together."""
    return [list(group) for _, group in groupby(notes, key=lambda one: one.note.onset_beats)]


SLIDE_BEATS = Fraction(1, 4)
FROM_NOWHERE = 2
"""Semitones of a slide that comes from no other note [common practice]."""
_FARTHEST_SLIDE = 12


def _slid(notes: Sequence[TypedNote]) -> tuple[TypedNote, ...]:
    """The notes with their slides: from the note before if that leads to them, else from nowhere."""
    found: list[TypedNote] = []
    before: list[TypedNote] = []
    for stroke in _strokes(notes):
        found += [_with_slide(one, _before(one, before)) for one in stroke]
        before = stroke
    return tuple(found)


def _before(one: TypedNote, notes: Sequence[TypedNote]) -> Note | None:
    """The note that a slide can come from: on the same string, as far as strings are known, or the
    nearest."""
    joined = [
        other.note
        for other in notes
        if other.note.written_end_beats == one.note.onset_beats
        and (None in (one.string, other.string) or one.string == other.string)
    ]
    return min(joined, key=lambda note: abs(note.midi - one.note.midi), default=None)


def _with_slide(one: TypedNote, before: Note | None) -> TypedNote:
    if not one.slide:
        return one
    signs = {"up": -1, "down": 1}
    away = signs.get(one.slide, -1) * FROM_NOWHERE
    if before is not None:
        step = before.midi - one.note.midi
        fits = one.slide == "any" or step * away > 0
        away = step if step and abs(step) <= _FARTHEST_SLIDE and fits else away
    slide = Slide(away, min(SLIDE_BEATS, one.note.duration_beats / 2))
    return replace(one, note=replace(one.note, slide=slide))


_LONGEST_DEAD_BEATS = Fraction(1, 8)


def _sounding(notes: Sequence[TypedNote]) -> tuple[TypedNote, ...]:
    """The notes as long as their articulation has them sound [common practice]."""

    def short(one: TypedNote) -> TypedNote:
        length = one.note.duration_beats
        if one.note.articulation is Articulation.STACCATO:
            length = length / 2
        elif one.note.articulation is Articulation.DEAD:
            length = min(length, _LONGEST_DEAD_BEATS)
        else:
            return one
        return replace(one, note=replace(one.note, sounding_beats=length))

    return tuple(map(short, notes))


def _require_one_voice(notes: Sequence[TypedNote]) -> None:
    """Raise ChartFileError for a note that is held while others are struck."""
    strokes = _strokes(notes)
    ends = [*(stroke[0].note.onset_beats for stroke in strokes[1:]), None]
    for stroke, end in zip(strokes, ends, strict=True):
        shortest = min(one.note.written_end_beats for one in stroke)
        for one in stroke:
            last = one.note.written_end_beats
            if last > shortest or (end is not None and last > end):
                raise refuse(
                    f"{one.note.pitch} is held while other notes are struck",
                    "tie all notes of a chord or none; '!let-ring!' has a string sound on",
                    one.place,
                )


def _open_tie(one: TypedNote) -> ChartFileError:
    return refuse(
        f"{one.note.pitch} is tied to a note that does not follow",
        "a tie joins two notes of one pitch, the second right behind the first",
        one.place,
    )


def beats_text(beats: Fraction) -> str:
    """A length in quarter notes, in words."""
    return f"{beats} quarter note{'' if beats == 1 else 's'}"
