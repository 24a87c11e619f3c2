"""What a piece asks of the student, as sheets show it."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from genex.compose import Composition
from genex.export.neck_marks import Mark
from genex.export.note_names import chord_name, note_name
from genex.export.phrases import words
from genex.lazy import lazy
from genex.lines.study_plan import Answer, CueSpan, Task

if TYPE_CHECKING:
    import genex.export.handout as handout
else:
    handout = lazy("genex.export.handout")


def worksheet_of(piece: Composition) -> handout.Worksheet:
    """The questions, calls or task of a piece; empty where there are none."""
    asked = tuple(_asked(piece, answer) for answer in piece.answers)
    prompt = next((cue.text for cue in piece.cues if cue.kind == "play"), "") if piece.choices else ""
    offered = tuple(
        handout.Offered(choice.text, choice.rhythm, choice.signs) for choice in piece.choices
    )
    return handout.Worksheet(prompt, asked, offered, None if piece.task is None else _task(piece.task))


def task_text(piece: Composition, language: str = "en", width: int = 80) -> str:
    """The task in words, to stand above the tab: rules, frets, and which bars are left empty; nothing
    where there is no task."""
    task = piece.task
    if task is None:
        return ""
    phrases = words(language)
    lines = textwrap.wrap(" ".join(task.rules), width)
    for heading, places in task.necks:
        told = ", ".join(
            f"{phrases['string_unfingered'].format(string=p.string, fret=p.fret)} "
            f"{note_name(p.note, phrases)} ({p.degree})"
            for p in places
        )
        lines += textwrap.wrap(f"{heading}: {told}" if heading else told, width)
    if task.aims:
        spans = piece.score.timeline.chords
        chords = {span.onset_beats: chord_name(span.chord, phrases) for span in spans}
        told = ", ".join(f"{chords[onset]}: {text}" for onset, text in task.aims)
        lines += textwrap.wrap(told, width)
    turns = [_bars(piece, cue) for cue in piece.cues if cue.kind == "play"]
    lines += textwrap.wrap(phrases["bars_for_you"].format(bars=f"{turns[0][0]}-{turns[-1][1]}"), width)
    return "\n".join(lines) + "\n\n"


def _asked(piece: Composition, answer: Answer) -> handout.Asked:
    """A question; of a call its turns, too, up to the next call."""
    if not answer.length_beats:
        return handout.Asked(answer.number, answer.text)
    later = (other.onset_beats for other in piece.answers if other.onset_beats > answer.onset_beats)
    end = min(later, default=piece.score.length_beats)
    turns = tuple(
        (cue.kind, *_bars(piece, cue))
        for cue in piece.cues
        if answer.onset_beats <= cue.onset_beats < end
        and not (cue.kind == "answer" and _told_alone(piece, cue))
        and cue.kind != "announce"
    )
    return handout.Asked(answer.number, answer.text, turns)


def _told_alone(piece: Composition, cue: CueSpan) -> bool:
    """Whether an answer is only told, and nothing is played of it."""
    return not any(
        cue.onset_beats <= note.onset_beats < cue.end_beats
        for part in piece.score.lead_parts
        for note in part.notes
    ) or any(other.kind == "listen" and other.onset_beats == cue.onset_beats for other in piece.cues)


def _bars(piece: Composition, cue: CueSpan) -> tuple[int, int]:
    bars = piece.score.timeline.bars_between(cue.onset_beats, cue.end_beats)
    return bars[0].number, bars[-1].number


def _task(task: Task) -> handout.ImprovisingTask:
    necks = tuple(
        (heading, tuple(Mark(p.string, p.fret, p.degree, p.note) for p in places))
        for heading, places in task.necks
    )
    return handout.ImprovisingTask(task.rules, task.form, necks, task.rhythm, task.aims)
