"""Phrases: short melodies with an idea, a contour and a note to rest on.

A phrase is a rhythm (``rhythm.py``) whose notes are chosen from a vocabulary (``vocabulary.py``)
by the cheapest path: near to a contour, in small steps, never the same note three times, notes
foreign to the chord resolved, the last note a tone of the triad. Bars that come back to an idea
keep its shape, at the same height or moved (repetition and sequence).

A phrase of level 6 goes through a change: a third or seventh of the one chord moves by step to a
third or seventh of the next, as in a ii-V-I the seventh falls to the third [common practice].
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from random import Random

from genex.errors import LineError
from genex.exact import Fraction
from genex.lines.placement import Hold
from genex.lines.resolution import CHANGES_LEVEL, Resolution, resolution
from genex.lines.rhythm import PhraseRhythm, Pickup, draw_rhythm
from genex.lines.search import FORBIDDEN, cheapest_path
from genex.lines.vocabulary import Kind, Vocabulary, allows
from genex.score import Note, Slide, Timeline
from genex.theory import Chord, Pitch, Scale

State = tuple[int, Kind, int]
"""MIDI number, what it is, and how often it has been struck in a row."""

CONTOURS = ("arch", "valley", "rise", "fall", "wave")

SLIDE_BEATS = Fraction(1, 4)
VELOCITY = 84
"""MIDI velocity of a phrase's notes on strong beats."""
ROLLED = (4, 5)
"""Semitones between neighbouring strings: such a leap lies at one fret, where a finger rolls and has
no way to slide."""

UNRESOLVED, UNRESOLVED_BY_THE_WAY, RISING = 10_000, 15, 5
"""Cost of going through a change without a guide tone that resolves, at the change where the phrase
has to and at any other; a guide tone rather falls than rises."""
MOST_REST_BEATS = Fraction(1, 2)
"""Over a longer rest nobody hears a note resolve."""
PICKUP_BAR = -1
"""Index of the bar that a pickup lies in: the one before the phrase."""

OFF_THE_HAND = 60
"""Cost of a note in the middle of a phrase that the hand would have to shift for."""


@dataclass(frozen=True, slots=True)
class _Place:
    """A note to be: where, over which chord and its scale, and whether it may be foreign to it."""

    onset_beats: Fraction
    length_beats: Fraction
    chord: Chord
    scale: Scale
    weak: bool
    bar: int
    index: int


@dataclass(frozen=True)
class Phrase:
    """A written phrase, not yet fingered, and the rhythm it has.

    ``start_beats`` is its first bar line; a pickup comes before it and is not in ``rhythm``.
    """

    notes: tuple[Note, ...]
    kinds: tuple[Kind, ...]
    rhythm: PhraseRhythm
    start_beats: Fraction

    @property
    def shape(self) -> tuple[tuple[Fraction, Fraction, int], ...]:
        """Onset from the first note, length and pitch of each note: what makes two phrases equal."""
        start = self.notes[0].onset_beats
        return tuple((n.onset_beats - start, n.duration_beats, n.midi) for n in self.notes)


def vocabulary_for(timeline: Timeline, first_bar: int, bars: int, hold: Hold, level: int) -> Vocabulary:
    """What a phrase over some bars may be made of, the hand lying where it suits their chords."""
    chords = {
        span.chord: None
        for bar in timeline.bars[first_bar : first_bar + bars]
        for span in timeline.chords_in(bar)
        if span.chord is not None
    }
    under_hand = hold.under_hand(chords)
    within = under_hand if hold.position is None and under_hand else hold.allowed
    return Vocabulary(level, hold.allowed, within[len(within) // 2], under_hand)


def write_phrase(
    timeline: Timeline,
    first_bar: int,
    bars: int,
    vocabulary: Vocabulary,
    rng: Random,
    *,
    like: Phrase | None = None,
    pickup: Pickup = (),
    slides: bool = False,
) -> Phrase:
    """A phrase over ``bars`` bars from the bar of that index (from 0).

    ``like`` is an earlier phrase that this one answers: same rhythm, a shape as near as the
    chords allow, another ending. ``pickup`` comes before the first bar, if the phrase begins on
    its first beat. ``slides`` lets some held notes be slid into. Raises LineError where nothing
    sounds that a phrase could be made of.
    """
    if not 0 <= first_bar <= first_bar + bars <= len(timeline.bars):
        raise LineError(
            f"a phrase of {bars} bars does not fit the form",
            hint=f"the form has {len(timeline.bars)} bars: take a shorter phrase",
        )
    meter = timeline.bars[first_bar].meter
    if like is not None and len(like.rhythm.bars) == bars:
        rhythm = like.rhythm
    else:
        rhythm = draw_rhythm(meter, bars, vocabulary.level, rng)
    places = _places(timeline, first_bar, rhythm, pickup)
    for _ in range(20):
        if places and (like is not None or not _misses(timeline, first_bar, rhythm, places, vocabulary)):
            break
        # Every note fell on N.C., or at level 6 none leads over a change; another rhythm may do.
        rhythm = draw_rhythm(meter, bars, vocabulary.level, rng)
        places = _places(timeline, first_bar, rhythm, pickup)
    if not places:
        number = timeline.bars[first_bar].number
        raise LineError(
            f"no chord sounds in the bars from {number} on that a phrase could be made of",
            hint="write a chord symbol instead of N.C.",
        )
    heights, weights = _contour(places, vocabulary, rng)
    wanted = _foreign_wanted(places, vocabulary.level, rng)
    goals = _goals(places, wanted, vocabulary.level, rng)
    if like is not None:
        _lean_on(like, places, timeline, first_bar, heights, weights, rng)
    elif any(kin is not None for kin in rhythm.like):
        idea = _search(places, vocabulary, heights, weights, wanted, goals, rng)
        _repeat(places, rhythm, [midi for midi, _, _ in idea], heights, weights, rng)
    path = _search(places, vocabulary, heights, weights, wanted, goals, rng)
    notes = _named(places, path, vocabulary)
    if slides:
        notes = _with_slides(notes, path, rng)
    start = timeline.bars[first_bar].onset_beats
    return Phrase(tuple(notes), tuple(kind for _, kind, _ in path), rhythm, start)


def _places(timeline: Timeline, first_bar: int, rhythm: PhraseRhythm, pickup: Pickup) -> list[_Place]:
    places = []
    start = timeline.bars[first_bar].onset_beats
    if not (rhythm.bars[0] and rhythm.bars[0][0][0] == 0):
        pickup = ()
    for index, (onset, length) in enumerate(pickup):
        here = timeline.reading_at(start + onset)
        if here.chord is not None and here.scale is not None:
            places.append(_Place(start + onset, length, here.chord, here.scale, True, PICKUP_BAR, index))
    for bar_index, notes in enumerate(rhythm.bars):
        bar = timeline.bars[first_bar + bar_index]
        pulses = bar.meter.pulses
        strong = {pulses[0], pulses[len(pulses) // 2]} if len(pulses) > 3 else {pulses[0]}
        if bar.meter.is_compound:
            strong = set(pulses)
        for index, (onset, length) in enumerate(notes):
            here = timeline.reading_at(bar.onset_beats + onset)
            if here.chord is None or here.scale is None:
                continue
            weak = onset not in strong and length < bar.meter.pulse_beats
            places.append(
                _Place(bar.onset_beats + onset, length, here.chord, here.scale, weak, bar_index, index)
            )
    if not places or places[-1].bar == PICKUP_BAR:
        return []
    places[-1] = replace(places[-1], weak=False)
    return places


def _crossings(places: Sequence[_Place]) -> dict[int, Resolution]:
    """The notes that come first over a new chord, right after one over the old, and what resolves."""
    found = {}
    for index, (before, after) in enumerate(pairwise(places), start=1):
        rest = after.onset_beats - before.onset_beats - before.length_beats
        if before.bar == PICKUP_BAR or before.chord == after.chord or rest > MOST_REST_BEATS:
            continue
        ways = resolution(before.chord, after.chord)
        if ways is not None:
            found[index] = ways
    return found


def _misses(
    timeline: Timeline,
    first_bar: int,
    rhythm: PhraseRhythm,
    places: Sequence[_Place],
    vocabulary: Vocabulary,
) -> bool:
    """Whether a phrase that should go through a change has no notes right before and after one."""
    if vocabulary.level != CHANGES_LEVEL or _crossings(places):
        return False
    chords = [
        span.chord
        for bar in timeline.bars[first_bar : first_bar + len(rhythm.bars)]
        for span in timeline.chords_in(bar)
    ]
    return any(
        before is not None and after is not None and before != after and resolution(before, after)
        for before, after in pairwise(chords)
    )


def _goals(
    places: Sequence[_Place], wanted: dict[int, tuple[Kind, ...]], level: int, rng: Random
) -> dict[int, tuple[Resolution, int]]:
    """Notes on which a guide tone should resolve, and what it costs if it does not.

    One of them has to; its two notes are taken out of those ``wanted`` foreign to the chord.
    """
    if level != CHANGES_LEVEL:
        return {}
    found = _crossings(places)
    if not found:
        return {}
    chosen = rng.choice(sorted(found))
    for index in (chosen - 1, chosen):
        wanted.pop(index, None)
    return {
        index: (ways, UNRESOLVED if index == chosen else UNRESOLVED_BY_THE_WAY)
        for index, ways in found.items()
    }


def _contour(
    places: Sequence[_Place], vocabulary: Vocabulary, rng: Random
) -> tuple[list[float], list[int]]:
    """The height that each note should have, as a MIDI number, and how much that matters."""
    base = vocabulary.centre - 8 + rng.randrange(-4, 5)
    low, high = vocabulary.window([place.chord for place in places], base)
    shape = rng.choice(CONTOURS)
    last = max(1, len(places) - 1)
    heights = [low + (high - low) * _height(shape, index / last) for index in range(len(places))]
    count = sum(place.bar == PICKUP_BAR for place in places)
    if count:
        # A pickup leads to the first note by step, from below or above.
        side = 2 if rng.random() < 0.3 else -2
        for index in range(count):
            heights[index] = heights[count] + side * (count - index)
    return heights, [3] * len(places)


def _height(shape: str, at: float) -> float:
    """Height from 0 to 1 at a point from 0 to 1 of a contour."""
    if shape == "arch":
        return 0.15 + 0.8 * math.sin(math.pi * at)
    if shape == "valley":
        return 0.85 - 0.8 * math.sin(math.pi * at)
    if shape == "rise":
        return 0.1 + 0.75 * at
    if shape == "fall":
        return 0.9 - 0.75 * at
    return 0.5 + 0.35 * math.sin(2 * math.pi * at)


def _repeat(
    places: Sequence[_Place],
    rhythm: PhraseRhythm,
    idea: Sequence[int],
    heights: list[float],
    weights: list[int],
    rng: Random,
) -> None:
    """Bars that come back to an idea keep its shape, as it was or a step or third away."""
    shifts = {bar: rng.choice((0, 0, 2, -2, 3, -3)) for bar in range(len(rhythm.bars))}
    at = {(place.bar, place.index): number for number, place in enumerate(places)}
    for number, place in enumerate(places):
        kin = None if place.bar == PICKUP_BAR else rhythm.like[place.bar]
        if kin is None:
            heights[number], weights[number] = idea[number], 12
            continue
        source = at.get((kin, place.index))
        if source is not None and number < len(places) - 1:
            heights[number], weights[number] = idea[source] + shifts[place.bar], 12


def _lean_on(
    like: Phrase,
    places: Sequence[_Place],
    timeline: Timeline,
    first_bar: int,
    heights: list[float],
    weights: list[int],
    rng: Random,
) -> None:
    """Heights of the phrase that is answered, moved as a whole; its ending is left free."""
    start = timeline.bars[first_bar].onset_beats
    known = {note.onset_beats - like.start_beats: note.midi for note in like.notes}
    shift = rng.choice((0, 0, 2, -2, 3))
    ending = places[-1].bar
    for number, place in enumerate(places):
        midi = known.get(place.onset_beats - start)
        if midi is not None and (place.bar != ending or ending == 0) and number < len(places) - 1:
            heights[number], weights[number] = midi + shift, 10


def _search(
    places: Sequence[_Place],
    vocabulary: Vocabulary,
    heights: Sequence[float],
    weights: Sequence[int],
    foreign_wanted: Mapping[int, tuple[Kind, ...]],
    goals: Mapping[int, tuple[Resolution, int]],
    rng: Random,
) -> list[State]:
    low, high = min(heights) - 7, max(heights) + 7
    layers: list[list[State]] = []
    for number, place in enumerate(places):
        found = vocabulary.candidates(
            place.chord, place.scale, weak=place.weak, wanted=foreign_wanted.get(number, ())
        )
        inside = [(midi, kind) for midi, kind in found if low <= midi <= high or vocabulary.level == 1]
        chord_tones = [item for item in inside if item[1] is Kind.CHORD]
        usable = inside if chord_tones else found
        layers.append([(m, k, run) for m, k in usable for run in ((1, 2) if k is Kind.CHORD else (1,))])
    spice = [rng.randrange(12) for _ in range(128)]
    last = len(places) - 1
    resting = (0, 3, 5)

    def own(layer: int, state: State) -> int:
        midi, kind, run = state
        cost = round(weights[layer] * abs(midi - heights[layer])) + spice[midi]
        if not vocabulary.is_under_hand(midi):
            cost += OFF_THE_HAND
        if layer == 0 and (run == 2 or kind is Kind.ENCLOSE_BELOW):
            return FORBIDDEN
        if layer == last:
            if kind is not Kind.CHORD:
                return FORBIDDEN
            degree = places[layer].chord.degree_of(midi)
            number = degree.number if degree else 0
            cost += resting[(1, 3, 5).index(number)] if number in (1, 3, 5) else 40
        wanted = foreign_wanted.get(layer)
        if wanted is not None:
            cost += 0 if kind in wanted else 60
        elif kind is not Kind.CHORD:
            cost += 6 if kind is Kind.SCALE else 25
        return cost

    def change(layer: int, before: State, after: State) -> int:
        leap = abs(after[0] - before[0])
        if after[2] != (before[2] + 1 if leap == 0 else 1) or leap > 12:
            return FORBIDDEN
        if not allows(before[:2], after[:2]):
            return FORBIDDEN
        missed = 0
        if layer in goals:
            ways, missed = goals[layer]
            if before[1] is after[1] is Kind.CHORD and ways.is_made_by(before[0], after[0]):
                missed = 0 if after[0] < before[0] else RISING
        if leap == 0:
            return missed + 14 if before[1] is after[1] is Kind.CHORD else FORBIDDEN
        crosses = places[layer].chord != places[layer - 1].chord
        return (
            missed
            + (4 * max(0, leap - 2) if crosses else 0)
            + 3 * max(0, leap - 4)
            + 5 * max(0, leap - 7)
        )

    return cheapest_path(layers, own, change)[1]


def _foreign_wanted(places: Sequence[_Place], level: int, rng: Random) -> dict[int, tuple[Kind, ...]]:
    """Weak notes that should be foreign to the chord, so that a level shows what it is about.

    Level 4 asks for scale tones on about half of the weak notes; levels 5 and 6 for an approach
    or an enclosure before one or two strong notes besides.
    """
    weak = [n for n, place in enumerate(places[:-1]) if place.weak]
    if level < 4 or not weak:
        return {}
    wanted: dict[int, tuple[Kind, ...]] = {
        n: (Kind.SCALE,) for n in weak if not places[n + 1].weak and rng.random() < 0.6
    }
    if level >= 5:
        doors = [n for n in weak if not places[n + 1].weak]
        for n in rng.sample(doors, min(len(doors), 1 + (len(places) > 8))):
            if n - 1 in weak and rng.random() < 0.5:
                wanted[n - 1], wanted[n] = (Kind.ENCLOSE_ABOVE,), (Kind.ENCLOSE_BELOW,)
            else:
                wanted[n] = (Kind.APPROACH,)
    return wanted


def _named(places: Sequence[_Place], path: Sequence[State], vocabulary: Vocabulary) -> list[Note]:
    """The notes with spelling and degree, from the last to the first: leading notes need theirs."""
    notes: list[Note] = []
    target: Pitch | None = None
    for place, (midi, kind, _) in zip(reversed(places), reversed(path), strict=True):
        pitch, degree = vocabulary.name(place.chord, place.scale, midi, kind, target)
        strength = VELOCITY - 8 if place.weak else VELOCITY
        notes.append(Note(place.onset_beats, place.length_beats, pitch, max(1, strength), degree=degree))
        # An enclosure's upper note leads past the lower one to the same target.
        target = target if kind is Kind.ENCLOSE_BELOW else pitch
    return notes[::-1]


def _with_slides(notes: Sequence[Note], path: Sequence[State], rng: Random) -> list[Note]:
    """Held chord tones that follow a leap from below, or begin, are sometimes slid into."""
    found = []
    for index, note in enumerate(notes):
        leap = note.midi - notes[index - 1].midi if index else None
        rises = leap is None or (leap >= 3 and leap not in ROLLED)
        is_held = note.duration_beats >= 1 and path[index][1] is Kind.CHORD
        if rises and is_held and rng.random() < 0.5:
            length = min(SLIDE_BEATS, note.duration_beats / 4)
            note = replace(note, slide=Slide(-rng.choice((1, 2, 2)), length))
        found.append(note)
    return found
