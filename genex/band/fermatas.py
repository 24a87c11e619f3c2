"""Fermatas: the chord is struck and held by all, and nobody goes on until it is over."""

from __future__ import annotations

from dataclasses import replace

from genex.band.feel_timing import settle
from genex.band.pushes import Swung, ahead, in_order
from genex.exact import Fraction
from genex.score import Note, Part, Timeline


def with_fermatas(part: Part, timeline: Timeline, swung: Swung) -> Part:
    """A take's part that holds what sounds under its fermatas.

    What is struck as a fermata begins is held to its end, else what still sounds from before, else
    what would have been struck first under it. Drums ring as long as they do.
    """
    held = [sign for sign in timeline.signs if sign.name == "fermata" and sign.is_played]
    if not held:
        return part
    notes = list(part.notes)
    for sign in held:
        notes = _held(notes, sign.onset_beats, sign.end_beats, swung, rings=not part.is_percussion)
    return replace(part, notes=tuple(in_order(settle(notes, timeline.length_beats))))


def _held(notes: list[Note], start: Fraction, end: Fraction, swung: Swung, *, rings: bool) -> list[Note]:
    under = [note for note in notes if start <= note.onset_beats < end]
    others = [note for note in notes if not start <= note.onset_beats < end]
    struck = [note for note in under if note.onset_beats == start]
    over = [note for note in others if note.onset_beats < start < note.written_end_beats]
    if not struck and rings and over:
        held = [_to(note, end) for note in over]
        return [*(note for note in others if note not in over), *held]
    if not struck and under:
        first = min(note.onset_beats for note in under)
        struck = [ahead(note, start, swung) for note in under if note.onset_beats == first]
    return [*others, *([_to(note, end) for note in struck] if rings else struck)]


def _to(note: Note, end: Fraction) -> Note:
    length = end - note.onset_beats
    return replace(note, duration_beats=length, sounding_beats=length - note.offset_beats)
