"""The neck beside a line: the chord tones and shapes of every chord, in the twelve keys.

A shape is not simply moved along the neck: near the nut it lies otherwise and is fingered
otherwise. So each key has its own, computed as for the handout; equal ones are listed once.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from genex.errors import FretboardError
from genex.fretboard import Tuning, shapes
from genex.theory import Chord, Degree, NoteName

Forms = tuple[tuple[str, int, tuple[tuple[int, int, int], ...]], ...]
"""The shapes of a chord from the nut upwards: form, position, and string, fret, finger of each note."""


class NeckShapes:
    """The shapes that a lesson needs, each set of them listed once."""

    def __init__(self, neck: Tuning) -> None:
        self._neck = neck
        self._places: dict[Forms, int] = {}

    def places(self, chords: Sequence[Chord]) -> list[int]:
        """Where the shapes of each chord stand in the list."""
        found = [_forms(chord.degrees, chord.root, self._neck) for chord in chords]
        return [self._places.setdefault(forms, len(self._places)) for forms in found]

    def data(self) -> dict[str, Any]:
        """The neck as plain data. ``strings`` are open keys without the capo, frets count from it."""
        names = dict.fromkeys(form for forms in self._places for form, _, _ in forms)
        return {
            "strings": [pitch.midi for pitch in self._neck.strings],
            "capo": self._neck.capo,
            "frets": self._neck.last_fret,
            "forms": sorted(names, key=lambda name: (len(name), name)),
            "sets": [
                [[form, position, [list(note) for note in notes]] for form, position, notes in forms]
                for forms in self._places
            ],
        }


@lru_cache(maxsize=1024)
def _forms(degrees: tuple[Degree, ...], root: NoteName, neck: Tuning) -> Forms:
    """The shapes of a chord; none where the neck holds its tones in no position."""
    try:
        found = shapes(degrees, root, neck)
    except FretboardError:
        return ()
    return tuple(
        (shape.form, shape.position, tuple((n.string, n.fret, n.finger) for n in shape.notes))
        for shape in found
    )
