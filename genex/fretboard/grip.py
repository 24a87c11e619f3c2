"""A grip: a chord held down by one hand, its tones named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from genex.fretboard.held import HeldChord
from genex.fretboard.tunings import Tuning
from genex.theory import Chord, Degree, Pitch


@dataclass(frozen=True)
class Grip:
    """``strings`` from the lowest voice up, ``pitches`` with them; ``degrees`` by string."""

    kind: str
    strings: tuple[int, ...]
    pitches: tuple[Pitch, ...]
    degrees: Mapping[int, Degree]
    held: HeldChord

    @property
    def bass(self) -> Degree:
        """The degree of the lowest voice: 1 for the root position."""
        return self.degrees[self.strings[0]]

    @cached_property
    def midis(self) -> tuple[int, ...]:
        """MIDI numbers of the voices, lowest first."""
        return tuple(pitch.midi for pitch in self.pitches)

    @cached_property
    def position(self) -> int:
        """The fret of the first finger, or where it would lie; 0 where only open strings sound."""
        held = self.held
        first = [fret for string, fret in held.frets.items() if held.fingers[string] == 1]
        others = [fret - held.fingers[s] + 1 for s, fret in held.frets.items() if fret]
        return min(first or others, default=0)

    def as_json(self) -> dict[str, object]:
        held = self.held
        return {
            "kind": self.kind,
            "bass": str(self.bass),
            "notes": [
                {
                    "string": string,
                    "fret": held.frets[string],
                    "finger": held.fingers[string],
                    "degree": str(self.degrees[string]),
                }
                for string in self.strings
            ],
            "barres": [
                {
                    "finger": barre.finger,
                    "fret": barre.fret,
                    "strings": [barre.low_string, barre.high_string],
                }
                for barre in held.barres
            ],
        }


def named_grip(kind: str, chord: Chord, tuning: Tuning, held: HeldChord) -> Grip:
    """A held chord with the names of its tones."""
    midi_of = {s: tuning.open_midi[s - 1] + fret for s, fret in held.frets.items()}
    strings = tuple(sorted(midi_of, key=lambda string: (midi_of[string], -string)))
    degrees = {string: _degree(chord, midi_of[string]) for string in strings}
    pitches = tuple(chord.root.degree(degrees[s]).at_or_above(midi_of[s]) for s in strings)
    return Grip(kind, strings, pitches, degrees, held)


def _degree(chord: Chord, midi: int) -> Degree:
    found = chord.degree_of(midi)
    if found is None:
        raise ValueError(f"{midi} is no tone of {chord}")
    return found
