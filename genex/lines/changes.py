"""Arpeggios through the changes: one unbroken line of chord tones that never jumps at a change.

Within a chord the line climbs or falls tone by tone. When the chord changes it goes on to the
nearest tone of the new chord, in the direction of travel if two are equally near, and keeps its
direction. It turns at the limits of the position [common practice].
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from genex.errors import FretboardError, LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Changes
from genex.fretboard.shapes import chord_shape, chord_shapes
from genex.fretboard.tunings import Tuning
from genex.lines.ladders import Ladder, chord_tones, pitch_of
from genex.lines.note_slots import VELOCITY, accented, slots
from genex.lines.placement import HOME_POSITION, chords_of, fretted_part, hold_over
from genex.score import Note, Part, Role, Timeline
from genex.theory import Chord


def arpeggio_line(timeline: Timeline, exercise: Changes, player: Player) -> Part:
    """Continuous chord tones through all changes; N.C. is a rest.

    Raises LineError where a chord has fewer than two tones in the position.
    """
    chords = chords_of(timeline, "play through")
    hold = hold_over(chords, exercise, player)
    forms = _Forms(exercise, player.tuning) if exercise.moving else None
    if forms is not None:
        hold = replace(hold, position=None, strings=None, hands=None)
    fixed: list[tuple[int, int] | None] = []
    places: Mapping[int, tuple[int, int]] = {}
    notes: list[Note] = []
    direction = -1 if exercise.falling else 1
    chord: Chord | None = None
    ladder: Ladder = ()
    for slot in slots(timeline, exercise.rhythm, rest_every=exercise.rest_every):
        if slot.is_rest or slot.span.chord is None:
            continue
        if slot.span.chord != chord:
            chord = slot.span.chord
            if forms is not None:
                places = forms.places(chord)
                ladder = tuple(places)
            else:
                ladder = chord_tones(chord, hold.allowed)
            if len(ladder) < 2:
                raise LineError(
                    f"{chord} at bar {timeline.bar_at(slot.onset_beats).number} has fewer than two "
                    f"notes in {hold}",
                    hint="choose another position, or leave it out to have one chosen",
                )
        if notes:
            midi, direction = go_on(ladder, notes[-1].midi, direction)
        else:
            midi = ladder[-1] if exercise.falling else _lowest_root(chord, ladder)
        pitch, degree = pitch_of(chord, midi)
        velocity = accented(VELOCITY, slot, timeline)
        notes.append(Note(slot.onset_beats, slot.length_beats, pitch, velocity, degree=degree))
        fixed.append(places.get(midi))
    return fretted_part(player, Role.EXERCISE, hold.finger(notes, fixed=fixed))


class _Forms:
    """The places of each chord's form, one after another."""

    def __init__(self, exercise: Changes, tuning: Tuning) -> None:
        self._form = exercise.form
        self._tuning = tuning
        self._position = exercise.position or HOME_POSITION

    def places(self, chord: Chord) -> dict[int, tuple[int, int]]:
        """``{midi: (string, fret)}``, ascending, of the form that a chord is played in."""
        try:
            if self._form is not None:
                shape = chord_shape(chord, self._tuning, self._form)
            else:
                shape = min(
                    chord_shapes(chord, self._tuning),
                    key=lambda shape: abs(shape.position - self._position),
                )
        except FretboardError as error:
            raise LineError(error.message, hint=error.hint) from error
        self._position = shape.position
        return {note.midi: (note.string, note.fret) for note in shape.notes}


def go_on(ladder: Sequence[int], before: int, direction: int) -> tuple[int, int]:
    """The next tone of a line and its direction from then on.

    If ``before`` stands on the ladder, the next rung; else the nearest rung. At an end of the
    ladder the line turns.
    """
    if before in ladder:
        if not ladder[0] <= before + direction <= ladder[-1]:
            direction = -direction
        index = ladder.index(before) + direction
        return ladder[index], direction
    ahead = [tone for tone in ladder if (tone - before) * direction > 0]
    behind = [tone for tone in ladder if (tone - before) * direction < 0]
    if not ahead:
        direction = -direction
        ahead, behind = behind, ahead
    nearest_ahead = min(ahead, key=lambda tone: abs(tone - before))
    nearest_behind = min(behind, key=lambda tone: abs(tone - before), default=None)
    if nearest_behind is not None and abs(nearest_behind - before) < abs(nearest_ahead - before):
        return nearest_behind, direction
    return nearest_ahead, direction


def _lowest_root(chord: Chord, ladder: Ladder) -> int:
    root = chord.notes[0].pitch_class
    return next((midi for midi in ladder if midi % 12 == root), ladder[0])
