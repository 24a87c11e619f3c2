"""The end of a line: its last bar is one chord tone, held as long as the ending lasts."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

from genex.errors import LineError
from genex.exact import Fraction
from genex.fretboard import Tuning, Wishes
from genex.lines.ladders import pitch_of
from genex.lines.placement import fingered
from genex.score import Articulation, Note, Part, Timeline
from genex.theory import Chord

_NOTES_BEFORE = 6
"""So many notes before the last one tell where the hand lies."""
_LIKED = {1: 0, 3: 1, 5: 2}
"""Among tones equally near the root is liked best, then third and fifth, by so many semitones
[common practice]."""
_FARTHEST_SEMITONES = 9
_RINGS = Fraction(19, 20)
"""Share of the time until its string is struck anew that a string rings."""


def closed_line(part: Part, timeline: Timeline, tuning: Tuning) -> Part:
    """A single line that comes to rest: over the last bar's chord it holds one of its tones.

    Where the line strikes such a tone as it enters the last bar, that one is held; else the
    nearest that the hand reaches. Lines that are silent in the last bar stay so, as does one over
    a last bar without a chord.
    """
    last = timeline.bars[-1]
    chord = timeline.chord_at(last.onset_beats).chord
    inside = [note for note in part.notes if note.onset_beats >= last.onset_beats]
    if chord is None or not inside:
        return part
    before = [_cut(note, last.onset_beats) for note in part.notes if note.onset_beats < last.onset_beats]
    struck = inside[0]
    is_near = (
        not before
        or _after_rest(before[-1], struck)
        or (abs(struck.midi - before[-1].midi) <= _FARTHEST_SEMITONES)
    )
    if struck.onset_beats == last.onset_beats and _rests(chord, struck.midi) and is_near:
        end = replace(
            struck,
            duration_beats=last.length_beats,
            sounding_beats=None,
            articulation=Articulation.NORMAL,
        )
        return replace(part, notes=(*before, end))
    end = Note(last.onset_beats, last.length_beats, struck.pitch, struck.velocity, degree=struck.degree)
    for midi in _choices(chord, (before or [struck])[-1].midi):
        pitch, degree = pitch_of(chord, midi)
        with suppress(LineError):
            return replace(
                part, notes=(*before, _placed(before, replace(end, pitch=pitch, degree=degree), tuning))
            )
    return part


def held_line(part: Part, timeline: Timeline) -> Part:
    """A line of long tones that holds the one that sounds as the last bar begins."""
    last = timeline.bars[-1]
    kept = [note for note in part.notes if note.onset_beats <= last.onset_beats]
    if not kept or kept[-1].written_end_beats <= last.onset_beats:
        return part
    end = replace(kept[-1], duration_beats=timeline.length_beats - kept[-1].onset_beats)
    return replace(part, notes=(*kept[:-1], end))


def held_chord(part: Part, timeline: Timeline) -> Part:
    """A part of chords that holds its last chord, struck as the last bar begins, to the end.

    Where that chord was struck ahead of the bar line, it is held from there; one that was picked
    string by string sounds as a whole at last.
    """
    last = timeline.bars[-1]
    inside = [note for note in part.notes if note.onset_beats >= last.onset_beats]
    inside = [note for note in inside if note.articulation is not Articulation.DEAD]
    before = [note for note in part.notes if note.onset_beats < last.onset_beats]
    ahead = [note for note in before if note.written_end_beats > last.onset_beats]
    first = min((note.onset_beats for note in ahead or inside), default=None)
    if first is None:
        return part
    whole: dict[int, Note] = {}
    for note in ahead or inside:
        whole.setdefault(note.fretting.string if note.fretting else 0, note)
    held = [_held(replace(n, onset_beats=first), timeline.length_beats) for n in whole.values()]
    held.sort(key=lambda note: note.midi)
    earlier = (_damped(note, first) for note in before if note.onset_beats < first)
    return replace(part, notes=(*earlier, *held))


def _damped(note: Note, end_beats: Fraction) -> Note:
    """A note that rings on until the last chord at most."""
    if note.sounding_beats is None or note.onset_beats + note.sounding_beats < end_beats:
        return note
    return replace(note, sounding_beats=(end_beats - note.onset_beats) * _RINGS)


def _held(note: Note, end_beats: Fraction) -> Note:
    length = end_beats - note.onset_beats
    return replace(note, duration_beats=length, sounding_beats=length - note.offset_beats)


def _cut(note: Note, end_beats: Fraction) -> Note:
    """A note that gives way to the last one."""
    length = min(note.duration_beats, end_beats - note.onset_beats)
    return note if length == note.duration_beats and not note.rings else note.cut_to(length)


def _after_rest(before: Note, note: Note) -> bool:
    return before.written_end_beats < note.onset_beats


def _rests(chord: Chord, midi: int) -> bool:
    degree = chord.degree_of(midi)
    return degree is not None and degree.number in _LIKED


def _choices(chord: Chord, near: int) -> list[int]:
    """Tones that a line can end on, the best first."""
    found = []
    for midi in range(near - _FARTHEST_SEMITONES, near + _FARTHEST_SEMITONES + 1):
        degree = chord.degree_of(midi)
        if degree is not None and degree.number in _LIKED:
            found.append((abs(midi - near) + _LIKED[degree.number], midi))
    return [midi for _, midi in sorted(found)]


def _placed(before: list[Note], end: Note, tuning: Tuning) -> Note:
    """The last note where the hand takes it best. Raises LineError where it is off the neck."""
    near = [note for note in before[-_NOTES_BEFORE:] if note.fretting is not None]
    places = [(note.fretting.string, note.fretting.fret) for note in near if note.fretting]
    on_open_strings = any(fret == 0 for _, fret in places)
    wishes = Wishes(closed=not on_open_strings)
    line = fingered([*near, end], tuning, wishes, fixed=[*places, None])
    return line[-1]
