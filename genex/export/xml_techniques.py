"""Hammer-ons, pull-offs, bends, vibrato and ringing notes as MusicXML [published: MusicXML 4.0].

Slurs and wavy lines stand on the notation staff, what the fretting hand does on the tab staff where
there is one. A release is a bend with a negative ``bend-alter``.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from xml.etree.ElementTree import Element

from genex.exact import Fraction
from genex.export.hand_marks import hand_marks
from genex.export.notation import Written
from genex.export.xml_measures import child
from genex.score import Legato, Note, Part

_LETTERS = {Legato.HAMMER_ON: "H", Legato.PULL_OFF: "P"}
_BEND_WORDS = {1: "\u00bd", 2: "full"}


class Techniques:
    """What connects the notes of a part, by the note that it begins with and the one it ends with."""

    def __init__(self, part: Part) -> None:
        joined = [(before, note, note.legato) for before, note in _pairs(part) if note.legato]
        self._ends = {struck(note): legato for _, note, legato in joined}
        self._begins = {struck(before): legato for before, _, legato in joined}

    def on_staff(self, notations: Element, note: Note, written: Written) -> None:
        """Ends of slurs, vibrato, and strings that ring on."""
        is_start, is_end = written.is_start, not written.tie_start
        if is_end and note.rings:
            child(notations, "tied", type="let-ring")
        if is_start and struck(note) in self._ends:
            child(notations, "slur", type="stop", number="1")
        if is_end and struck(note) in self._begins:
            child(notations, "slur", type="start", number="1")
        if is_start and note.vibrato:
            found = child(notations, "ornaments")
            child(found, "wavy-line", type="start", number="1")
            child(found, "wavy-line", type="stop", number="1")

    def technical(self, technical: Element, note: Note, written: Written) -> None:
        """What the fretting hand does."""
        is_start, is_end = written.is_start, not written.tie_start
        if is_start and (ended := self._ends.get(struck(note))):
            child(technical, ended.value, type="stop", number="1")
        if is_end and (begun := self._begins.get(struck(note))):
            child(technical, begun.value, _LETTERS[begun], type="start", number="1")
        if is_start and note.bend is not None:
            child(child(technical, "bend"), "bend-alter", note.bend.semitones)
            if note.bend.releases:
                back = child(technical, "bend")
                child(back, "bend-alter", -note.bend.semitones)
                child(back, "release")


def words_over(part: Part) -> dict[Fraction, str]:
    """What is written over a page's notes: the hand's places, and what engravers have no sign for."""
    marks, said = hand_marks(part), technique_words(part)
    onsets = sorted({*marks, *said})
    return {onset: " ".join(filter(None, (marks.get(onset), said.get(onset)))) for onset in onsets}


def technique_words(part: Part) -> dict[Fraction, str]:
    """What is said over the notes of a part of hammer-ons, pull-offs, bends, vibrato and ringing."""
    found: dict[Fraction, str] = {}
    rang = False
    for note in part.notes:
        words = [_LETTERS[note.legato]] if note.legato else []
        if note.bend is not None:
            back = ", back" if note.bend.releases else ""
            words.append(f"{_BEND_WORDS.get(note.bend.semitones, note.bend.semitones)}{back}")
        if note.vibrato:
            words.append("vib.")
        if note.rings and not rang:
            words.append("let ring")
        rang = note.rings
        if words:
            found[note.onset_beats] = " ".join(words)
    return found


def _pairs(part: Part) -> Iterator[tuple[Note, Note]]:
    """Notes with the one that sounded before on the same string, where that led up to them."""
    on_string: dict[int, Note] = {}
    for note in part.notes:
        place = note.fretting
        if place is None:
            continue
        before = on_string.get(place.string)
        if before is not None and before.written_end_beats == note.onset_beats:
            yield before, note
        on_string[place.string] = note


def struck(note: Note) -> tuple[Fraction, int]:
    """What tells a note from all others of its part: onset and key."""
    return note.onset_beats, note.midi


def slides(part: Part) -> Iterator[tuple[Note, Note]]:
    """The pairs of neighbours on one string that a slide joins."""
    for before, note in pairwise(part.notes):
        a, b = before.fretting, note.fretting
        if note.slide is None or a is None or b is None:
            continue
        joined = before.written_end_beats == note.onset_beats and a.string == b.string
        if joined and a.fret - b.fret == note.slide.from_semitones:
            yield before, note
