"""Pushed chords: who strikes chords comes an eighth early, as the chart asks.

What a player would strike on the chord's beat is struck ahead of it and held over; who rests there
holds it for a beat at most. What lay in it gives way, and what sounded before ends there [common
practice]. Drums keep the time. The time of a pushed note is the swung eighth of the feel.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import replace

from genex.band.bar_plans import SHORTEST_BEATS
from genex.band.feel_timing import settle
from genex.exact import Fraction
from genex.score import ChordSpan, Note, Part, Timeline

_HELD_BEATS = Fraction(1)
"""How long who rests on the beat holds a pushed chord into it, at most."""

Swung = Callable[[Fraction], Fraction]
"""What swing adds to a written time."""


def with_pushes(part: Part, timeline: Timeline, swung: Swung, *, loops: bool) -> Part:
    """The part with the timeline's pushed chords struck ahead.

    A push on the first beat of a loop comes before its seam too; a take begins on the beat.
    """
    pushed = [span for span in timeline.chords if span.push_beats]
    if not pushed or part.is_percussion:
        return part
    notes = list(part.notes)
    if loops and not pushed[0].onset_beats:
        notes = _before_the_seam(notes, pushed[0], timeline.length_beats, swung)
    notes = _all_pushed(notes, [span for span in pushed if span.onset_beats], swung)
    return replace(part, notes=tuple(in_order(settle(notes, timeline.length_beats))))


def _all_pushed(notes: Sequence[Note], spans: Sequence[ChordSpan], swung: Swung) -> list[Note]:
    """The notes, in order of their onsets, with the first strokes of all these chords struck ahead.

    Each is looked for only among the notes that sound when it is struck or begin before its end.
    """
    done: list[Note] = []
    near: list[Note] = []
    coming = deque(notes)
    for span in spans:
        while coming and coming[0].onset_beats < span.end_beats:
            near.append(coming.popleft())
        early = span.struck_beats
        over = next((at for at, note in enumerate(near) if note.written_end_beats > early), len(near))
        done += near[:over]
        near = _pushed(near[over:], span, swung)
    return [*done, *near, *coming]


def in_order(notes: Sequence[Note]) -> list[Note]:
    """Notes in the order of a part."""
    return sorted(notes, key=lambda note: (note.onset_beats, note.midi))


def _pushed(notes: Sequence[Note], span: ChordSpan, swung: Swung) -> list[Note]:
    """The notes with the first stroke of a chord struck ahead of its beat."""
    beat, early = span.onset_beats, span.struck_beats
    if any(early <= note.onset_beats < beat < note.written_end_beats for note in notes):
        return list(notes)  # the feel's own figure strikes it ahead
    later = [note.onset_beats for note in notes if beat <= note.onset_beats < span.end_beats]
    if not later:
        return list(notes)
    first = min(later)
    found = []
    for note in notes:
        if note.onset_beats == first and first > beat:
            held = span.push_beats + min(first - beat, _HELD_BEATS)
            found += [_short(note, early, held, swung), note]
        elif note.onset_beats == first:
            found.append(ahead(note, early, swung))
        elif note.onset_beats < early:
            found.append(_cut(note, early, swung))
        elif note.onset_beats >= beat:
            found.append(note)
    return found


def _before_the_seam(
    notes: Sequence[Note], span: ChordSpan, length_beats: Fraction, swung: Swung
) -> list[Note]:
    """The notes with the first stroke of the loop also struck before its end, up to it."""
    early = length_beats - span.push_beats
    before = [_cut(note, early, swung) for note in notes if note.onset_beats < early]
    struck = [note for note in notes if note.onset_beats == 0]
    return [*before, *(_short(note, early, span.push_beats, swung) for note in struck)]


def _short(note: Note, early: Fraction, length_beats: Fraction, swung: Swung) -> Note:
    """A note like this one that begins at ``early`` and lasts until the beat."""
    offset = swung(early)
    return replace(
        note,
        onset_beats=early,
        duration_beats=length_beats,
        offset_beats=offset,
        sounding_beats=length_beats - offset,
    )


def ahead(note: Note, early: Fraction, swung: Swung) -> Note:
    """A note that begins at ``early`` and ends where it did."""
    moved = note.onset_beats - early
    offset = note.offset_beats - swung(note.onset_beats) + swung(early)
    sounding = note.sounding_beats
    if sounding is not None:
        sounding += moved + note.offset_beats - offset
    return replace(
        note,
        onset_beats=early,
        duration_beats=note.duration_beats + moved,
        offset_beats=offset,
        sounding_beats=sounding,
    )


def _cut(note: Note, end: Fraction, swung: Swung) -> Note:
    """A note that is over where a chord is struck ahead."""
    if note.written_end_beats <= end:
        return note
    room = max(SHORTEST_BEATS, end + swung(end) - note.onset_beats - note.offset_beats)
    sounding = note.duration_beats if note.sounding_beats is None else note.sounding_beats
    return replace(note, duration_beats=end - note.onset_beats, sounding_beats=min(sounding, room))
