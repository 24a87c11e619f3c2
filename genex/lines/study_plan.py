"""Lessons that bring their own chart: a timeline, the line over it, and captions.

A study of shapes, a call-and-response track or a drill decides for itself how many bars it
needs. It comes as a ``StudyPlan``, whose timeline the band can play over like any other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Literal

from genex.errors import LineError
from genex.exact import Fraction
from genex.score import (
    Bar,
    ChordSpan,
    HeldGrip,
    Meter,
    Note,
    Part,
    SectionSpan,
    TempoChange,
    TempoMap,
    Timeline,
)
from genex.theory import Chord, Degree, Key, NoteName, Reading

CueKind = Literal["section", "announce", "listen", "play", "answer", "rest"]


@dataclass(frozen=True, slots=True)
class CueSpan:
    """A caption and how long it stands. ``kind`` says what the student does then."""

    onset_beats: Fraction
    length_beats: Fraction
    text: str
    kind: CueKind

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


@dataclass(frozen=True, slots=True)
class Answer:
    """One line of an answer key.

    number       of the question, from 1
    onset_beats  where the question begins
    text         the answer in words
    notes        what is played for the question, fingered, with times in the track
    level        of difficulty, 0 where there are no levels
    length_beats of the question, where its bars, chords and rhythm belong into the key; else 0
    """

    number: int
    onset_beats: Fraction
    text: str
    notes: tuple[Note, ...] = ()
    level: int = 0
    length_beats: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Choice:
    """What an answer may be: in words, or a rhythm, as onsets and lengths in beats, with its letter.

    ``signs`` is how many the answer is written down in: I IV V I has four.
    """

    text: str
    rhythm: tuple[tuple[Fraction, Fraction], ...] = ()
    signs: int = 1


@dataclass(frozen=True, slots=True)
class Place:
    """A place on the neck that may be played: string, fret, the note and its degree, in the key or
    over the chord that the neck is shown for."""

    string: int
    fret: int
    note: NoteName
    degree: Degree


@dataclass(frozen=True, slots=True)
class Task:
    """What is kept to while improvising.

    rules    sentences
    necks    a heading (a chord or nothing) and the places that may be played
    form     the bars of one chorus in the timeline: first, and one past the last
    rhythm   onset and length of each note in the form, where the rhythm is given, in beats
    aims     what to aim at, by the onset of its chord in the form
    """

    rules: tuple[str, ...]
    form: tuple[int, int]
    necks: tuple[tuple[str, tuple[Place, ...]], ...] = ()
    rhythm: tuple[tuple[Fraction, Fraction], ...] = ()
    aims: tuple[tuple[Fraction, str], ...] = ()


@dataclass(frozen=True)
class StudyPlan:
    """A lesson over its own chart: ``parts`` are written over ``timeline``.

    ``choices`` is what a sheet prints to choose answers from, in an order that tells nothing.
    """

    timeline: Timeline
    parts: tuple[Part, ...]
    cues: tuple[CueSpan, ...] = ()
    answers: tuple[Answer, ...] = ()
    choices: tuple[Choice, ...] = ()
    task: Task | None = None

    @property
    def length_beats(self) -> Fraction:
        return self.timeline.length_beats


@dataclass(frozen=True, slots=True)
class PlannedBar:
    """A bar to be: chords with their lengths in beats, which add up to the bar's.

    ``readings`` is what the harmony of its chords was taken to be where it comes from.
    """

    meter: Meter
    chords: tuple[tuple[Chord | None, Fraction], ...]
    section: str = ""
    readings: tuple[Reading, ...] = ()

    @classmethod
    def of(cls, meter: Meter, chord: Chord | None, section: str = "") -> PlannedBar:
        return cls(meter, ((chord, meter.bar_beats),), section)

    def reading_of(self, index: int, chord: Chord | None) -> Reading | None:
        """The reading of one of its chords; None where it has none, or other chords by now."""
        if len(self.readings) != len(self.chords) or self.readings[index].chord != chord:
            return None
        return self.readings[index]


def lay_out(bars: Sequence[PlannedBar], key: Key, tempo: TempoMap) -> Timeline:
    """The timeline of planned bars; neighbouring bars of one section name form a section."""
    placed: list[Bar] = []
    spans: list[ChordSpan] = []
    onset = Fraction(0)
    for number, bar in enumerate(bars, start=1):
        placed.append(Bar(number, number, 1, onset, bar.meter, bar.section))
        at, first = onset, len(spans)
        for chord, length in bar.chords:
            spans.append(ChordSpan(at, length, chord, bar.reading_of(len(spans) - first, chord)))
            at += length
        onset += bar.meter.bar_beats
    sections = []
    for name, group in groupby(placed, key=lambda bar: bar.section):
        together = list(group)
        start = together[0].onset_beats
        sections.append(SectionSpan(start, together[-1].end_beats - start, name, 1))
    return Timeline(key, tempo, tuple(placed), tuple(spans), tuple(sections))


def bars_of(timeline: Timeline) -> tuple[PlannedBar, ...]:
    """The bars of a timeline, ready to be planned anew. A chord is cut at bar lines."""
    planned = []
    for bar in timeline.bars:
        spans = [
            span
            for span in timeline.chords
            if span.onset_beats < bar.end_beats and span.end_beats > bar.onset_beats
        ]
        chords = tuple(
            (
                span.chord,
                min(span.end_beats, bar.end_beats) - max(span.onset_beats, bar.onset_beats),
            )
            for span in spans
        )
        readings = tuple(map(timeline.reading_of, spans))
        planned.append(PlannedBar(bar.meter, chords, bar.section, readings))
    return tuple(planned)


@dataclass(frozen=True, slots=True)
class TempoSteps:
    """A tempo that is raised (or lowered) step by step, in pulses a minute.

    bars_each  bars between two steps; None for once through the study
    """

    start_bpm: Fraction
    end_bpm: Fraction
    step_bpm: Fraction
    bars_each: int | None = None

    @property
    def tempos(self) -> tuple[Fraction, ...]:
        """Every tempo from the start to the end; the end comes last whether it fits or not."""
        if self.start_bpm <= 0 or self.end_bpm <= 0 or self.step_bpm <= 0:
            raise LineError("tempo steps must be above 0", hint="write for example 60 to 100 by 10")
        sign = 1 if self.end_bpm >= self.start_bpm else -1
        count = int(abs(self.end_bpm - self.start_bpm) / self.step_bpm)
        found = [self.start_bpm + sign * self.step_bpm * index for index in range(count + 1)]
        return tuple(found if found[-1] == self.end_bpm else [*found, self.end_bpm])


def in_tempo_steps(plan: StudyPlan, steps: TempoSteps) -> StudyPlan:
    """The study over and over, faster and faster, until it has been played at every tempo.

    The study is never broken off: where the steps end inside it, the last tempo goes on to its
    end. A pulse of a compound meter is a dotted quarter, so its tempo map holds 3/2 of the
    number. Raises LineError for steps that are not above 0.
    """
    bars = plan.timeline.bars
    each = steps.bars_each if steps.bars_each is not None else len(bars)
    if each < 1:
        raise LineError("a tempo step must last a bar or more", hint="write 1 or more bars each")
    tempos = steps.tempos
    times = -(-each * len(tempos) // len(bars))
    length = plan.length_beats
    changes = []
    for index, tempo in enumerate(tempos):
        turn, place = divmod(index * each, len(bars))
        onset = turn * length + bars[place].onset_beats
        changes.append(TempoChange.of_pulses(onset, tempo, plan.timeline.meter))
    parts = tuple(
        replace(
            part,
            notes=tuple(note for turn in range(times) for note in moved(part.notes, length * turn)),
            grips=tuple(
                HeldGrip(grip.onset_beats + length * turn, tuple(moved(grip.notes, length * turn)))
                for turn in range(times)
                for grip in part.grips
            ),
        )
        for part in plan.parts
    )
    cues = tuple(
        replace(cue, onset_beats=cue.onset_beats + length * turn)
        for turn in range(times)
        for cue in plan.cues
    )
    timeline = over_and_over(plan.timeline, times, TempoMap(tuple(changes)))
    return replace(plan, timeline=timeline, parts=parts, cues=cues)


def over_and_over(timeline: Timeline, times: int, tempo: TempoMap) -> Timeline:
    """The timeline over and over; every turn counts its choruses on from the one before."""
    choruses = max(bar.chorus for bar in timeline.bars)
    turns = [(turn * timeline.length_beats, turn * choruses) for turn in range(times)]
    bars = [
        replace(bar, onset_beats=bar.onset_beats + start, chorus=bar.chorus + before)
        for start, before in turns
        for bar in timeline.bars
    ]
    chords = [
        replace(span, onset_beats=span.onset_beats + start)
        for start, _ in turns
        for span in timeline.chords
    ]
    sections = [
        replace(span, onset_beats=span.onset_beats + start, chorus=span.chorus + before)
        for start, before in turns
        for span in timeline.sections
    ]
    repeats = tuple(
        replace(span, onset_beats=span.onset_beats + start)
        for start, _ in turns
        for span in timeline.repeats
    )
    jumps = tuple(span.moved(start) for start, _ in turns for span in timeline.jumps)
    numbered = tuple(replace(bar, number=number) for number, bar in enumerate(bars, start=1))
    signs = tuple(
        replace(
            sign,
            onset_beats=sign.onset_beats + start,
            end_beats=sign.end_beats + start,
            is_played=sign.is_played and before == turns[-1][1],
        )
        for start, before in turns
        for sign in timeline.signs
    )
    return Timeline(
        timeline.key,
        tempo,
        numbered,
        tuple(chords),
        tuple(sections),
        repeats,
        jumps,
        pickup_beats=timeline.pickup_beats,
        signs=signs,
    )


def moved(notes: Iterable[Note], beats: Fraction) -> list[Note]:
    """The notes later by ``beats``."""
    return [replace(note, onset_beats=note.onset_beats + beats) for note in notes]
