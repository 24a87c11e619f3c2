"""What a neck diagram shows: dots at places, whatever it is drawn with.

A ``Mark`` is a place on the neck with everything that may be written at it. Diagrams in text
(``neck_text.py``) and as pictures (``diagrams.py``) read the same marks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from genex.export.note_names import note_name
from genex.fretboard import Shape, Tuning
from genex.theory import Chord, Degree, NoteName

Label = Literal["degrees", "fingers", "notes", "none"]

INLAYS = {3: 1, 5: 1, 7: 1, 9: 1, 12: 2, 15: 1, 17: 1, 19: 1, 21: 1, 24: 2}
"""Frets that guitars mark, with the number of dots [common practice]."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A sounding place. ``finger`` is None where no fingering is meant, as on a whole neck;
    ``other_finger`` is the one that takes the note on the way down, where it is another."""

    string: int
    fret: int
    degree: Degree
    note: NoteName
    finger: int | None = None
    other_finger: int | None = None

    @property
    def is_root(self) -> bool:
        return self.degree == Degree(1)

    def text(self, label: Label, phrases: Mapping[str, str] | None = None) -> str:
        """What is written at the place; the degree where a finger is wished and there is none.

        Notes have English names without ``phrases``.
        """
        if label == "none":
            return ""
        if label == "notes":
            return str(self.note) if phrases is None else note_name(self.note, phrases)
        if label == "fingers" and self.finger is not None:
            return str(self.finger)
        return str(self.degree)


def shape_marks(shape: Shape) -> tuple[Mark, ...]:
    """The marks of a fingered shape, lowest note first."""
    others = shape.other_fingers
    return tuple(
        Mark(note.string, note.fret, note.degree, note.pitch.name, note.finger, others.get(index))
        for index, note in enumerate(shape.notes)
    )


def tone_marks(
    degrees: Iterable[Degree], root: NoteName, tuning: Tuning, *, last_fret: int | None = None
) -> tuple[Mark, ...]:
    """Every place of every tone of a chord or scale, open strings included, up to ``last_fret``."""
    tones: dict[int, tuple[Degree, NoteName]] = {}
    for degree in degrees:
        name = root.degree(degree)
        tones.setdefault(name.pitch_class, (degree, name))
    end = tuning.last_fret if last_fret is None else min(last_fret, tuning.last_fret)
    return tuple(
        Mark(string, fret, *tones[(open_midi + fret) % 12])
        for string, open_midi in enumerate(tuning.open_midi, start=1)
        for fret in range(end + 1)
        if (open_midi + fret) % 12 in tones
    )


def chord_marks(chord: Chord, tuning: Tuning, *, last_fret: int | None = None) -> tuple[Mark, ...]:
    """Every place of every tone of a chord."""
    return tone_marks(chord.degrees, chord.root, tuning, last_fret=last_fret)


def inlay_dots(fret: int, capo: int = 0) -> int:
    """Dots that the neck has at a fret, counted from the capo: 0, 1 or 2."""
    return INLAYS.get(fret + capo, 0)


def fret_window(marks: Sequence[Mark]) -> tuple[int, int]:
    """First and last fret that a diagram of the marks shows, four frets wide at least.

    The first is 1 where the marks reach the first two frets, so that the nut is seen.
    """
    stopped = [mark.fret for mark in marks if mark.fret > 0]
    if not stopped:
        return 1, 4
    first = min(stopped)
    if first == 2 or any(mark.fret == 0 for mark in marks):
        first = 1
    return first, max(max(stopped), first + 3)
