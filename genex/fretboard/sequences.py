"""Sequences: orders in which the notes of a shape are practised.

A sequence is a tuple of indices into a shape's notes (0 lowest). Each rises over the shape and
falls back as its mirror image, in groups of ``group`` notes that a rhythm may accent. The names
are the ones teachers use [common practice]; ``SEQUENCES`` is the one table of them.

The sequences along strings are played over ``shapes.along_strings`` with as many strings as
``strings`` says; all others over the shapes of the forms. Few forms hold two octaves: over
``shapes.extended`` that sequence has them, over a bare shape it goes as far as the shape does.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from genex.errors import FretboardError
from genex.fretboard.fingering import finger_among
from genex.fretboard.hand import HandMove
from genex.fretboard.shape import PathNote, Shape
from genex.fretboard.tunings import Hand, Tuning
from genex.fretboard.wishes import Wishes
from genex.hints import did_you_mean

Indices = tuple[int, ...]
PRACTICE_PATH = "practice path"


@dataclass(frozen=True)
class Pattern:
    """A row of the table.

    about      what the fingers do, in a sentence
    group      notes in a group
    min_notes  fewest notes of a shape that it can be played over, leaving none of them out
    strings    0 in a form; 1 or 2 when it is played along one string or a pair
    order      indices for a shape
    """

    name: str
    about: str
    group: int
    min_notes: int
    strings: int
    order: Callable[[Shape], Indices]


def _rising(shape: Shape, steps: Sequence[int]) -> Indices:
    """The group of ``steps`` from every note on which it fits, rising, then mirrored falling."""
    count = len(shape.notes)
    groups = [[start + step for step in steps] for start in range(count - max(steps))]
    falling = [[count - 1 - index for index in group] for group in groups]
    # The topmost group is not played again downwards, so that no note comes twice in a row;
    # a shape that holds one group only repeats its top.
    turned = falling[1:] if len(groups) > 1 else falling
    return tuple(index for group in (*groups, *turned) for index in group)


def _pedal(shape: Shape) -> Indices:
    """Lowest root before each higher note, rising and falling."""
    root, last = shape.lowest_root, len(shape.notes) - 1
    if root == last:
        root = 0
    moving = [*range(root + 1, last + 1), *range(last - 1, root, -1)]
    return tuple(index for note in moving for index in (root, note))


def _pendulum(shape: Shape) -> Indices:
    """To and fro about the middle note, wider with each swing, then narrower again."""
    last = len(shape.notes) - 1
    middle = last // 2
    wider = [middle]
    for swing in range(1, last - middle + 1):
        wider += [index for index in (middle + swing, middle - swing) if 0 <= index <= last]
    return (*wider, *wider[-2::-1])


def _up_and_down(shape: Shape) -> Indices:
    last = len(shape.notes) - 1
    return (*range(last + 1), *range(last - 1, -1, -1))


def _octaves(count: int) -> Callable[[Shape], Indices]:
    """From the lowest root ``count`` octaves up, or as far as the notes go, and back."""

    def order(shape: Shape) -> Indices:
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
            1, 1, 0, lambda shape: shape.path_indices,
        ),
        Pattern("up and down", "from the lowest tone to the highest and back", 1, 1, 0, _up_and_down),
        Pattern(
            "groups of three", "three neighbouring tones from each tone",
            3, 3, 0, lambda shape: _rising(shape, (0, 1, 2)),
        ),
        Pattern(
            "groups of four", "four neighbouring tones from each tone",
            4, 4, 0, lambda shape: _rising(shape, (0, 1, 2, 3)),
        ),
        Pattern(
            "broken thirds", "each tone, then the next but one",
            2, 4, 0, lambda shape: _rising(shape, (0, 2)),
        ),
        Pattern(
            "skips", "each tone, then the third one after it",
            2, 6, 0, lambda shape: _rising(shape, (0, 3)),
        ),
        Pattern("pedal", "the lowest root before each higher tone", 2, 2, 0, _pedal),
        Pattern("pendulum", "to and fro about the middle, wider, then narrower", 2, 3, 0, _pendulum),
        Pattern("one octave", "from the lowest root an octave up and back", 1, 2, 0, _octaves(1)),
        Pattern("two octaves", "from the lowest root two octaves up and back", 1, 3, 0, _octaves(2)),
        Pattern("along one string", "up one string and back by shifts", 1, 1, 1, _up_and_down),
        Pattern("along a pair of strings", "up two strings and back by shifts", 1, 1, 2, _up_and_down),
    )
}  # fmt: skip
"""Every sequence by its name."""


def pattern(name: str) -> Pattern:
    """The row of a name; case, spaces and hyphens do not matter. Raises FretboardError."""
    plain = {_plain(key): row for key, row in SEQUENCES.items()}
    if (found := plain.get(_plain(name))) is not None:
        return found
    raise FretboardError(f"'{name}' is not a sequence that is known", hint=did_you_mean(name, SEQUENCES))


def sequence_indices(name: str, shape: Shape) -> Indices:
    """The order of a shape's notes in a sequence. Raises FretboardError.

    A shape too small for the sequence is refused with the number of notes that it needs.
    """
    row = pattern(name)
    if len(shape.notes) < row.min_notes:
        raise FretboardError(
            f"'{row.name}' needs {row.min_notes} notes and form {shape.form} of {shape.root} "
            f"has {len(shape.notes)}",
            hint="take another form or sequence",
        )
    return row.order(shape)


def sequence(name: str, shape: Shape) -> tuple[PathNote, ...]:
    """A sequence over a shape with the shape's own fingers and the moves between them."""
    return shape.walk(sequence_indices(name, shape))


def fingered_sequence(
    name: str, shape: Shape, tuning: Tuning, *, hand: Hand | None = None
) -> tuple[PathNote, ...]:
    """A sequence over a shape with few moves of the hand: its own fingers, or others on its places.

    Others are taken where they shift less and go no further, within the positions of the shape.
    Where a shape is a fret wider than the hand, its own fingers move the hand once on the way up;
    a sequence that goes to and fro across that place would have it move at every turn.
    Raises FretboardError.
    """
    if pattern(name).name == PRACTICE_PATH:
        return shape.path
    own = sequence(name, shape)
    if not _shifts(own):
        return own
    notes = [step.note for step in own]
    positions = [note.position for note in notes]
    try:
        line = finger_among(
            [note.midi for note in notes],
            [[(note.string, note.fret)] for note in notes],
            tuning,
            Wishes(between=(min(positions), max(positions)), hand=hand),
        )
    except FretboardError:
        return own
    other = tuple(
        PathNote(replace(note, finger=fingered.finger, position=fingered.position), fingered.move)
        for note, fingered in zip(notes, line, strict=True)
    )
    is_calmer = _shifts(other) < _shifts(own) and _travel_frets(other) <= _travel_frets(own)
    return other if is_calmer else own


def _shifts(path: Sequence[PathNote]) -> int:
    return sum(step.move is HandMove.SHIFT for step in path)


def _travel_frets(path: Sequence[PathNote]) -> int:
    """How far the hand goes in all."""
    return sum(abs(after.note.position - before.note.position) for before, after in pairwise(path))


def _plain(name: str) -> str:
    return re.sub(r"[\s_\-]+", "", name).lower()
