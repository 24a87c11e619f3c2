"""Sections that are an earlier one at another fret: the same strings and fingers over the same kind of
chord.

A study that takes one form round the circle is the same picture for the hand each time. Where paper is
short it is printed once, and the chords to move it to are named [common practice of method books: "in
all keys"].
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from genex.export.page_bars import signs_of
from genex.export.page_signs import PLAIN
from genex.export.repeat_signs import Page
from genex.score import Note, Part, SectionSpan, Timeline
from genex.theory import Chord


@dataclass(frozen=True, slots=True)
class Moved:
    """A section that is not printed: its chord, its first bar, and how many frets it lies higher."""

    chord: Chord
    bar: int
    frets: int


def printed_at_one_fret(
    page: Page, timeline: Timeline, part: Part
) -> tuple[Page, Mapping[int, tuple[Moved, ...]]]:
    """The page without sections that are an earlier one of it moved along the neck, and by the first bar
    of the earlier one what became of it.

    Sections of several chords are left as they are, since such a tune is read and not moved, and so are
    lines with open strings, whose fingers do not move.
    """
    first_of: dict[object, tuple[int, int]] = {}
    moved: dict[int, tuple[Moved, ...]] = {}
    left_out: set[int] = set()
    for section in timeline.sections:
        start, end = section.onset_beats, section.end_beats
        entries = [entry for entry in page.bars if start <= entry.bar.onset_beats < end]
        whole = len(entries) == len(timeline.bars_between(start, end))
        chord = only_chord(timeline, section)
        if not entries or chord is None or not whole or any(e.signs != PLAIN for e in entries):
            continue
        notes = [note for note in part.notes if start <= note.onset_beats < end]
        hand = _hand(notes, section)
        if hand is None:
            continue
        lowest, fingers = hand
        content = (chord.degrees, tuple(entry.bar.meter for entry in entries), fingers)
        number = entries[0].bar.number
        if content in first_of:
            first, fret = first_of[content]
            moved[first] = (*moved.get(first, ()), Moved(chord, number, lowest - fret))
            left_out.update(entry.bar.number for entry in entries)
        else:
            first_of[content] = number, lowest
    kept = tuple(entry for entry in page.bars if entry.bar.number not in left_out)
    return replace(page, bars=kept), moved


def only_chord(timeline: Timeline, section: SectionSpan) -> Chord | None:
    """The chord of a section that has but one."""
    begun = timeline.chords_between(section.onset_beats, section.end_beats)
    chords = {span.chord for span in (timeline.chord_at(section.onset_beats), *begun)}
    return chords.pop() if len(chords) == 1 else None


def _hand(notes: Sequence[Note], section: SectionSpan) -> tuple[int, tuple[object, ...]] | None:
    """The lowest fret, and what the hand does seen from there; None where the hand is not all of it."""
    frets = [note.fretting.fret for note in notes if note.fretting is not None]
    within = all(note.written_end_beats <= section.end_beats for note in notes)
    if not frets or len(frets) < len(notes) or min(frets) == 0 or not within:
        return None
    lowest = min(frets)
    done = tuple(
        (
            note.onset_beats - section.onset_beats,
            note.duration_beats,
            place.string,
            place.fret - lowest,
            place.finger,
            signs_of(note),
        )
        for note in notes
        if (place := note.fretting) is not None
    )
    return lowest, done
