"""Which grips a part of chords holds, read off its notes.

A part may strike a grip whole or pick its strings one by one: what belongs together are the notes
over one chord, as long as no string is stopped elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from genex.exact import Fraction
from genex.export.repeat_signs import line_page
from genex.score import Bar, Note, Part, Timeline
from genex.theory import Chord


@dataclass(frozen=True)
class HeldGrip:
    """A grip as it is played: one note a string, the lowest string first."""

    onset_beats: Fraction
    chord: Chord | None
    notes: tuple[Note, ...]

    @property
    def places(self) -> dict[int, tuple[int, int | None]]:
        """Fret and finger by string."""
        return {p.string: (p.fret, p.finger) for note in self.notes if (p := note.fretting)}


def held_grips(part: Part, timeline: Timeline) -> list[HeldGrip]:
    """The grips of a part in order of play, each once as long as it is held."""
    found: list[HeldGrip] = []
    for notes in _strokes(part):
        chord = _chord_of(notes, timeline)
        places = _places(notes)
        if found:
            held = found[-1]
            of_both = {**held.places, **places}
            if held.chord == chord and all(of_both[s] == held.places[s] for s in held.places):
                known = {note.fretting.string for note in held.notes if note.fretting}
                new = [note for note in notes if note.fretting and note.fretting.string not in known]
                found[-1] = HeldGrip(held.onset_beats, chord, _by_string([*held.notes, *new]))
                continue
        found.append(HeldGrip(notes[0].onset_beats, chord, _by_string(notes)))
    return found


@dataclass(frozen=True)
class SectionGrips:
    """The grips of a section with the bars that they begin in; ``times`` so it comes on the page."""

    name: str
    grips: tuple[tuple[Bar, HeldGrip], ...]
    times: int = 1


def grips_by_section(part: Part, timeline: Timeline) -> list[SectionGrips]:
    """The grips in the bars of a part's page, in order of play.

    A section that comes again with the same grips is there once. A grip that is struck ahead of its
    bar counts to the bar that it leads into.
    """
    printed = {entry.bar.number for entry in line_page(timeline, (part,)).bars}
    shown = [
        (bar, held)
        for held in held_grips(part, timeline)
        if (bar := _bar_of(held, timeline)) is not None and bar.number in printed
    ]
    found: dict[tuple[object, ...], SectionGrips] = {}
    for (name, _), group in groupby(shown, key=lambda each: _section_of(each[0], timeline)):
        together = tuple(group)
        content = name, *(str((h.chord and h.chord.symbol, h.places)) for _, h in together)
        known = found.get(content)
        found[content] = replace(known, times=known.times + 1) if known else SectionGrips(name, together)
    return list(found.values())


def hand_changes(part: Part, timeline: Timeline) -> frozenset[Fraction]:
    """Onsets at which the hand takes what it did not hold: there its fingers are worth a word."""
    grips = held_grips(part, timeline)
    before = [None, *(grip.places for grip in grips)]
    return frozenset(
        note.onset_beats
        for grip, held in zip(grips, before, strict=False)
        if grip.places != held
        for note in grip.notes
    )


def _strokes(part: Part) -> Iterator[list[Note]]:
    for _, notes in groupby(part.notes, key=lambda note: note.onset_beats):
        yield list(notes)


def _places(notes: list[Note]) -> dict[int, tuple[int, int | None]]:
    return {p.string: (p.fret, p.finger) for note in notes if (p := note.fretting)}


def _by_string(notes: list[Note]) -> tuple[Note, ...]:
    return tuple(sorted(notes, key=lambda note: -note.fretting.string if note.fretting else 0))


def _chord_of(notes: list[Note], timeline: Timeline) -> Chord | None:
    """The chord that is struck: the one under the stroke, or, struck ahead, the one it goes on into."""
    struck = timeline.chord_at(notes[0].onset_beats)
    if notes[0].written_end_beats > struck.end_beats or not _belongs(notes, struck.chord):
        after = timeline.chord_at(struck.end_beats)
        if _belongs(notes, after.chord):
            return after.chord
    return struck.chord


def _belongs(notes: list[Note], chord: Chord | None) -> bool:
    return chord is not None and all(chord.degree_of(n.midi) == n.degree for n in notes)


def _bar_of(held: HeldGrip, timeline: Timeline) -> Bar | None:
    """The bar in which the chord of a grip begins; None for one that leads back to the beginning."""
    span = timeline.chord_at(held.onset_beats)
    if held.chord is None or span.chord == held.chord:
        return timeline.bar_at(held.onset_beats)
    return timeline.bar_at(span.end_beats) if span.end_beats < timeline.length_beats else None


def _section_of(bar: Bar, timeline: Timeline) -> tuple[str, object]:
    """Name and beginning of the section that a bar stands in."""
    section = max(
        (s for s in timeline.sections if s.onset_beats <= bar.onset_beats), key=lambda s: s.onset_beats
    )
    return section.name, section.onset_beats
