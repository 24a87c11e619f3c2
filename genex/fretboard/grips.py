"""Grips: chords to comp with, held down by one hand, on every set of strings that takes them.

Kinds [common practice]: the triad close on three neighbouring strings; the shell of root, third and
seventh; drop 2 on four neighbouring strings; drop 3 with a string left out above the lowest. The
voicings are those of ``theory/voicings.py``, every inversion; the fingers those of ``held.py``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from genex.errors import FretboardError
from genex.fretboard.held import HeldChord, held_chord
from genex.fretboard.tunings import Hand, Tuning
from genex.hints import did_you_mean
from genex.theory import Chord, Degree, voicings

_SPACED = {
    # strings between the lowest voice's and each other voice's
    "triad": ((0, 1, 2),),
    "shell": ((0, 1, 2), (0, 2, 3)),
    "drop 2": ((0, 1, 2, 3),),
    "drop 3": ((0, 2, 3, 4),),
}
KINDS = tuple(_SPACED)
HIGHEST_FRET = 15


@dataclass(frozen=True)
class Grip:
    """``strings`` from the lowest voice up; ``degrees`` by string."""

    kind: str
    strings: tuple[int, ...]
    degrees: Mapping[int, Degree]
    held: HeldChord

    @property
    def bass(self) -> Degree:
        """The degree of the lowest voice: 1 for the root position."""
        return self.degrees[self.strings[0]]

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


def grips_of(
    chord: Chord, tuning: Tuning, kind: str | None = None, *, hand: Hand | None = None
) -> tuple[Grip, ...]:
    """The grips of a chord by kind, strings from the lowest, then up the neck.

    Each is placed as low as it can lie without open strings. Raises FretboardError for an unknown
    kind or a neck that has none.
    """
    if kind is not None and kind not in KINDS:
        raise FretboardError(f"'{kind}' is not a kind of grip", hint=did_you_mean(kind, KINDS))
    found: dict[tuple[object, ...], Grip] = {}
    for each in KINDS if kind is None else (kind,):
        for grip in _grips(chord, tuning, each, hand):
            order = tuple(grip.degrees[string] for string in grip.strings)
            found.setdefault((each, grip.strings, order), grip)
    if not found:
        raise FretboardError(
            f"{tuning} holds no grip of {chord}", hint="take an instrument of more strings"
        )
    order_of_kinds = {name: index for index, name in enumerate(KINDS)}
    return tuple(
        sorted(
            found.values(),
            key=lambda g: (
                order_of_kinds[g.kind],
                [-string for string in g.strings],
                min(g.held.frets.values()),
            ),
        )
    )


def _grips(chord: Chord, tuning: Tuning, kind: str, hand: Hand | None) -> Iterator[Grip]:
    """Grips of a kind, the lower of two octaves first."""
    ladder = tuning.low_to_high
    for voicing in voicings(chord, kind, tuning.lowest_midi, tuning.highest_midi):
        midis = [pitch.midi for pitch in voicing]
        if len(set(midis)) < len(midis):
            continue
        for spaces in _SPACED[kind]:
            if len(spaces) != len(midis):
                continue
            for lowest in range(len(ladder) - spaces[-1]):
                strings = tuple(ladder[lowest + space] for space in spaces)
                frets = {
                    string: midi - tuning.open_midi[string - 1]
                    for string, midi in zip(strings, midis, strict=True)
                }
                last = min(HIGHEST_FRET, tuning.last_fret)
                if not all(1 <= fret <= last for fret in frets.values()):
                    continue
                held = held_chord(frets, tuning, hand=hand)
                if held is not None:
                    degrees = {
                        string: _degree(chord, midi) for string, midi in zip(strings, midis, strict=True)
                    }
                    yield Grip(kind, strings, degrees, held)


def _degree(chord: Chord, midi: int) -> Degree:
    found = chord.degree_of(midi)
    if found is None:
        raise ValueError(f"{midi} is no tone of {chord}")
    return found
