"""The exercise of grips: the path of the hand, struck in a rhythm, strummed or plucked."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace

from genex.errors import LineError
from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.comping import Grips
from genex.fretboard import Grip, HandMove
from genex.lines.comping_rhythm import TuneStroke, strokes_over
from genex.lines.grip_path import Change, Reach, grip_path
from genex.lines.placement import chords_of, fretted_part
from genex.score import Articulation, Fretting, HeldGrip, Note, Part, Role, Stroke, Timeline
from genex.units import TICKS_PER_BEAT

_GATE = Fraction(19, 20)
_SHORTEST = Fraction(1, 24)
_MUTED_BEATS = Fraction(1, 10)
_LEAST_VELOCITY, _A_LOUDNESS = 34, 6
_UP_IS_SOFTER = 5
_UP_SHARE = Fraction(3, 4)
"""An up-stroke is quicker, and brushes the thick strings [common practice]."""


def grips_through(timeline: Timeline, exercise: Grips, player: Player) -> Part:
    """The grips of a chart in the rhythm asked for; N.C. is a rest. Raises LineError."""
    chords_of(timeline, "hold")
    low, high = exercise.limits
    strings = exercise.strings
    count = len(player.tuning.strings)
    if strings is not None and max(strings) > count:
        raise LineError(
            f"there is no string {max(strings)} in {player.tuning}",
            hint=f"strings run from 1 to {count}",
        )
    reach = Reach(
        player.tuning, exercise.voicings, strings, low, high, exercise.position, exercise.moving
    )
    path = grip_path(timeline, reach, loops=player.loops)
    strokes = strokes_over(timeline, exercise.rhythm, player.comping)
    notes = _damped(list(_notes(path, strokes, timeline, exercise)))
    part = fretted_part(player, Role.EXERCISE, notes)
    return replace(part, grips=tuple(_held(change) for change in path))


def _held(change: Change) -> HeldGrip:
    """A grip of the path as the score has it."""
    grip = change.grip
    notes = tuple(
        Note(
            change.onset_beats,
            change.length_beats,
            pitch,
            fretting=Fretting(string, grip.held.frets[string], grip.held.fingers[string]),
            degree=grip.degrees[string],
        )
        for string, pitch in zip(grip.strings, grip.pitches, strict=True)
    )
    return HeldGrip(change.onset_beats, notes)


def _notes(
    path: Sequence[Change], strokes: Sequence[TuneStroke], timeline: Timeline, exercise: Grips
) -> Iterator[Note]:
    onsets = [change.onset_beats for change in path]
    before: Grip | None = None
    for stroke in strokes:
        change = path[bisect_right(onsets, stroke.chord_beats % timeline.length_beats) - 1]
        grip = change.grip
        moved = before is not None and grip.position != before.position
        before = grip
        yield from _struck(grip, stroke, change, timeline, exercise, moved=moved)


def _struck(
    grip: Grip, stroke: TuneStroke, change: Change, timeline: Timeline, exercise: Grips, *, moved: bool
) -> Iterator[Note]:
    """The notes of a stroke, lowest first, each with the time at which the hand reaches it."""
    voices = range(len(grip.strings))
    if stroke.voice is not None:
        picked = _voice(stroke.voice, len(grip.strings))
        voices = range(picked, picked + 1)
    strums = exercise.touch == "strum" and stroke.voice is None
    is_up = stroke.way is Stroke.UP
    spread = _beats(exercise.spread, timeline, stroke.onset_beats) * (_UP_SHARE if is_up else 1)
    velocity = _LEAST_VELOCITY + _A_LOUDNESS * stroke.loudness - (_UP_IS_SOFTER if is_up else 0)
    for voice in voices:
        string = grip.strings[voice]
        order = len(voices) - 1 - voice if is_up else voice
        late = spread * order / max(1, len(voices) - 1) if strums else Fraction(0)
        late = Fraction(round(late * TICKS_PER_BEAT), TICKS_PER_BEAT)
        # Twice the spread: swing may make a written length shorter, and the next stroke sounds then.
        sounding = max(_SHORTEST, min(stroke.length_beats * _GATE, stroke.length_beats - 2 * spread))
        if stroke.is_muted:
            sounding = min(sounding, _MUTED_BEATS)
        if stroke.voice is not None:  # the hand holds the grip, and its strings ring on
            sounding = max(sounding, change.end_beats - stroke.onset_beats)
        place = Fretting(
            string,
            grip.held.frets[string],
            grip.held.fingers[string],
            HandMove.SHIFT if moved else HandMove.NONE,
        )
        yield Note(
            stroke.onset_beats,
            stroke.length_beats,
            grip.pitches[voice],
            velocity,
            Articulation.DEAD if stroke.is_muted else Articulation.NORMAL,
            offset_beats=late,
            sounding_beats=sounding,
            fretting=place,
            degree=grip.degrees[string],
            stroke=stroke.way if strums else None,
        )


def _voice(wished: int, count: int) -> int:
    """The voice that is picked of so many: one too high is another above the bass, so that a pattern
    for five strings goes round on three."""
    return wished if wished < count else 1 + (wished - 1) % (count - 1)


def _damped(notes: Sequence[Note]) -> list[Note]:
    """The notes, each ending at the latest where its string is struck again."""
    following: dict[int, Fraction] = {}
    found = []
    for note in reversed(notes):
        string = note.fretting.string if note.fretting else 0
        again = following.get(string)
        length = note.sounding_beats or note.duration_beats
        if again is not None:
            length = min(length, (again - note.onset_beats) * _GATE)
        following[string] = note.onset_beats
        found.append(replace(note, sounding_beats=length))
    return found[::-1]


def _beats(milliseconds: int, timeline: Timeline, at: Fraction) -> Fraction:
    return timeline.tempo.tempo_at(at) * milliseconds / 60_000
