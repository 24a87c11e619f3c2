"""A shape as data: its notes, its practice path, and the moves between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from genex.fretboard.hand import HandMove, move_between
from genex.fretboard.tunings import Place
from genex.theory import Degree, NoteName, Pitch

Json = dict[str, object]


@dataclass(frozen=True, slots=True)
class ShapeNote:
    """A note of a shape. ``position`` is the hand's position (fret of the first finger) there."""

    string: int
    fret: int
    pitch: Pitch
    degree: Degree
    finger: int
    position: int

    @property
    def place(self) -> Place:
        return Place(self.string, self.fret)

    @property
    def midi(self) -> int:
        return self.pitch.midi

    @property
    def is_root(self) -> bool:
        return self.degree == Degree(1)

    def as_json(self) -> Json:
        return {
            "string": self.string,
            "fret": self.fret,
            "pitch": str(self.pitch),
            "degree": str(self.degree),
            "finger": self.finger,
        }


@dataclass(frozen=True, slots=True)
class PathNote:
    """A note of a walk over a shape, and the move by which the hand comes to it."""

    note: ShapeNote
    move: HandMove

    def as_json(self) -> Json:
        return {**self.note.as_json(), "move": self.move.value}


@dataclass(frozen=True)
class Shape:
    """A fingered shape; ``notes`` ascend in pitch, each pitch once.

    form      C, A, G, E or D in standard tuning, a number elsewhere
    position  the fret of the first finger for most of the notes
    notes     with the fingers of the way up
    path      the practice path, with the fingers that are played and the move to each note
    """

    form: str
    position: int
    root: NoteName
    notes: tuple[ShapeNote, ...]
    path: tuple[PathNote, ...]

    @cached_property
    def root_indices(self) -> tuple[int, ...]:
        """Indices of the roots among ``notes``, lowest first."""
        return tuple(index for index, note in enumerate(self.notes) if note.is_root)

    @property
    def lowest_root(self) -> int:
        """Index of the lowest root; of the lowest note where a chord has no root."""
        return self.root_indices[0] if self.root_indices else 0

    @cached_property
    def path_indices(self) -> tuple[int, ...]:
        """The order of the practice path, as indices of ``notes``."""
        known = {note.place: index for index, note in enumerate(self.notes)}
        return tuple(known[step.note.place] for step in self.path)

    @cached_property
    def other_fingers(self) -> dict[int, int]:
        """Index of each note that the practice path takes with a second finger too, and which."""
        found = {}
        for index, step in zip(self.path_indices, self.path, strict=True):
            if step.note.finger != self.notes[index].finger:
                found[index] = step.note.finger
        return found

    def walk(self, indices: Sequence[int]) -> tuple[PathNote, ...]:
        """The shape's notes in any order, with its own fingers and the moves between them."""
        return with_moves_of([self.notes[index] for index in indices])

    def as_json(self) -> Json:
        others = self.other_fingers
        return {
            "form": self.form,
            "position": self.position,
            "notes": [
                note.as_json() | ({"other_finger": others[index]} if index in others else {})
                for index, note in enumerate(self.notes)
            ],
            "path": [note.as_json() for note in self.path],
        }


def practice_order(count: int, root: int) -> tuple[int, ...]:
    """Indices of ``count`` notes: root, up to the highest, down to the lowest, back to the root;
    each note once a pass [common practice]."""
    return (*range(root, count), *range(count - 2, -1, -1), *range(1, root + 1))


def with_moves_of(walked: Sequence[ShapeNote]) -> tuple[PathNote, ...]:
    """The notes with the moves between them."""
    states = [(note.string, note.fret, note.finger, note.position) for note in walked]
    moves = [HandMove.NONE, *(move_between(a, b) for a, b in pairwise(states))]
    return tuple(PathNote(note, move) for note, move in zip(walked, moves, strict=False))
