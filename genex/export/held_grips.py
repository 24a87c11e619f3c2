"""The grips of a part of chords, as pages show them: in order of play, and where the hand changes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby

from genex.exact import Fraction
from genex.export.repeat_signs import line_page
from genex.score import Bar, HeldGrip, Part, Timeline
from genex.theory import Chord


@dataclass(frozen=True)
class ShownGrip:
    """A grip with the chord that it is held for and the bar in which it begins."""

    bar: Bar
    chord: Chord | None
    held: HeldGrip


@dataclass(frozen=True)
class SectionGrips:
    """The grips of a section; ``times`` so it comes on the page."""

    name: str
    grips: tuple[ShownGrip, ...]
    times: int = 1


def grips_by_section(part: Part, timeline: Timeline) -> list[SectionGrips]:
    """The grips in the bars of a part's page, in order of play.

    A section that comes again with the same grips is there once.
    """
    printed = {entry.bar.number for entry in line_page(timeline, (part,)).bars}
    shown = [
        ShownGrip(bar, timeline.chord_at(held.onset_beats).chord, held)
        for held in part.grips
        if (bar := timeline.bar_at(held.onset_beats)).number in printed
    ]
    found: dict[tuple[object, ...], SectionGrips] = {}
    for (name, _), group in groupby(shown, key=lambda each: _section_of(each.bar, timeline)):
        together = tuple(group)
        content = name, *(str((each.chord and each.chord.symbol, each.held.places)) for each in together)
        known = found.get(content)
        found[content] = replace(known, times=known.times + 1) if known else SectionGrips(name, together)
    return list(found.values())


def hand_changes(part: Part) -> frozenset[Fraction]:
    """Onsets at which strings are struck that the hand stops anew: there fingers are worth a word.

    A grip that is picked comes string by string; one that is struck ahead comes before its chord.
    """
    grips = list(part.grips)
    at, fresh = -1, set[int]()
    found = set()
    for onset, group in groupby(part.notes, key=lambda note: note.onset_beats):
        places = {p.string: (p.fret, p.finger) for note in group if (p := note.fretting)}
        while at + 1 < len(grips):
            is_held = at >= 0 and places.items() <= grips[at].places.items()
            is_ahead = not is_held and places.items() <= grips[at + 1].places.items()
            if grips[at + 1].onset_beats > onset and not is_ahead:
                break
            at += 1
            if at == 0 or grips[at].places != grips[at - 1].places:
                fresh = set(grips[at].places)
        if fresh & set(places):
            found.add(onset)
            fresh -= set(places)
    return frozenset(found)


def _section_of(bar: Bar, timeline: Timeline) -> tuple[str, Fraction]:
    """Name and beginning of the section that a bar stands in."""
    section = max(
        (s for s in timeline.sections if s.onset_beats <= bar.onset_beats), key=lambda s: s.onset_beats
    )
    return section.name, section.onset_beats
