"""Guide-tone lines: the thirds and sevenths that lead from chord to chord.

Each chord is given its third or its seventh (for chords that lack one, the substitute that
``Chord.guide_tones`` documents); ``guide_path.py`` says by which rules, and finds the line. With two
voices, one has the third while the other has the seventh, the first above the second, and one hand
holds both.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import cache

from genex.errors import LineError
from genex.exact import Fraction
from genex.exercises import GuideLine, Player
from genex.exercises.guide_line import GuideRhythm
from genex.fretboard import Tuning
from genex.lines.double_stops import finger_together, pairs_of
from genex.lines.guide_path import GuideStep, GuideWishes, Joint, guide_path
from genex.lines.ladders import pitch_of
from genex.lines.note_slots import bars_under
from genex.lines.placement import (
    chords_of,
    fingered,
    fretted_part,
    hold_for,
    in_position,
    off_open_strings,
)
from genex.score import Bar, ChordSpan, Note, Part, Role, Timeline

VELOCITY = 78
"""MIDI velocity of a change; a chord that is struck again is softer."""


def guide_line(timeline: Timeline, guide: GuideLine, player: Player) -> tuple[Part, ...]:
    """The guide-tone line over a timeline: one part a voice, ``guide`` or ``guide-1``, ``guide-2``.

    N.C. is a rest. Long chords are struck again in every bar. ``player.low`` and ``player.high``
    are the limits of the line; where the player loops, the way from the last chord back to the
    first counts too. Raises LineError where no guide tone lies in the range.
    """
    chords_of(timeline, "take guide tones from")
    spans = _spans(timeline, guide)
    path = guide_path(
        _steps(timeline, spans),
        GuideWishes(
            _range(guide, player),
            voices=guide.voices,
            start=guide.start,
            contour=guide.contour,
            closed=player.loops,
            restless=guide.moving,
            held_together=_held_together(guide, player) if guide.voices == 2 else None,
        ),
    )
    voices = [
        _voice_notes(timeline, spans, [voicing[voice] for voicing in path], guide.rhythm)
        for voice in range(guide.voices)
    ]
    if guide.voices == 1:
        return (fretted_part(player, Role.GUIDE, _fingered(voices[0], guide, player.tuning), "guide"),)
    upper, lower = finger_together(
        voices[0], voices[1], player.tuning, position=guide.position, strings=guide.strings
    )
    return (
        fretted_part(player, Role.GUIDE, upper, "guide-1"),
        fretted_part(player, Role.GUIDE, lower, "guide-2"),
    )


def _spans(timeline: Timeline, guide: GuideLine) -> list[ChordSpan]:
    """What the line has a tone for: a chord, or a bar of one where the line moves over it."""
    spans = timeline.chords if guide.moving else timeline.merged_chords
    return [span for span in spans if span.chord is not None]


def _steps(timeline: Timeline, spans: Sequence[ChordSpan]) -> list[GuideStep]:
    """The chords as the line comes to them."""
    sections = {section.onset_beats for section in timeline.sections}
    steps: list[GuideStep] = []
    for before, span in zip([spans[-1], *spans[:-1]], spans, strict=True):
        assert span.chord is not None and before.chord is not None
        bar = timeline.bar_at(span.onset_beats)
        joint = Joint.PHRASE
        if before.end_beats % timeline.length_beats != span.onset_beats:
            joint = Joint.REST
        elif span.onset_beats in sections:
            joint = Joint.SECTION
        elif span.onset_beats == bar.onset_beats and _is_four_bars_on(timeline, bar):
            joint = Joint.FOUR_BARS
        stays = len(spans) > 1 and before.chord.same_as(span.chord)
        shown = _borrowed(timeline, span)
        steps.append(GuideStep(span.chord, joint, shown, stays=stays, place=f"bar {bar.number}"))
    return steps


def _is_four_bars_on(timeline: Timeline, bar: Bar) -> bool:
    """Whether a bar begins another four of its section."""
    start = max(s.onset_beats for s in timeline.sections if s.onset_beats <= bar.onset_beats)
    return (bar.number - timeline.bar_at(start).number) % 4 == 0


def _borrowed(timeline: Timeline, span: ChordSpan) -> frozenset[int]:
    """The tones that a chord of the home key has from elsewhere, as pitch classes.

    A chord of a key passed through, and a dominant that leads elsewhere, are not borrowed: their
    foreign tones lead.
    """
    reading = timeline.reading_of(span)
    leads_elsewhere = reading.function.endswith("dominant") and "/" in reading.numeral
    if leads_elsewhere or not reading.is_home or span.chord is None:
        return frozenset()
    return frozenset(note.pitch_class for note in reading.outside(reading.key))


def _held_together(guide: GuideLine, player: Player) -> Callable[[int, int], bool]:
    """Whether one hand holds two pitches (MIDI numbers) where the line may lie."""

    @cache
    def held(upper: int, lower: int) -> bool:
        return bool(pairs_of(upper, lower, player.tuning, guide.strings, closed=guide.position != 1))

    return held


def _range(guide: GuideLine, player: Player) -> tuple[int, ...]:
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
    allowed = tuple(m for m in playable if (low is None or m >= low) and (high is None or m <= high))
    if not allowed:
        raise LineError(
            f"the range {low} to {high} holds no note of the instrument",
            hint=f"choose MIDI numbers between {playable[0]} and {playable[-1]}",
        )
    return allowed


def _fingered(notes: Sequence[Note], guide: GuideLine, tuning: Tuning) -> list[Note]:
    """The notes with their frettings, off the open strings where that can be."""
    wishes = replace(off_open_strings(guide.position, guide.strings), closed=guide.position != 1)
    with suppress(LineError):
        return fingered(notes, tuning, wishes)
    return fingered(notes, tuning, replace(wishes, closed=False))


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
