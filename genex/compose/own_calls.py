"""Calls that the teacher has written: a line of one's own, cut into calls, for call and response."""

from __future__ import annotations

from dataclasses import replace

from genex.compose.own_lines import typed_line, under_the_hand
from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.asking import Calls
from genex.lines.call import call_and_response
from genex.lines.study_plan import StudyPlan, moved
from genex.score import Note, Timeline


def calls_and_responses(timeline: Timeline, exercise: Calls, player: Player) -> StudyPlan:
    """Calls that are written, or else made. Raises InputError."""
    if not exercise.has_own_line:
        return call_and_response(timeline, exercise, player)
    return call_and_response(timeline, exercise, player, own=_own_calls(timeline, exercise, player))


def _own_calls(timeline: Timeline, exercise: Calls, player: Player) -> list[list[Note]]:
    """The calls of a line, so many bars each, with times from the bar line where each begins."""
    line = typed_line(timeline, exercise, exercise.file, player)
    if any(meter != timeline.meter for meter in (*(bar.meter for bar in timeline.bars), *line.meters)):
        raise LineError(
            "calls of your own need one meter throughout",
            hint="write a chart and a line whose meter does not change, or leave the line away",
        )
    if line.pickup_beats:
        raise LineError(
            "a call begins with its bar", hint="write rests before its first note, to a whole bar"
        )
    length = exercise.bars * timeline.meter.bar_beats
    calls: list[list[Note]] = [[] for _ in range(-(-line.bars // exercise.bars))]
    notes = under_the_hand(line, timeline, exercise, player)
    for note, typed in zip(notes, line.notes, strict=True):
        number = int(note.onset_beats // length)
        if note.written_end_beats > (number + 1) * length:
            raise LineError(
                f"{note.pitch} sounds on when its call is over: a call has {exercise.bars} "
                f"{'bar' if exercise.bars == 1 else 'bars'}",
                hint="end it at the bar line, or give 'bars' that hold the phrase: 1, 2 or 4",
                place=typed.place,
            )
        own = note if calls[number] else replace(note, legato=None)  # nothing sounds before it
        calls[number] += moved([own], -number * length)
    for number, call in enumerate(calls, start=1):
        if not call:
            first = (number - 1) * exercise.bars + 1
            raise LineError(
                f"call {number} of the line, from bar {first} on, has no note",
                hint="leave its rests away: silence to answer in follows each call by itself",
            )
    return calls
