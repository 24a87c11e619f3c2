"""The arpeggio exercise: each chord's arpeggio up and down, the hand staying in one position.

A chord's time is filled from its lowest root in the position: up for half of the slots, down
again for the other half, so that the next chord starts where the hand is ready for it. The
line turns at the limits of the position; time that is left is filled below the root and then
above it again, which makes a long chord the practice path of the shape, over and over
(design: lowest root, highest tone, lowest tone, lowest root). A chord with fewer than six
slots is too short for a round trip: it is climbed from the tone nearest to the note before.

Extensions sound: where the way would turn before a ninth, eleventh or thirteenth that the position
has, it turns later, or begins elsewhere. A chord too short for all its tones has its third, its
extensions and its seventh, as the upper part of an arpeggio is played [common practice].

On chosen strings, without a position, the neck is open and the lowest root may lie far from the
hand. There each chord after the first begins on the root nearest to the note before, or, where
that is further than a fourth away, on the nearest chord tone: an inversion that lies where the
hand is [common practice].
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import product

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Arpeggio
from genex.lines.ladders import chord_tones, nearest, pitch_of, stacked_ladder
from genex.lines.note_slots import VELOCITY, Slot, accented, slots, slots_by_span
from genex.lines.placement import Hold, chords_of, fretted_part, hold_over
from genex.score import Note, Part, Role, Timeline
from genex.theory import Chord, Degree, without_clash

SHORT_SPAN_SLOTS = 6
"""A chord with fewer slots than this is climbed from the nearest tone, not from its root."""
NEAR_SEMITONES = 5
"""On chosen strings a root within this of the note before is worth going to: a fourth, which lies
at the same fret of the next string."""


def arpeggio_exercise(timeline: Timeline, exercise: Arpeggio, player: Player) -> Part:
    """The arpeggio of each chord up and down in one position.

    N.C. is a rest. Raises LineError where a chord has fewer than two tones in the position.
    """
    grid = slots(timeline, exercise.rhythm, rest_every=exercise.rest_every)
    chords = chords_of(timeline, "take an arpeggio from")
    hold = hold_over(chords, exercise, player)
    notes: list[Note] = []
    runs: list[int] = []
    for number, (span, group) in enumerate(slots_by_span(grid)):
        if span.chord is None:
            continue
        place = f"bar {timeline.bar_at(span.onset_beats).number}"
        before = notes[-1].midi if notes else None
        midis = _fill(span.chord, hold, len(group), before, place)
        notes += _notes(span.chord, group, midis, timeline)
        runs += [number] * len(group)
    shown = hold.finger(notes) if hold.position is None else hold.finger_runs(notes, runs)
    return fretted_part(player, Role.EXERCISE, shown)


def _fill(chord: Chord, hold: Hold, count: int, before: int | None, place: str) -> list[int]:
    hold.require_every(chord.pitch_classes, str(chord))
    ladder, root = stacked_ladder(chord, hold.allowed)
    if len(ladder) < 2:
        raise LineError(
            f"{chord} at {place} has fewer than two notes in {hold}",
            hint="choose another position, or leave it out to have one chosen",
        )
    if count < SHORT_SPAN_SLOTS:
        tones = chord_tones(chord, hold.allowed)
        start = ladder[root] if before is None else nearest(tones, before, other_than=before)
        path = climb(tones, tones.index(start), count)
    else:
        if before is not None and hold.position is None:
            root = _near(ladder, ladder[root] % 12, before)
        path = round_trips(ladder, root, count)
    wanted = _extensions(chord) & {midi % 12 for midi in ladder}
    if wanted <= {midi % 12 for midi in path}:
        return path
    longer = _through(ladder, root, count, wanted, before)
    return longer or _upper_part(chord, ladder, count, before) or path


def _extensions(chord: Chord) -> set[int]:
    """Pitch classes of ninths, elevenths and thirteenths as they are played."""
    return {
        chord.root.degree(degree).pitch_class
        for degree in without_clash(chord.degrees)
        if degree.number > 7
    }


def _through(
    ladder: Sequence[int], root: int, count: int, wanted: Collection[int], before: int | None
) -> list[int]:
    """``count`` steps that turn once and meet all ``wanted`` pitch classes, or none.

    From the root if that can be, else from the tone nearest to the note before; upwards first.
    """

    def rank(way: tuple[int, int, int]) -> tuple[int, ...]:
        start, sign, turn = way
        away = abs(ladder[start] - (ladder[root] if before is None else before))
        return start != root, ladder[start] == before, away, sign < 0, abs(2 * turn - count)

    ways = product(range(len(ladder)), (1, -1), range(1, count))
    for start, sign, turn in sorted(ways, key=rank):
        steps = [start + sign * (step if step <= turn else 2 * turn - step) for step in range(count)]
        if min(steps) >= 0 and max(steps) < len(ladder):
            path = [ladder[step] for step in steps]
            if set(wanted) <= {midi % 12 for midi in path}:
                return path
    return []


def _upper_part(chord: Chord, ladder: Sequence[int], count: int, before: int | None) -> list[int]:
    """A chord's most telling tones, near to the note before; empty if they lie nowhere so."""
    highest = max(degree.number for degree in chord.degrees)

    def matters(degree: Degree) -> int:
        if degree.number in (2, 3, 4):
            return 0
        if degree.number == highest or (degree.number > 7 and degree.alter):
            return 1
        return 2 if degree.number == 7 else 3 if degree.number > 7 else 4

    kept = sorted(without_clash(chord.degrees), key=matters)[:count]
    classes = {chord.root.degree(degree).pitch_class for degree in kept}
    tones = [midi for midi in ladder if midi % 12 in classes]
    runs = [tones[at : at + count] for at in range(len(tones) - count + 1)]
    whole = [run for run in runs if {midi % 12 for midi in run} == classes]
    ways = [way for run in whole for way in (run, run[::-1]) if way[0] != before]
    aim = ladder[0] if before is None else before
    return min(ways, key=lambda way: (abs(way[0] - aim), way[0] > way[-1]), default=[])


def _near(ladder: Sequence[int], root_class: int, before: int) -> int:
    """Index of the step to begin on so that the hand moves little: a root, or the nearest tone."""
    roots = [midi for midi in ladder if midi % 12 == root_class and midi != before]
    root = min(roots, key=lambda midi: abs(midi - before), default=None)
    if root is not None and abs(root - before) <= NEAR_SEMITONES:
        return ladder.index(root)
    return ladder.index(nearest(ladder, before, other_than=before))


def round_trips(ladder: Sequence[int], root: int, count: int) -> list[int]:
    """``count`` steps on a ladder: up from ``root`` and back, then below and back, and so on.

    Each excursion takes half of the slots left, as far as the ladder goes, and ends on the
    step next to the root; a single slot that is left over is the root itself.
    """
    path: list[int] = []
    going_up = True
    while len(path) < count:
        room = len(ladder) - 1 - root if going_up else root
        reach = min(room, (count - len(path)) // 2)
        sign = 1 if going_up else -1
        if reach == 0 and (count - len(path) == 1):
            path.append(ladder[root])
        path += [ladder[root + sign * step] for step in (*range(reach), *range(reach, 0, -1))]
        going_up = not going_up
    return path


def climb(ladder: Sequence[int], start: int, count: int) -> list[int]:
    """``count`` steps from index ``start``: upward if the ladder has room, else downward, turning."""
    step = 1 if start + count <= len(ladder) or start <= len(ladder) - 1 - start else -1
    index = start
    path = [ladder[index]]
    while len(path) < count:
        if not 0 <= index + step < len(ladder):
            step = -step
        index += step
        path.append(ladder[index])
    return path


def _notes(chord: Chord, group: Sequence[Slot], midis: Sequence[int], timeline: Timeline) -> list[Note]:
    notes = []
    for slot, midi in zip(group, midis, strict=True):
        pitch, degree = pitch_of(chord, midi)
        notes.append(
            Note(
                slot.onset_beats,
                slot.length_beats,
                pitch,
                accented(VELOCITY, slot, timeline),
                degree=degree,
            )
        )
    return notes
