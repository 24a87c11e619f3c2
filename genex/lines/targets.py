"""Target tones: a chosen chord tone on the strong beat of every change, and ways to reach it.

Between two targets the line holds the target, walks over chord tones on the pulses, or runs in
chord tones without a break (density 1 to 3); right before the next target comes the approach
[common practice]:

scale             the note of the sounding chord's scale a step above or below
below, above      the semitone below or above
double below      a whole tone, then a semitone below; double above likewise
enclosure         the scale step above, then the semitone below
slide up, down    no note of its own: the finger slides into the target along the string
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from random import Random

from genex.errors import LineError
from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Aiming
from genex.lines.ladders import (
    chord_tones,
    leading_note,
    pitch_in_scale,
    pitch_of,
    scale_tones,
)
from genex.lines.note_slots import VELOCITY, Slot, accented, bars_under, slots
from genex.lines.placement import Hold, chords_of, fretted_part, hold_over
from genex.lines.search import cheapest_path, connect
from genex.score import Bar, ChordSpan, Note, Part, Role, Slide, Timeline
from genex.theory import Chord, Degree, Pitch, Scale

APPROACHES: dict[str, tuple[int, ...]] = {
    # name: semitones of the approach notes from their target; 0 stands for a step of the scale
    "scale": (0,),
    "below": (-1,),
    "above": (1,),
    "double below": (-2, -1),
    "double above": (2, 1),
    "enclosure": (0, -1),
    "slide up": (),
    "slide down": (),
}

SLIDE_BEATS = Fraction(1, 4)
MOST_SLIDE_SEMITONES = 2
FAR_SEMITONES = 5
"""From one target to the next further than a fourth is far: for the hand and for the ear."""


@dataclass(frozen=True)
class _Aim:
    """A target: the slot it falls on and the choice of pitches there."""

    slot: int
    chord: Chord
    tones: tuple[int, ...]


def target_degree(chord: Chord, target: str) -> Degree:
    """The chord's degree for a target.

    The third of a sus chord is its fourth or second, the seventh of a sixth chord its sixth and
    of a triad its fifth (``Chord.guide_tones``); a chord without fifth or ninth has its third.
    """
    third, seventh = chord.guide_tones[0], chord.guide_tones[-1]
    if target == "root":
        return chord.degrees[0]
    if target == "fifth":
        return chord.find(5) or third
    if target == "ninth":
        return chord.find(9, 2) or third
    return seventh if target == "seventh" else third


def target_line(timeline: Timeline, exercise: Aiming, player: Player) -> Part:
    """The line of targets and approaches over a timeline; N.C. is a rest.

    Every bar has a target: on a change the degree asked for, in further bars of the same chord
    its guide tones by turns. Where an approach does not fit (no room before the target, off the
    position, or a slide from the nut) another of those asked for is taken, then the semitone from
    the other side, then none. Raises LineError without approaches, or for a target that the
    position does not hold.
    """
    if not exercise.approaches:
        raise LineError("no approach was chosen", hint=f"choose from {', '.join(APPROACHES)}")
    chords = chords_of(timeline, "aim at")
    hold = hold_over(chords, exercise, player)
    grid = slots(timeline, exercise.rhythm)
    aims = _aims(timeline, grid, hold, exercise)
    picked = _pick(aims)
    refused: frozenset[tuple[Fraction, int]] = frozenset()
    while True:
        writer = _Writer(timeline, grid, hold.allowed, exercise, player, refused)
        writer.write(aims, picked)
        shown = hold.finger(writer.notes)
        # Where a slide would begin at the nut the target is approached otherwise.
        stuck = {(note.onset_beats, _side(note)) for note in shown if shorten_slide(note) != note}
        if not stuck:
            return fretted_part(player, Role.EXERCISE, shown)
        refused |= stuck


def _side(note: Note) -> int:
    """From where a note is slid into: -1 from below, 1 from above."""
    assert note.slide is not None
    return -1 if note.slide.from_semitones < 0 else 1


def shorten_slide(note: Note) -> Note:
    """The note without a slide that would begin at the nut or behind it."""
    if note.slide is None or note.fretting is None:
        return note
    if note.fretting.fret + note.slide.from_semitones < 1:
        return replace(note, slide=None)
    return note


def _aims(
    timeline: Timeline,
    grid: Sequence[Slot],
    hold: Hold,
    exercise: Aiming,
) -> list[_Aim]:
    by_onset = {slot.onset_beats: index for index, slot in enumerate(grid)}
    aims: list[_Aim] = []
    for span in timeline.merged_chords:
        if span.chord is None:
            continue
        turn = 0
        for bar in bars_under(timeline, span):
            start = max(bar.onset_beats, span.onset_beats)
            end = min(bar.end_beats, span.end_beats)
            degrees = _degrees(span.chord, exercise.target, turn)
            onset = _strong_beat(bar, start, end, exercise.beat)
            index = by_onset.get(onset)
            if index is None:
                index = next(i for i, slot in enumerate(grid) if slot.end_beats > onset)
            if grid[index].span != span or (aims and aims[-1].slot == index):
                # The chord is shorter than a slot of this rhythm and gets none.
                continue
            classes = {span.chord.root.degree(degree).pitch_class for degree in degrees}
            tones = tuple(midi for midi in hold.allowed if midi % 12 in classes)
            if not tones:
                raise LineError(
                    f"the {exercise.target} of {span.chord} at bar {bar.number} lies nowhere in {hold}",
                    hint="choose another position or target, or leave the position out",
                )
            aims.append(_Aim(index, span.chord, tones))
            turn += 1
    return aims


def _degrees(chord: Chord, target: str, turn: int) -> tuple[Degree, ...]:
    """The degrees to aim at in the bar number ``turn`` of a chord, from 0."""
    if turn == 0:
        return chord.guide_tones if target == "guide" else (target_degree(chord, target),)
    return (chord.guide_tones[(turn + (target != "seventh")) % len(chord.guide_tones)],)


def _strong_beat(bar: Bar, start: Fraction, end: Fraction, beat: int) -> Fraction:
    onset = start + (beat - 1) * bar.meter.pulse_beats
    return onset if onset < end else start


def _pick(aims: Sequence[_Aim]) -> list[int]:
    """The pitch of each target: near to the one before, and rather not the same twice."""
    middle = sorted(aims[0].tones)[len(aims[0].tones) // 2]
    layers = [[(midi,) for midi in aim.tones] for aim in aims]

    def change(layer: int, before: tuple[int], after: tuple[int]) -> int:
        leap = abs(after[0] - before[0])
        return leap + 3 * max(0, leap - FAR_SEMITONES) if leap else 3

    _, path = cheapest_path(
        layers, lambda layer, state: abs(state[0] - middle) if layer == 0 else 0, change
    )
    return [midi for (midi,) in path]


class _Writer:
    """Writes the notes from target to target."""

    def __init__(
        self,
        timeline: Timeline,
        grid: Sequence[Slot],
        allowed: Sequence[int],
        exercise: Aiming,
        player: Player,
        refused: Collection[tuple[Fraction, int]],
    ) -> None:
        self.notes: list[Note] = []
        self._refused = refused
        self._timeline = timeline
        self._grid = grid
        self._allowed = allowed
        self._exercise = exercise
        self._player = player
        self._slide: Slide | None = None

    def write(self, aims: Sequence[_Aim], picked: Sequence[int]) -> None:
        """The whole line: what leads to the first target, and from each target to the next."""
        if aims:
            self._between(-1, None, aims[0].slot, picked[0], aims[0].chord)
        for (aim, midi), (following, goal) in pairwise(zip(aims, picked, strict=True)):
            self._between(aim.slot, (aim.chord, midi), following.slot, goal, following.chord)
        if aims:
            self._to_the_end(aims[-1], picked[-1], aims[0], picked[0])

    def _to_the_end(self, aim: _Aim, midi: int, first: _Aim, goal: int) -> None:
        """From the last target to the double bar; back to the first target in a loop."""
        closed = self._player.loops and first.slot == 0
        end = len(self._grid)
        self._between(aim.slot, (aim.chord, midi), end, goal if closed else None, first.chord)
        if self._slide is not None:
            # The loop comes round to a target that is slid into.
            opening = self.notes[0]
            self.notes[0] = replace(opening, slide=_within(self._slide, opening.duration_beats))

    def _between(
        self, start: int, aim: tuple[Chord, int] | None, end: int, goal: int | None, chord: Chord
    ) -> None:
        """A target at slot ``start``, what fills the slots after it, and the approach to ``goal``."""
        grid = self._grid
        first = start + 1
        # Nothing is played where the chart says N.C.
        last = next((i for i in range(first, end) if grid[i].span.chord is None), end)
        room = range(first, last)
        rng = self._rng(end if end < len(grid) else 0)
        target = None if goal is None or last < end else pitch_of(chord, goal)[0]
        before = aim[1] if aim else None
        onset = grid[end].onset_beats if end < len(grid) else grid[0].onset_beats
        approach, slide = self._approach(target, onset, room, before, rng)
        free = [i for i in room if i < last - len(approach)]
        goal_midi = approach[0][0].midi if approach else (goal if last == end else None)
        fill = self._fill(free, before, goal_midi, rng)
        steps: list[tuple[int, Pitch, Degree]] = []
        if aim is not None:
            steps.append((start, *pitch_of(aim[0], aim[1])))
        for index, midi in fill:
            steps.append((index, *self._chord_tone(index, midi)))
        for place, (pitch, degree) in enumerate(approach):
            steps.append((last - len(approach) + place, pitch, degree))
        for place, (index, pitch, degree) in enumerate(steps):
            until = steps[place + 1][0] if place + 1 < len(steps) else last
            self._write(index, until, pitch, degree, is_target=aim is not None and place == 0)
        self._slide = slide

    def _write(self, index: int, until: int, pitch: Pitch, degree: Degree, *, is_target: bool) -> None:
        slot = self._grid[index]
        length = self._grid[until - 1].end_beats - slot.onset_beats
        velocity = VELOCITY + 6 if is_target else accented(VELOCITY, slot, self._timeline)
        slide = None
        if is_target and self._slide is not None:
            slide = _within(self._slide, length)
        self.notes.append(
            Note(slot.onset_beats, length, pitch, min(127, velocity), degree=degree, slide=slide)
        )

    def _fill(
        self, free: Sequence[int], before: int | None, goal: int | None, rng: Random
    ) -> list[tuple[int, int]]:
        """Chord tones for the slots between a target and the next approach, as density asks."""
        density = self._exercise.density
        if density == 1:
            return []
        chosen = list(free)
        if density == 2:
            chosen = [i for i in free if self._is_pulse(self._grid[i])]
        layers = [self._tones(self._grid[i].span) for i in chosen]
        spice: dict[tuple[int, int], int] = {
            (layer, midi): rng.randrange(25) for layer, tones in enumerate(layers) for midi in tones
        }
        path = connect(layers, before, goal, lambda layer, midi: spice[layer, midi])
        return list(zip(chosen, path, strict=True))

    def _approach(
        self, target: Pitch | None, onset: Fraction, room: range, before: int | None, rng: Random
    ) -> tuple[list[tuple[Pitch, Degree]], Slide | None]:
        """The approach notes to a target at an onset, or the slide into it."""
        if target is None or not room:
            return [], None
        reading = self._timeline.reading_at(self._grid[room[-1]].onset_beats)
        sounding, scale = reading.chord, reading.scale
        assert sounding is not None and scale is not None
        kinds = list(self._exercise.approaches)
        rng.shuffle(kinds)
        for kind in [*kinds, "above", "below"]:
            if kind.startswith("slide"):
                sign = -1 if kind == "slide up" else 1
                if (onset, sign) in self._refused:
                    continue
                step = scale_step(target.midi, sign, sounding, scale)
                return [], Slide(sign if step is None else step, SLIDE_BEATS)
            notes = approach_notes(kind, target, sounding, scale, rng)
            fits = len(notes) <= len(room) and all(note.midi in self._allowed for note, _ in notes)
            meets = len(notes) == len(room) and notes and notes[0][0].midi == before
            if notes and fits and not meets:
                return notes, None
        return [], None

    def _tones(self, span: ChordSpan) -> tuple[int, ...]:
        assert span.chord is not None
        return chord_tones(span.chord, self._allowed)

    def _chord_tone(self, index: int, midi: int) -> tuple[Pitch, Degree]:
        chord = self._grid[index].span.chord
        assert chord is not None
        return pitch_of(chord, midi)

    def _is_pulse(self, slot: Slot) -> bool:
        bar = self._timeline.bar_at(slot.onset_beats)
        return (slot.onset_beats - bar.onset_beats) % bar.meter.pulse_beats == 0

    def _rng(self, index: int) -> Random:
        """The draws of the bar that a target lies in."""
        bar = self._timeline.bar_at(self._grid[index].onset_beats)
        place = self._grid[index].onset_beats - bar.onset_beats
        return Random(f"{self._player.seed}/targets/{bar.chorus}/{bar.form_number}/{place}")


def _within(slide: Slide, length: Fraction) -> Slide:
    """The slide, done by the middle of its note at the latest."""
    return replace(slide, length_beats=min(SLIDE_BEATS, length / 2))


def approach_notes(
    kind: str, target: Pitch, sounding: Chord, scale: Scale, rng: Random
) -> list[tuple[Pitch, Degree]]:
    """The notes that lead to a target with their degrees; none where the scale has no step there.

    ``sounding`` is the chord under the approach; ``scale``, on its root, gives the scale steps.
    """
    notes = []
    for semitones in APPROACHES[kind]:
        if semitones == 0:
            # An enclosure comes from above; a scale step alone from either side.
            sides = [1] if kind == "enclosure" else rng.sample([1, -1], 2)
            steps = [scale_step(target.midi, side, sounding, scale) for side in sides]
            found = [step for step in steps if step is not None]
            if not found:
                return []
            notes.append(pitch_in_scale(sounding, scale, target.midi + found[0]))
        else:
            notes.append(leading_note(target, semitones, sounding, scale))
    return notes


def scale_step(midi: int, side: int, chord: Chord, scale: Scale) -> int | None:
    """Semitones to the next note of a chord's scale on one side, or None if it is over two."""
    for distance in range(1, MOST_SLIDE_SEMITONES + 1):
        if scale_tones(chord, scale, [midi + side * distance]):
            return side * distance
    return None
