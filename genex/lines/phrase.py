"""Phrases: short melodies with an idea, a contour and a note to rest on.

A phrase is a rhythm (``rhythm.py``) whose notes are chosen from a vocabulary (``vocabulary.py``)
by the cheapest path: near to a contour, in small steps, never the same note three times, notes
foreign to the chord resolved, the last note a tone of the triad. Bars that come back to an idea
keep its shape, at the same height or moved (repetition and sequence).

A phrase of level 6 goes through a change: a third or seventh of the one chord moves by step to a
third or seventh of the next, as in a ii-V-I the seventh falls to the third [common practice].
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from random import Random

from genex.errors import LineError
from genex.exact import Fraction
from genex.lines.awkward import awkward_places
from genex.lines.contour import Contour, Likeness
from genex.lines.phrase_places import (
    PhrasePlace,
    crossings,
    misses_changes,
    places_of,
    within_chord,
)
from genex.lines.placement import Hold
from genex.lines.resolution import CHANGES_LEVEL, Resolution
from genex.lines.rhythm import Ending, PhraseRhythm, Pickup, Style, draw_rhythm
from genex.lines.rhythm_cells import Words
from genex.lines.search import FORBIDDEN, cheapest_path
from genex.lines.vocabulary import (
    APPROACH_LEVEL,
    PENTATONIC_LEVEL,
    SCALE_LEVEL,
    Kind,
    Vocabulary,
    allows,
    is_blues,
    is_triad,
)
from genex.score import Note, Slide, Timeline
from genex.theory import Pitch

State = tuple[int, Kind, int]
"""MIDI number, what it is, and how often it has been struck in a row."""

SLIDE_BEATS = Fraction(1, 4)
VELOCITY = 84
"""MIDI velocity of a phrase's notes on strong beats."""

UNRESOLVED, UNRESOLVED_BY_THE_WAY, RISING = 10_000, 15, 5
"""Cost of going through a change without a guide tone that resolves, at the change where the phrase
has to and at any other; a guide tone rather falls than rises."""

OFF_THE_HAND = 60
"""Cost of a note in the middle of a phrase that the hand would have to shift for."""
OFF_THE_COMPASS = 45
"""Cost of each semitone beyond the lowest or highest note that a phrase may have."""
OVER_THE_REST, WIDEST_OVER_A_REST = 45, 12
"""Cost of each semitone that a phrase begins farther from the end of the one before than an octave: the
ear joins what is nearer, and the hand gets there in the rest [common practice]."""

_RESTING: Mapping[Ending, Mapping[int, int]] = {
    "open": {5: 0, 3: 3, 9: 8, 7: 8, 1: 14},
    "closed": {1: 0, 3: 3, 5: 9},
    "final": {1: 0, 3: 6, 5: 12},
}
"""What it costs to come to rest on a degree: on the way rather on the fifth, at home on root or
third [common practice]."""
_UNREST = 40

AGAIN, QUICK_AGAIN, SEVENTH = 26, 70, 60
"""What a note struck again costs, a short one within a beat, and a leap of a seventh, harder to hear
than an octave."""
LONGEST_APPROACH_BEATS = Fraction(2, 3)
"""A longer one is heard as a chord of its own."""
TRIES, BARRED = 6, 90
"""How often a phrase is written anew that has awkward places (the one with the fewest is kept), and
the cost of a note that made one."""


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
    rolled = hold.tuning.rolled_semitones
    centre = within[len(within) // 2]
    return Vocabulary(level, hold.allowed, centre, under_hand, is_blues(timeline), rolled)


@dataclass(frozen=True)
class PhrasePlan:
    """What a phrase is to be, beyond its bars and its vocabulary.

    style      what its rhythm is drawn from; the meter's own if left away
    like       an earlier phrase that it takes up: same rhythm up to the ending, and
    likeness   a shape as near to that as the chords allow, or moved, or upside down
    pickup     comes before the first bar, if the phrase begins on its first beat
    slides     some held notes are slid into
    ending     how it ends
    last_from  pulse of the last bar, from 0, on which the last note comes at the earliest
    density    multiplies the number of its notes
    before     rhythms of the bars that there were already
    compass    lowest and highest MIDI number; the level's window about the centre if left away
    peaks      it reaches the top of its compass
    dips       it reaches the bottom of its compass
    rhythm     the rhythm that it has; drawn if left away
    begin      the rhythm of its first bar; drawn if left away
    after      MIDI number of the note before it, which it begins within an octave of if it can
    """

    style: Style | None = None
    like: Phrase | None = None
    likeness: Likeness = "answer"
    pickup: Pickup = ()
    slides: bool = False
    ending: Ending = "open"
    last_from: int = 0
    density: Fraction = Fraction(1)
    before: tuple[Words, ...] = ()
    compass: tuple[int, int] | None = None
    peaks: bool = False
    dips: bool = False
    rhythm: PhraseRhythm | None = None
    begin: Words | None = None
    after: int | None = None


ANY = PhrasePlan()


def write_phrase(
    timeline: Timeline,
    first_bar: int,
    bars: int,
    vocabulary: Vocabulary,
    rng: Random,
    plan: PhrasePlan = ANY,
) -> Phrase:
    """A phrase over ``bars`` bars from the bar of that index (from 0).

    Raises LineError where nothing sounds that a phrase could be made of.
    """
    if not 0 <= first_bar <= first_bar + bars <= len(timeline.bars):
        raise LineError(
            f"a phrase of {bars} bars does not fit the form",
            hint=f"the form has {len(timeline.bars)} bars: take a shorter phrase",
        )
    meter = timeline.bars[first_bar].meter
    style = plan.style or Style.draw(None, meter, vocabulary.level, rng)
    like = None if plan.like is None else plan.like.rhythm
    rhythm, places = _drawn(timeline, first_bar, bars, style, rng, plan, like)
    for _ in range(20):
        if places and not misses_changes(timeline, first_bar, rhythm, places, vocabulary):
            break
        # Every note fell on N.C., or at level 6 none leads over a change; another rhythm may do.
        rhythm, places = _drawn(timeline, first_bar, bars, style, rng, plan, None)
    if not places:
        number = timeline.bars[first_bar].number
        raise LineError(
            f"no chord sounds in the bars from {number} on that a phrase could be made of",
            hint="write a chord symbol instead of N.C.",
        )
    contour = Contour.draw(places, vocabulary, rng, plan.compass)
    wanted = _foreign_wanted(places, vocabulary, rng)
    goals = _goals(places, wanted, vocabulary.level, rng)
    if plan.like is not None:
        start = timeline.bars[first_bar].onset_beats
        known = {note.onset_beats - plan.like.start_beats: note.midi for note in plan.like.notes}
        contour.lean_on(known, plan.likeness, places, start, rng)
    elif any(copy is not None for copy in rhythm.copies):
        idea = _search(places, vocabulary, contour, wanted, goals, rng, plan)
        contour.repeat(places, rhythm, [midi for midi, _, _ in idea], rng)
    if plan.peaks and plan.compass is not None:
        contour.reach(places, plan.compass[1])
    elif plan.dips and plan.compass is not None:
        contour.reach(places, plan.compass[0])
    path = _search(places, vocabulary, contour, wanted, goals, rng, plan)
    kept, barred = path, set[tuple[int, int]]()
    times = [(place.onset_beats, place.length_beats) for place in places]

    def awkward(one: Sequence[State]) -> list[int]:
        few = vocabulary.level < PENTATONIC_LEVEL
        return awkward_places([midi for midi, _, _ in one], times, few_tones=few)

    for _ in range(TRIES):
        bad = awkward(kept)
        if not bad:
            break
        barred |= {(index, kept[index][0]) for index in bad}
        kept = _search(places, vocabulary, contour, wanted, goals, rng, plan, barred)
        path = min(path, kept, key=lambda one: len(awkward(one)))
    notes = _named(places, path, vocabulary)
    notes[-1] = within_chord(notes[-1], timeline)
    if plan.slides:
        notes = _with_slides(notes, path, vocabulary.rolled, rng)
    start = timeline.bars[first_bar].onset_beats
    return Phrase(tuple(notes), tuple(kind for _, kind, _ in path), rhythm, start)


def _drawn(
    timeline: Timeline,
    first_bar: int,
    bars: int,
    style: Style,
    rng: Random,
    plan: PhrasePlan,
    like: PhraseRhythm | None,
) -> tuple[PhraseRhythm, list[PhrasePlace]]:
    rhythm = plan.rhythm or draw_rhythm(
        style,
        bars,
        rng,
        like=like,
        ending=plan.ending,
        last_from=plan.last_from,
        density=plan.density,
        before=plan.before,
        on_beat=bool(plan.pickup),
        begin=plan.begin,
    )
    return rhythm, places_of(timeline, first_bar, rhythm, plan.pickup)


def _goals(
    places: Sequence[PhrasePlace], wanted: dict[int, tuple[Kind, ...]], level: int, rng: Random
) -> dict[int, tuple[Resolution, int]]:
    """Notes on which a guide tone should resolve, and what it costs if it does not.

    One of them has to; its two notes are taken out of those ``wanted`` foreign to the chord.
    """
    if level != CHANGES_LEVEL:
        return {}
    found = crossings(places)
    if not found:
        return {}
    chosen = rng.choice(sorted(found))
    for index in (chosen - 1, chosen):
        wanted.pop(index, None)
    return {
        index: (ways, UNRESOLVED if index == chosen else UNRESOLVED_BY_THE_WAY)
        for index, ways in found.items()
    }


def _search(
    places: Sequence[PhrasePlace],
    vocabulary: Vocabulary,
    contour: Contour,
    foreign_wanted: Mapping[int, tuple[Kind, ...]],
    goals: Mapping[int, tuple[Resolution, int]],
    rng: Random,
    plan: PhrasePlan,
    barred: Collection[tuple[int, int]] = (),
) -> list[State]:
    low, high = min(contour.heights) - 7, max(contour.heights) + 7
    floor, ceiling = plan.compass or (0, 127)
    layers: list[list[State]] = []
    for number, place in enumerate(places):
        found = vocabulary.candidates(
            place.chord,
            place.scale,
            weak=place.weak,
            off=place.off,
            wanted=foreign_wanted.get(number, ()),
        )
        inside = [(midi, kind) for midi, kind in found if low <= midi <= high or vocabulary.level == 1]
        usable = inside if any(kind is Kind.CHORD for _, kind in inside) else found
        layers.append([(m, k, run) for m, k in usable for run in ((1, 2) if k is Kind.CHORD else (1,))])
    spice = [rng.randrange(12) for _ in range(128)]
    last = len(places) - 1
    crosses = [False, *(before.chord != after.chord for before, after in pairwise(places))]
    resting = _RESTING[plan.ending]
    again = [AGAIN, *(QUICK_AGAIN if _is_quick(*pair) else AGAIN for pair in pairwise(places))]

    def own(layer: int, state: State) -> int:
        midi, kind, run = state
        cost = contour.cost(layer, midi) + spice[midi]
        cost += OFF_THE_HAND * (not vocabulary.is_under_hand(midi)) + BARRED * ((layer, midi) in barred)
        cost += OFF_THE_COMPASS * max(floor - midi, midi - ceiling, 0)
        if layer == 0 and plan.after is not None:
            cost += OVER_THE_REST * max(abs(midi - plan.after) - WIDEST_OVER_A_REST, 0)
        if layer == 0 and (run == 2 or kind is Kind.ENCLOSE_BELOW):
            return FORBIDDEN
        if layer == last:
            if kind is not Kind.CHORD:
                return FORBIDDEN
            degree = places[layer].chord.degree_of(midi)
            number = degree.number if degree else 0
            cost += resting.get(number, 2 * UNRESOLVED if plan.ending == "final" else _UNREST)
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
            return missed + again[layer] if before[1] is after[1] is Kind.CHORD else FORBIDDEN
        return (
            missed
            + (4 * max(0, leap - 2) if crosses[layer] else 0)
            + 3 * max(0, leap - 4)
            + 5 * max(0, leap - 7)
            + SEVENTH * (leap in (10, 11))
        )

    return cheapest_path(layers, own, change)[1]


def _is_quick(before: PhrasePlace, after: PhrasePlace) -> bool:
    return after.onset_beats - before.onset_beats < 1 and after.length_beats < 1


def _foreign_wanted(
    places: Sequence[PhrasePlace], vocabulary: Vocabulary, rng: Random
) -> dict[int, tuple[Kind, ...]]:
    """Weak notes that should be foreign to the chord, so that a level shows what it is about.

    Level 3 asks for tones of the pentatonic over triads, level 4 for scale tones on about half of
    the notes off the beat and for a blue note in a blues; levels 5 and 6 for an approach or an
    enclosure before one or two strong notes besides.
    """
    level = vocabulary.level
    doors = [n for n, place in enumerate(places[:-1]) if place.weak and not places[n + 1].weak]
    if level < PENTATONIC_LEVEL or not doors:
        return {}
    wanted: dict[int, tuple[Kind, ...]] = {
        n: (Kind.SCALE,)
        for n in doors
        if (places[n].off or level != SCALE_LEVEL)
        and (level >= SCALE_LEVEL or is_triad(places[n].chord))
        and rng.random() < 0.6
    }
    tight = {
        n
        for n, (place, after) in enumerate(pairwise(places))
        if after.onset_beats == place.onset_beats + place.length_beats
    }
    """What leads to a note does so at once: over a rest nobody hears where it wants to go."""
    blue = [
        n
        for n in doors
        if n in tight and level >= SCALE_LEVEL and vocabulary.has_blue_notes(places[n].chord)
    ]
    for n in rng.sample(blue, min(len(blue), 1)):
        wanted[n] = (Kind.BLUE,)
    if level >= APPROACH_LEVEL:
        short = [n for n in doors if n in tight and places[n].length_beats <= LONGEST_APPROACH_BEATS]
        for n in rng.sample(short, min(len(short), 1 + (len(places) > 8))):
            if n - 1 in tight and places[n - 1].weak and rng.random() < 0.5:
                wanted[n - 1], wanted[n] = (Kind.ENCLOSE_ABOVE,), (Kind.ENCLOSE_BELOW,)
            elif wanted.get(n) != (Kind.BLUE,):
                wanted[n] = (Kind.APPROACH,)
    return wanted


def _named(places: Sequence[PhrasePlace], path: Sequence[State], vocabulary: Vocabulary) -> list[Note]:
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


def _with_slides(
    notes: Sequence[Note], path: Sequence[State], rolled: frozenset[int], rng: Random
) -> list[Note]:
    """Held chord tones that follow a leap from below, or begin, are sometimes slid into; not a leap
    of ``rolled`` semitones, which lies at one fret: there a finger rolls and has no way to slide."""
    found = []
    for index, note in enumerate(notes):
        leap = note.midi - notes[index - 1].midi if index else None
        rises = leap is None or (leap >= 3 and leap not in rolled)
        is_held = note.duration_beats >= 1 and path[index][1] is Kind.CHORD
        if rises and is_held and rng.random() < 0.5:
            length = min(SLIDE_BEATS, note.duration_beats / 4)
            note = replace(note, slide=Slide(-rng.choice((1, 2, 2)), length))
        found.append(note)
    return found
