"""One line in every position: the same phrase, fingered in each place where it can be played."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from genex.errors import FretboardError, LineError
from genex.exact import Fraction
from genex.exercises import Player
from genex.fretboard.fingering import Fingered, finger_everywhere
from genex.lines.placement import fretted_part, fretting
from genex.lines.study_plan import CueSpan, StudyPlan, bars_of, lay_out
from genex.said import Said
from genex.score import Note, Role, Timeline


def every_position(notes: Sequence[Note], timeline: Timeline, player: Player) -> StudyPlan:
    """The chart over and over, the line each time in another position, from the nut upwards.

    ``notes`` are written over ``timeline``; their own frettings are left aside. Raises LineError
    for a line with notes off the instrument, or too wide for any one position.
    """
    if not notes:
        raise LineError("there is no phrase to play", hint="give it a note or more")
    try:
        ways = finger_everywhere([note.midi for note in notes], player.tuning)
    except FretboardError as error:
        raise LineError(error.message, hint=error.hint) from error
    if not ways:
        raise LineError(
            "the phrase is too wide to be played in one position anywhere",
            hint="take a phrase of less than two octaves",
        )
    written: list[Note] = []
    cues = []
    for turn, (position, way) in enumerate(ways):
        start = timeline.length_beats * turn
        written += _in_place(notes, way, start)
        label = Said(
            "position {position}, from string {string} fret {fret}",
            position=position,
            string=way[0].string,
            fret=way[0].fret,
        )
        cues.append(CueSpan(start, timeline.length_beats, label, "section"))
    bars = [
        replace(bar, section=Said("position {position}", position=position))
        for position, _ in ways
        for bar in bars_of(timeline)
    ]
    part = fretted_part(player, Role.EXERCISE, written)
    return StudyPlan(lay_out(bars, timeline.key, timeline.tempo), (part,), tuple(cues))


def _in_place(notes: Sequence[Note], way: Sequence[Fingered], start: Fraction) -> list[Note]:
    return [
        replace(note, onset_beats=start + note.onset_beats, fretting=fretting(fingered))
        for note, fingered in zip(notes, way, strict=True)
    ]
