"""The notes of a phrase to be: when, over which chord, and what they may be there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from genex.exact import Fraction
from genex.lines.ladders import chord_tones
from genex.lines.resolution import CHANGES_LEVEL, Resolution, resolution
from genex.lines.rhythm import PhraseRhythm, Pickup
from genex.lines.vocabulary import Vocabulary
from genex.score import Meter, Note, Timeline
from genex.theory import Chord, Reading, Scale

MOST_REST_BEATS = Fraction(1, 2)
"""Over a longer rest nobody hears a note resolve."""
PICKUP_BAR = -1
"""Index of the bar that a pickup lies in: the one before the phrase."""


@dataclass(frozen=True, slots=True)
class PhrasePlace:
    """A note to be: where, over which chord and its scale, and whether it may be foreign to it.

    weak     off the strong beats, short, and soon followed by another
    off      off the beat altogether
    carries  on a beat or held for one: a note that can be the goal of a line
    """

    onset_beats: Fraction
    length_beats: Fraction
    chord: Chord
    scale: Scale
    weak: bool
    off: bool
    bar: int
    index: int
    carries: bool = False


def places_of(
    timeline: Timeline, first_bar: int, rhythm: PhraseRhythm, pickup: Pickup
) -> list[PhrasePlace]:
    """The notes of a rhythm laid over the bars from ``first_bar`` on, but for those on N.C.

    The pickup comes before them where the first note lies on the bar line. Empty if nothing sounds.
    """
    places = []
    start = timeline.bars[first_bar].onset_beats
    if not (rhythm.bars[0] and rhythm.bars[0][0][0] == 0):
        pickup = ()
    for index, (onset, length) in enumerate(pickup):
        here = timeline.reading_at(start + onset)
        off = onset % timeline.bars[first_bar].meter.pulse_beats != 0
        if here.chord is not None and here.scale is not None:
            places.append(
                PhrasePlace(start + onset, length, here.chord, here.scale, True, off, PICKUP_BAR, index)
            )
    for bar_index, notes in enumerate(rhythm.bars):
        bar = timeline.bars[first_bar + bar_index]
        pulses = bar.meter.pulses
        strong = strong_beats(bar.meter)
        for index, (onset, length) in enumerate(notes):
            at = bar.onset_beats + onset
            here = reading_over(timeline, at, length, bar.meter.pulse_beats)
            if here.chord is None or here.scale is None:
                continue
            weak = onset not in strong and length < bar.meter.pulse_beats
            off = weak and onset not in pulses
            carries = onset in pulses or length >= bar.meter.pulse_beats
            places.append(
                PhrasePlace(at, length, here.chord, here.scale, weak, off, bar_index, index, carries)
            )
    if not places or places[-1].bar == PICKUP_BAR:
        return []
    return [
        place if place.weak and _leads_on(place, following) else replace(place, weak=False, off=False)
        for place, following in zip(places, [*places[1:], None], strict=True)
    ]


def _leads_on(place: PhrasePlace, following: PhrasePlace | None) -> bool:
    """Whether a note is followed soon enough that it may be foreign: the last one never is, and one
    before a rest hangs in the air."""
    if following is None:
        return False
    return following.onset_beats - place.onset_beats - place.length_beats <= MOST_REST_BEATS


def strong_beats(meter: Meter) -> frozenset[Fraction]:
    """Onsets in the bar of the beats that carry it: the first and the middle one, in a compound
    meter all."""
    pulses = meter.pulses
    if meter.is_compound:
        return frozenset(pulses)
    return frozenset((pulses[0], pulses[len(pulses) // 2]) if len(pulses) > 3 else pulses[:1])


def chord_over(
    timeline: Timeline, onset_beats: Fraction, length_beats: Fraction, pulse_beats: Fraction
) -> Chord | None:
    """The chord that a note belongs to: see ``reading_over``."""
    return reading_over(timeline, onset_beats, length_beats, pulse_beats).chord


def reading_over(
    timeline: Timeline, onset_beats: Fraction, length_beats: Fraction, pulse_beats: Fraction
) -> Reading:
    """The harmony that a note belongs to: the next one, where it is struck less than a pulse ahead
    of it and held into it at least as long (an anticipation [common practice])."""
    span = timeline.chord_at(onset_beats)
    ahead = span.end_beats - onset_beats % timeline.length_beats
    if ahead < pulse_beats and length_beats >= 2 * ahead:
        following = timeline.reading_at(onset_beats + ahead)
        if following.chord is not None:
            return following
    return timeline.reading_at(onset_beats)


def within_chord(last: Note, timeline: Timeline) -> Note:
    """The last note, let go where a chord comes that it is foreign to."""
    pulse = timeline.bar_at(last.onset_beats).meter.pulse_beats
    at = last.onset_beats + min(pulse, last.duration_beats)
    while at < last.written_end_beats:
        chord = timeline.chord_at(at).chord
        if chord is None or not chord_tones(chord, (last.midi,)):
            return replace(last, duration_beats=at - last.onset_beats)
        at = min(timeline.chord_at(at).end_beats, last.written_end_beats)
    return last


def crossings(places: Sequence[PhrasePlace]) -> dict[int, Resolution]:
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


def misses_changes(
    timeline: Timeline,
    first_bar: int,
    rhythm: PhraseRhythm,
    places: Sequence[PhrasePlace],
    vocabulary: Vocabulary,
) -> bool:
    """Whether a phrase that should go through a change has no notes right before and after one."""
    if vocabulary.level != CHANGES_LEVEL or crossings(places):
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
