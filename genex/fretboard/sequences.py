"""Sequences: orders in which the notes of a shape are practised.

A sequence is a tuple of indices into a shape's notes (0 lowest). It begins and ends on the shape's
lowest root. What goes in groups rises from the root to the topmost group, falls from the top to the
lowest note as its mirror image, rises again below the root and ends with the root alone, which is held
(``lines/walk_times.py``): each group and a last note. The names are the ones teachers use [common
practice]; ``SEQUENCES`` is the one table of them.

The sequences along strings are played over ``shapes.along_strings`` with as many strings as
``strings`` says; all others over the shapes of the forms. Few forms hold two octaves: over
``shapes.extended`` that sequence has them, over a bare shape it goes as far as the shape does.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from typing import Literal

from genex.errors import FretboardError
from genex.fretboard.fingering import finger_among
from genex.fretboard.hand import HandMove
from genex.fretboard.shape import PathNote, Shape
from genex.fretboard.tunings import Hand, Tuning
from genex.fretboard.wishes import Wishes
from genex.hints import did_you_mean

Indices = tuple[int, ...]
Tones = Literal["any", "chord", "scale", "triad pair"]
Approach = Literal["above", "below"]
PRACTICE_PATH = "practice path"
INVERSIONS = "inversions"


@dataclass(frozen=True)
class Pattern:
    """A row of the table.

    about      what the fingers do, in a sentence
    group      notes in a group, approach notes counted in
    min_notes  fewest notes of a shape, from its lowest root up, that it can be played over, leaving
               none of them out
    strings    0 in a form; 1 or 2 when it is played along one string or a pair
    order      indices for a shape; whether it is the shape of a scale
    tones      the shapes that it is made for: any, a chord's, a scale's, or of two triads of a scale
    held       the note of a group that is held where a group would not end with a beat
    approach   the notes that lead to each note of the order, a half step below it or a scale step above
    """

    name: str
    about: str
    group: int
    min_notes: int
    strings: int
    order: Callable[[Shape, bool], Indices]
    tones: Tones = "any"
    held: Literal["first", "last"] | None = None
    approach: tuple[Approach, ...] = ()


def _in_groups(shape: Shape, steps: Sequence[int], *, to_and_fro: bool = False) -> Indices:
    """The group of ``steps`` on each note: from the root up, from the top down, back to the root.

    ``to_and_fro`` plays every second group backwards.
    """
    count, span, root = len(shape.notes), max(steps), shape.lowest_root
    starts = range(count - span)
    rising = [[start + step for step in steps] for start in starts]
    falling = [[count - 1 - index for index in group] for group in rising]
    groups = []
    for run in (rising[root:], falling, rising[:root]):
        groups += [group[::-1] if to_and_fro and at % 2 else group for at, group in enumerate(run)]
    return (*(index for group in groups for index in group), root)


def _groups_of(*steps: int) -> Callable[[Shape, bool], Indices]:
    return lambda shape, is_scale: _in_groups(shape, steps)


def _thirds(*, to_and_fro: bool = False) -> Callable[[Shape, bool], Indices]:
    """In a chord the next tone of its stack is a third away, in a scale the next but one."""

    def order(shape: Shape, is_scale: bool) -> Indices:
        return _in_groups(shape, (0, 2) if is_scale else (0, 1), to_and_fro=to_and_fro)

    return order


def chord_tones_in_a_stack(shape: Shape) -> int:
    """How many tones a shape's chord has below its extensions."""
    return len({note.degree for note in shape.notes if note.degree.number < 8})


def _inversions(shape: Shape, is_scale: bool) -> Indices:
    return _in_groups(shape, range(chord_tones_in_a_stack(shape)))


def _pedal(shape: Shape, is_scale: bool) -> Indices:
    """Lowest root before each higher note, rising and falling, and the root."""
    root, last = shape.lowest_root, len(shape.notes) - 1
    moving = [*range(root + 1, last + 1), *range(last - 1, root, -1)]
    return (*(index for note in moving for index in (root, note)), root)


def _pendulum(shape: Shape, is_scale: bool) -> Indices:
    """To and fro about the root that lies nearest to the middle, wider with each swing, then narrower.

    Where one side comes to its end, the swing comes back to there.
    """
    last = len(shape.notes) - 1
    roots = shape.root_indices or (shape.lowest_root,)
    middle = min(roots, key=lambda root: (abs(2 * root - last), root))
    wider = [middle]
    for swing in range(1, max(middle, last - middle) + 1):
        wider += [min(last, middle + swing), max(0, middle - swing)]
    found = [wider[0], *(b for a, b in pairwise(wider) if a != b)]
    return (*found, *found[-2::-1])


def _up_and_down(shape: Shape, is_scale: bool) -> Indices:
    root, last = shape.lowest_root, len(shape.notes) - 1
    return (*range(root, last + 1), *range(last - 1, root - 1, -1))


def _path(shape: Shape, is_scale: bool) -> Indices:
    return shape.path_indices


def _octaves(count: int) -> Callable[[Shape, bool], Indices]:
    """From the lowest root ``count`` octaves up, or as far as the notes go, and back."""

    def order(shape: Shape, is_scale: bool) -> Indices:
        first = shape.lowest_root
        top = shape.notes[first].midi + 12 * count
        last = max(index for index, note in enumerate(shape.notes) if note.midi <= top)
        return (*range(first, last + 1), *range(last - 1, first - 1, -1))

    return order


SEQUENCES: dict[str, Pattern] = {
    row.name: row
    for row in (
        Pattern(
            PRACTICE_PATH,
            "from the lowest root up to the highest tone, down to the lowest, back to the root",
            1, 1, 0, _path,
        ),
        Pattern(
            "up and down", "from the lowest root to the highest tone and back", 1, 1, 0, _up_and_down
        ),
        Pattern(
            "groups of three", "three neighbouring tones from each tone", 3, 3, 0, _groups_of(0, 1, 2)
        ),
        Pattern(
            "groups of four", "four neighbouring tones from each tone", 4, 4, 0, _groups_of(0, 1, 2, 3)
        ),
        Pattern(
            "broken thirds", "each tone, then the one a third above it: the chord's next, the scale's "
            "next but one", 2, 3, 0, _thirds(),
        ),
        Pattern(
            "alternating thirds", "the same, every second third played downwards",
            2, 3, 0, _thirds(to_and_fro=True),
        ),
        Pattern("skips", "each tone, then the third one after it", 2, 6, 0, _groups_of(0, 3)),
        Pattern("pedal", "the lowest root before each higher tone", 2, 2, 0, _pedal),
        Pattern("pendulum", "to and fro about a root, wider, then narrower", 2, 3, 0, _pendulum),
        Pattern("one octave", "from the lowest root an octave up and back", 1, 2, 0, _octaves(1)),
        Pattern("two octaves", "from the lowest root two octaves up and back", 1, 3, 0, _octaves(2)),
        Pattern(
            INVERSIONS, "all tones of the chord from each of its tones",
            0, 3, 0, _inversions, "chord", "last",
        ),
        Pattern("triads", "the triad on each tone of the scale", 3, 6, 0, _groups_of(0, 2, 4), "scale"),
        Pattern(
            "seventh chords", "the seventh chord on each tone of the scale",
            4, 8, 0, _groups_of(0, 2, 4, 6), "scale",
        ),
        Pattern(
            "stacked thirds", "1 3 5 7 9 on each tone of the scale",
            5, 10, 0, _groups_of(0, 2, 4, 6, 8), "scale", "last",
        ),
        Pattern(
            "triad pairs",
            "two triads of the scale without a common tone, by turns through their inversions",
            3, 6, 0, _groups_of(0, 2, 4), "triad pair",
        ),
        Pattern(
            "approach from below", "to each tone from the half step below it",
            2, 2, 0, _path, "chord", "first", ("below",),
        ),
        Pattern(
            "approach from above", "to each tone from the scale step above it",
            2, 2, 0, _path, "chord", "first", ("above",),
        ),
        Pattern(
            "enclosures", "to each tone from the scale step above it and the half step below",
            3, 2, 0, _path, "chord", "first", ("above", "below"),
        ),
        Pattern("along one string", "the practice path on one string, by shifts", 1, 1, 1, _path),
        Pattern(
            "along a pair of strings", "the practice path on two strings, by shifts", 1, 1, 2, _path
        ),
    )
}  # fmt: skip
"""Every sequence by its name."""


def pattern(name: str) -> Pattern:
    """The row of a name; case, spaces and hyphens do not matter. Raises FretboardError."""
    if (found := SEQUENCES.get(name) or _by_plain_name().get(_plain(name))) is not None:
        return found
    raise FretboardError(f"'{name}' is not a sequence that is known", hint=did_you_mean(name, SEQUENCES))


def group_of(row: Pattern, shape: Shape) -> int:
    """Notes in a group of a sequence over a shape; 1 where there are no groups."""
    return row.group or chord_tones_in_a_stack(shape)


def sequence_indices(name: str, shape: Shape, *, is_scale: bool = False) -> Indices:
    """The order of a shape's notes in a sequence. Raises FretboardError.

    ``is_scale`` tells the shape of a scale from that of a chord. Approach notes are not among them.
    A shape too small for the sequence is refused with the number of notes that it needs.
    """
    row = pattern(name)
    there = len(shape.notes) - shape.lowest_root
    least = max(row.min_notes, 0 if row.approach else group_of(row, shape))
    if there < least:
        raise FretboardError(
            f"'{row.name}' needs {least} notes from the lowest root up and form {shape.form} of "
            f"{shape.root} has {there}",
            hint="take another form or sequence",
        )
    return row.order(shape, is_scale)


def sequence(name: str, shape: Shape, *, is_scale: bool = False) -> tuple[PathNote, ...]:
    """A sequence over a shape with the shape's own fingers and the moves between them."""
    return shape.walk(sequence_indices(name, shape, is_scale=is_scale))


def fingered_sequence(
    name: str, shape: Shape, tuning: Tuning, *, hand: Hand | None = None, is_scale: bool = False
) -> tuple[PathNote, ...]:
    """A sequence over a shape with few moves of the hand: its own fingers, or others on its places.

    Others are taken where they shift less and go no further, within the positions of the shape;
    along one string where they shift less.
    Where a shape is a fret wider than the hand, its own fingers move the hand once on the way up;
    a sequence that goes to and fro across that place would have it move at every turn.
    Raises FretboardError.
    """
    indices = sequence_indices(name, shape, is_scale=is_scale)
    is_along_one = pattern(name).strings == 1
    if indices == shape.path_indices and not is_along_one:
        return shape.path
    own = shape.path if is_along_one else shape.walk(indices)
    if not _shifts(own):
        return own
    notes = [step.note for step in own]
    positions = [note.position for note in notes]
    between = None if is_along_one else (min(positions), max(positions))
    try:
        line = finger_among(
            [note.midi for note in notes],
            [[(note.string, note.fret)] for note in notes],
            tuning,
            Wishes(between=between, hand=hand),
            few_shifts=is_along_one,
        )
    except FretboardError:
        return own
    other = tuple(
        PathNote(replace(note, finger=fingered.finger, position=fingered.position), fingered.move)
        for note, fingered in zip(notes, line, strict=True)
    )
    is_as_near = is_along_one or _travel_frets(other) <= _travel_frets(own)
    is_calmer = _shifts(other) < _shifts(own) and is_as_near
    return other if is_calmer else own


def _shifts(path: Sequence[PathNote]) -> int:
    return sum(step.move is HandMove.SHIFT for step in path)


def _travel_frets(path: Sequence[PathNote]) -> int:
    """How far the hand goes in all."""
    return sum(abs(after.note.position - before.note.position) for before, after in pairwise(path))


@cache
def _by_plain_name() -> dict[str, Pattern]:
    return {_plain(name): row for name, row in SEQUENCES.items()}


def _plain(name: str) -> str:
    return re.sub(r"[\s_\-]+", "", name).lower()
