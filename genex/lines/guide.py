"""Guide-tone lines: the thirds and sevenths that lead from chord to chord.

The rule [common practice]: each chord is given its third or its seventh (for chords that lack
one, the substitute that ``Chord.guide_tones`` documents), and the line moves as little as it
can. The line found here is optimal. Its costs, compared in this order:

1. total movement in semitones, summed over all voices and all changes; with a contour, each
   semitone against the contour counts three times
2. the sum of squared movements: many small steps rather than one leap
3. the sum of distances from the middle of the range
4. of lines that are still equal, the one that is lower at the first difference

With two voices, one has the third while the other has the seventh, the first above the second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

from genex.errors import LineError
from genex.exact import Fraction
from genex.exercises import GuideLine, Player
from genex.exercises.guide_line import Contour, GuideRhythm
from genex.fretboard.tunings import Tuning
from genex.lines.ladders import pitch_of
from genex.lines.note_slots import bars_under
from genex.lines.placement import (
    chords_of,
    chosen_positions,
    costed,
    fingered,
    fretted_part,
    hold_for,
    in_position,
    off_open_strings,
)
from genex.lines.search import cheapest_path
from genex.score import Bar, ChordSpan, Note, Part, Role, Timeline
from genex.theory import Chord

Voicing = tuple[int, ...]
"""MIDI numbers of the voices on one chord, upper voice first."""

# The three costs in one integer, compared in their order: none ever overflows into the next.
_MOVEMENT, _SQUARES = 10**16, 10**8

VELOCITY = 78
"""MIDI velocity of a change; a chord that is struck again is softer."""
AGAINST_CONTOUR = 3
"""Weight of a semitone that goes against the contour asked for."""


def guide_line(timeline: Timeline, guide: GuideLine, player: Player) -> tuple[Part, ...]:
    """The guide-tone line over a timeline: one part a voice, ``guide`` or ``guide-1``, ``guide-2``.

    N.C. is a rest. Long chords are struck again in every bar. ``player.low`` and ``player.high``
    are the limits of the line; where the player loops, the way from the last chord back to the
    first counts too. Raises LineError where no guide tone lies in the range.
    """
    chords = chords_of(timeline, "take guide tones from")
    spans = [span for span in timeline.merged_chords if span.chord is not None]
    path = guide_voicings(chords, guide, player, at=_place_names(timeline, spans))
    voices = [
        _voice_notes(timeline, spans, [voicing[voice] for voicing in path], guide.rhythm)
        for voice in range(guide.voices)
    ]
    names = ("guide",) if guide.voices == 1 else ("guide-1", "guide-2")
    return tuple(
        fretted_part(player, Role.GUIDE, notes, name)
        for name, notes in zip(names, _fingered_together(voices, guide, player.tuning), strict=True)
    )


def guide_voicings(
    chords: Sequence[Chord],
    guide: GuideLine,
    player: Player,
    *,
    at: Sequence[str] | None = None,
) -> tuple[Voicing, ...]:
    """The optimal voicing of each chord, found by dynamic programming over all candidates.

    ``at`` names each chord's place for error messages.
    """
    allowed = _range(guide, player)
    layers = [
        _candidates(chord, guide, allowed, at[index] if at else str(chord), first=index == 0)
        for index, chord in enumerate(chords)
    ]
    middle = allowed[len(allowed) // 2]
    if not player.loops:
        return _shortest(layers, guide.contour, middle, closing=None)[1]
    ways = (
        _shortest([[first], *layers[1:]], guide.contour, middle, closing=first) for first in layers[0]
    )
    return min(ways)[1]


def _shortest(
    layers: list[list[Voicing]], contour: Contour, middle: int, closing: Voicing | None
) -> tuple[int, tuple[Voicing, ...]]:
    """The cheapest way through the layers, with its cost; ``closing`` follows the last layer."""
    last = len(layers) - 1

    def own(layer: int, voicing: Voicing) -> int:
        away = sum(abs(midi - middle) for midi in voicing)
        return away + (_move(voicing, closing, contour) if closing and layer == last else 0)

    cost, path = cheapest_path(layers, own, lambda layer, before, after: _move(before, after, contour))
    return cost, tuple(path)


def _move(before: Voicing, after: Voicing, contour: Contour) -> int:
    """Cost of a change: movement, more against the contour; then its square, far below it."""
    total = squares = 0
    for a, b in zip(before, after, strict=True):
        against = (contour == "falling" and b > a) or (contour == "rising" and b < a)
        total += abs(b - a) * (AGAINST_CONTOUR if against else 1)
        squares += (b - a) ** 2
    return total * _MOVEMENT + squares * _SQUARES


def _candidates(
    chord: Chord, guide: GuideLine, allowed: Sequence[int], place: str, *, first: bool
) -> list[Voicing]:
    """Every voicing of a chord's guide tones in the range, lowest first."""
    degrees = chord.guide_tones
    classes = [chord.root.degree(degree).pitch_class for degree in degrees]
    upper = classes
    if first and guide.start:
        upper = classes[:1] if guide.start == "third" else classes[-1:]
    tones = [midi for midi in allowed if midi % 12 in upper]
    voicings: list[Voicing]
    if guide.voices == 1:
        voicings = [(midi,) for midi in tones]
    else:
        others = [midi for midi in allowed if midi % 12 in classes]
        voicings = [
            (high, low)
            for high, low in product(tones, others)
            if high > low and (high % 12 != low % 12 or len(classes) == 1)
        ]
    if not voicings:
        wanted = " and ".join(str(degree) for degree in degrees)
        raise LineError(
            f"no guide tone of {chord} ({wanted}) lies in the range at {place}",
            hint="let the range span an octave or more, two octaves for two voices",
        )
    return sorted(voicings)


def _range(guide: GuideLine, player: Player) -> list[int]:
    """The MIDI numbers that may be used, ascending."""
    playable = in_position(player.tuning, guide.position)
    if guide.strings is not None:
        playable = hold_for((), player.tuning, position=guide.position, strings=guide.strings).allowed
    low, high = player.low, player.high
    if guide.position is None and guide.strings is None:
        # The middle of a guitar is D3 to D5; other instruments keep the same distance from
        # their lowest string, as far as they reach.
        low = min(playable[0] + 10, playable[-1] - 12) if low is None else low
        high = max(low + 12, min(playable[0] + 34, playable[-1])) if high is None else high
    allowed = [m for m in playable if (low is None or m >= low) and (high is None or m <= high)]
    if not allowed:
        raise LineError(
            f"the range {low} to {high} holds no note of the instrument",
            hint=f"choose MIDI numbers between {playable[0]} and {playable[-1]}",
        )
    return allowed


def _place_names(timeline: Timeline, spans: Sequence[ChordSpan]) -> list[str]:
    return [f"bar {timeline.bar_at(span.onset_beats).number}" for span in spans]


def _fingered_together(voices: list[list[Note]], guide: GuideLine, tuning: Tuning) -> list[list[Note]]:
    """The voices with their frettings: off the open strings, two voices on strings of their own.

    Two voices are put into the position where both together are the least trouble, the upper
    one on the thinner strings. Where no position takes them so, each is fingered on its own.
    """
    position, strings = guide.position, guide.strings
    if len(voices) == 2:
        order = [s for s in tuning.low_to_high if strings is None or s in strings]
        sets = (order[len(order) // 2 :], order[: len(order) // 2])
        ways = []
        for place in chosen_positions(tuning) if position is None else (position,):
            try:
                both = [
                    costed(notes, tuning, off_open_strings(place, own))
                    for notes, own in zip(voices, sets, strict=True)
                ]
            except LineError:
                continue
            ways.append((sum(cost for cost, _ in both), place, [notes for _, notes in both]))
        if ways:
            return min(ways, key=lambda way: way[:2])[2]
    wishes = replace(off_open_strings(position, strings), closed=position != 1)
    fingerings = []
    for notes in voices:
        try:
            fingerings.append(fingered(notes, tuning, wishes))
        except LineError:
            fingerings.append(fingered(notes, tuning, replace(wishes, closed=False)))
    return fingerings


def _voice_notes(
    timeline: Timeline, spans: Sequence[ChordSpan], midis: Sequence[int], rhythm: GuideRhythm
) -> list[Note]:
    """The notes of one voice, not yet fingered."""
    strikes: list[tuple[Fraction, Fraction, int, ChordSpan]] = []
    for span, midi in zip(spans, midis, strict=True):
        for onset, end in _strikes(timeline, span, rhythm):
            strikes.append((onset, end, midi, span))
    if rhythm == "anticipated":
        strikes = _anticipate(timeline, strikes)
    notes = []
    for onset, end, midi, span in strikes:
        assert span.chord is not None
        pitch, degree = pitch_of(span.chord, midi)
        is_change = onset <= span.onset_beats
        velocity = VELOCITY if is_change else VELOCITY - 8
        notes.append(Note(onset, end - onset, pitch, velocity, degree=degree))
    return notes


def _strikes(
    timeline: Timeline, span: ChordSpan, rhythm: GuideRhythm
) -> list[tuple[Fraction, Fraction]]:
    """``(onset, end)`` of each note that a chord gets, without gaps."""
    onsets = []
    for bar in bars_under(timeline, span):
        onsets += [max(span.onset_beats, onset) for onset in _bar_strikes(bar, rhythm)]
    onsets = sorted({onset for onset in onsets if onset < span.end_beats})
    return list(zip(onsets, [*onsets[1:], span.end_beats], strict=True))


def _bar_strikes(bar: Bar, rhythm: GuideRhythm) -> list[Fraction]:
    if rhythm != "half":
        return [bar.onset_beats]
    pulses = bar.meter.pulses
    return [bar.onset_beats + pulse for pulse in (pulses if len(pulses) == 2 else pulses[::2])]


def _anticipate(
    timeline: Timeline, strikes: list[tuple[Fraction, Fraction, int, ChordSpan]]
) -> list[tuple[Fraction, Fraction, int, ChordSpan]]:
    """Changes come half a beat early where the note before is long enough to give way.

    The first note and a note after a rest come on the beat, so that the listener has a
    place to stand.
    """
    early = Fraction(1, 2)
    for index in range(1, len(strikes)):
        onset, end, midi, span = strikes[index]
        before = strikes[index - 1]
        if onset != span.onset_beats or before[1] != onset or before[1] - before[0] < 2 * early:
            continue
        strikes[index - 1] = (before[0], onset - early, before[2], before[3])
        strikes[index] = (onset - early, end, midi, span)
    return strikes
