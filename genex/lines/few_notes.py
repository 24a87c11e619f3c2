"""Melody from a handful of notes: what a good player makes of three or five of them.

With so few notes it is their order that speaks: the line uses all of them, neither sticks to one nor
swings to and fro between two, brings a bar's figure back where its rhythm comes back, and ends every
phrase on a chord tone if there is one [common practice].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random

from genex.exact import Fraction
from genex.lines.ladders import chord_tones
from genex.lines.limits import Limited
from genex.lines.phrase import Phrase
from genex.lines.phrase_places import chord_over, strong_beats
from genex.lines.search import FORBIDDEN, cheapest_path
from genex.lines.vocabulary import Kind
from genex.score import Note, Timeline

_FOREIGN_ON_STRONG, _FOREIGN_AT_END = 14, 60
_AGAIN, _TO_AND_FRO, _LEAP = 7, 7, 4
"""Costs: of the same note struck again, of going back to the one before it, of each note passed over."""
_FIGURE = 8
"""What each note away from the figure that comes back costs."""
_SPICE = 18

_State = tuple[int, int, int]
"""The note before, the note (both by their number among the notes), and how often in a row."""


def from_few_notes(
    timeline: Timeline, phrases: Sequence[Phrase], vocabulary: Limited, seed: str
) -> list[Phrase]:
    """The phrases with their rhythm, and other pitches: those of the vocabulary."""
    found: list[Phrase] = []
    for number, phrase in enumerate(phrases):
        figures = _figures(timeline, phrase)
        path = _path(timeline, phrase, vocabulary, [None] * len(phrase.notes), f"{seed}/{number}")
        wanted = [None if first is None else path[first] for first in figures]
        if any(own is not None for own in wanted):
            path = _path(timeline, phrase, vocabulary, wanted, f"{seed}/{number}")
        found.append(_pitched(timeline, phrase, vocabulary, path))
    return found


def _figures(timeline: Timeline, phrase: Phrase) -> list[int | None]:
    """For each note the one of an earlier bar of the same rhythm that it brings back, or None."""
    bars: dict[Fraction, list[int]] = {}
    for index, note in enumerate(phrase.notes):
        bars.setdefault(timeline.bar_at(note.onset_beats).onset_beats, []).append(index)
    known: dict[tuple[Fraction, ...], list[int]] = {}
    found: list[int | None] = [None] * len(phrase.notes)
    for start, own in bars.items():
        rhythm = tuple(phrase.notes[index].onset_beats - start for index in own)
        first = known.setdefault(rhythm, own)
        if first is not own:
            # The end is free: an answer ends otherwise.
            for index, source in zip(own[:-1], first, strict=False):
                found[index] = source
    return found


def _path(
    timeline: Timeline,
    phrase: Phrase,
    vocabulary: Limited,
    wanted: Sequence[int | None],
    seed: str,
) -> list[int]:
    count = len(vocabulary.allowed)
    rng = Random(seed)
    spice = [[rng.randrange(_SPICE) for _ in range(count)] for _ in phrase.notes]
    costs = [
        _foreign(timeline, note, vocabulary, last=note is phrase.notes[-1]) for note in phrase.notes
    ]
    numbers = range(count)
    states: list[_State] = [(a, b, run) for a in numbers for b in numbers for run in (1, 2)]

    def own(layer: int, state: _State) -> int:
        before, here, run = state
        if layer == 0 and (run == 2 or before != here):
            return FORBIDDEN
        goal = wanted[layer]
        away = 0 if goal is None else _FIGURE * abs(here - goal)
        return spice[layer][here] + costs[layer][here] + away

    def change(layer: int, old: _State, new: _State) -> int:
        if new[0] != old[1] or new[2] != (old[2] + 1 if new[1] == old[1] else 1):
            return FORBIDDEN
        if new[1] == old[1]:
            return _AGAIN
        back = _TO_AND_FRO if new[1] == old[0] else 0
        return back + _LEAP * (abs(new[1] - old[1]) - 1)

    return [here for _, here, _ in cheapest_path([states] * len(phrase.notes), own, change)[1]]


def _foreign(timeline: Timeline, note: Note, vocabulary: Limited, *, last: bool) -> list[int]:
    """What each of the notes costs here for not being a chord tone."""
    bar = timeline.bar_at(note.onset_beats)
    chord = chord_over(timeline, note.onset_beats, note.duration_beats, bar.meter.pulse_beats)
    strong = note.onset_beats - bar.onset_beats in strong_beats(bar.meter)
    cost = _FOREIGN_AT_END if last else _FOREIGN_ON_STRONG if strong else 0
    if chord is None:
        return [0] * len(vocabulary.allowed)
    tones = chord_tones(chord, vocabulary.allowed)
    return [0 if midi in tones else cost for midi in vocabulary.allowed]


def _pitched(timeline: Timeline, phrase: Phrase, vocabulary: Limited, path: Sequence[int]) -> Phrase:
    notes = []
    for note, number in zip(phrase.notes, path, strict=True):
        pulse = timeline.bar_at(note.onset_beats).meter.pulse_beats
        chord = chord_over(timeline, note.onset_beats, note.duration_beats, pulse)
        scale = timeline.reading_at(note.onset_beats).scale
        assert chord is not None and scale is not None
        pitch, degree = vocabulary.name(chord, scale, vocabulary.allowed[number], Kind.CHORD, None)
        notes.append(replace(note, pitch=pitch, degree=degree, slide=None))
    return replace(phrase, notes=tuple(notes), kinds=(Kind.CHORD,) * len(notes))
