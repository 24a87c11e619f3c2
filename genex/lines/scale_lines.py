"""Scales over the changes: one unbroken line of chord scales that keeps its direction.

Each chord has the scale that it is read in where it stands (``Timeline.readings``). At a change, in
mid-bar or over a bar line, the line goes on to the next note of the new scale in the direction of
travel. It turns at the limits of the position, or of the three-notes-a-string pattern
[common practice].
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Scales
from genex.fretboard.tunings import Tuning
from genex.lines.ladders import Ladder, pitch_in_scale, scale_tones
from genex.lines.note_slots import VELOCITY, accented, slots
from genex.lines.placement import chords_of, fretted_part, hold_over
from genex.score import Note, Part, Role, Timeline
from genex.theory import Chord, Scale, find_scale, parse_chord

NOTES_A_STRING = 3


def scale_line(timeline: Timeline, exercise: Scales, player: Player) -> Part:
    """Continuous chord scales through all changes; N.C. is a rest.

    Raises LineError where a scale has fewer than two notes in the position or a pattern of three
    notes a string does not fit on the neck.
    """
    wished = {
        parse_chord(symbol).plain_symbol: find_scale(name) for symbol, name in exercise.scales.items()
    }
    chords = chords_of(timeline, "play a scale over")
    hold = hold_over(chords, exercise, player)
    if exercise.three_a_string:
        if hold.position is None:
            raise LineError(
                "a pattern of three notes a string goes over all strings",
                hint="leave the strings out, or the pattern",
            )
        start, hold = hold.position, replace(hold, position=None, strings=None, hands=None)
    notes: list[Note] = []
    fixed: list[tuple[int, int] | None] = []
    direction = -1 if exercise.falling else 1
    for slot in slots(timeline, exercise.rhythm, rest_every=exercise.rest_every):
        reading = timeline.reading_at(slot.onset_beats)
        chord, scale = reading.chord, reading.scale
        if slot.is_rest or chord is None or scale is None:
            continue
        scale = wished.get(chord.plain_symbol) or scale
        places: Mapping[int, tuple[int, int]] = {}
        if exercise.three_a_string:
            places = three_a_string(chord, scale, player.tuning, start)
            ladder: Ladder = tuple(places)
        else:
            ladder = scale_tones(chord, scale, hold.allowed)
            hold.require_every(scale.pitch_classes(chord.root), f"{scale} over {chord}")
        if len(ladder) < 2:
            raise LineError(
                f"{scale} over {chord} at bar {timeline.bar_at(slot.onset_beats).number} has fewer "
                f"than two notes in {hold}",
                hint="choose another position, or leave it out to have one chosen",
            )
        if notes:
            midi, direction = keep_on(ladder, notes[-1].midi, direction)
        elif exercise.falling:
            midi = ladder[-1]
        else:
            midi = next((m for m in ladder if m % 12 == chord.root.pitch_class), ladder[0])
        pitch, degree = pitch_in_scale(chord, scale, midi)
        velocity = accented(VELOCITY, slot, timeline)
        notes.append(Note(slot.onset_beats, slot.length_beats, pitch, velocity, degree=degree))
        fixed.append(places.get(midi))
    return fretted_part(player, Role.EXERCISE, hold.finger(notes, fixed=fixed))


def keep_on(ladder: Ladder, before: int, direction: int) -> tuple[int, int]:
    """The next note in the direction of travel, and the direction; turns where there is none."""
    for way in (direction, -direction):
        ahead = [midi for midi in ladder if (midi - before) * way > 0]
        if ahead:
            return min(ahead, key=lambda midi: abs(midi - before)), way
    raise ValueError("a ladder of one note leads nowhere")


def three_a_string(
    chord: Chord, scale: Scale, tuning: Tuning, lowest_fret: int
) -> dict[int, tuple[int, int]]:
    """``{midi: (string, fret)}``, ascending: three neighbouring scale notes on each string.

    The pattern begins with the first scale note at or above ``lowest_fret`` on the lowest string.
    Raises LineError where it runs off the neck.
    """
    classes = scale.pitch_classes(chord.root)
    midi = tuning.open_midi[tuning.low_to_high[0] - 1] + lowest_fret
    found: dict[int, tuple[int, int]] = {}
    for string in tuning.low_to_high:
        for _ in range(NOTES_A_STRING):
            while midi % 12 not in classes:
                midi += 1
            fret = midi - tuning.open_midi[string - 1]
            if not 0 <= fret <= tuning.last_fret:
                raise LineError(
                    f"three notes a string of {scale} over {chord} from fret {lowest_fret} run off "
                    f"the neck on string {string}",
                    hint="choose a lower position, or an instrument tuned in fourths",
                )
            found[midi] = (string, fret)
            midi += 1
    return found
