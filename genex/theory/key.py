"""Keys: a tonic, a mode, a signature, and the spelling that follows from them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from genex.errors import NotationError
from genex.theory.pitch import Degree, NoteName, Pitch

Mode = Literal["major", "minor"]

_MAJOR = tuple(Degree(number) for number in range(1, 8))
_MINOR = tuple(Degree(n, -1 if n in (3, 6, 7) else 0) for n in range(1, 8))
_KEY = re.compile(
    r"\s*([A-Ga-g])\s*([b#♭♯]{0,1}|\s(?:flat|sharp))\s*(?:-|\s)*(major|maj|minor|min|m|M)?\s*"
)
_FIFTHS_OF_NATURALS = (0, 2, 4, -1, 1, 3, 5)


@dataclass(frozen=True)
class Key:
    """A major or natural minor key whose signature has at most seven accidentals."""

    tonic: NoteName
    mode: Mode = "major"

    def __post_init__(self) -> None:
        if abs(self.fifths) > 7:
            raise NotationError(
                f"{self} would need {abs(self.fifths)} accidentals",
                hint=f"write {self._simpler()} instead",
            )

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read ``F``, ``G minor``, ``Bbm``, ``f# minor``, ``E flat major``. Raises NotationError."""
        match = _KEY.fullmatch(text)
        if match is None:
            raise NotationError(f"'{text}' is not a key", hint="write for example F, Bb or G minor")
        letter, accidental, mode = match.groups()
        sign = {"flat": "b", "sharp": "#"}.get(accidental.strip(), accidental)
        is_minor = mode in ("minor", "min", "m")
        return cls(NoteName.parse(letter.upper() + sign), "minor" if is_minor else "major")

    @property
    def fifths(self) -> int:
        """Accidentals of the signature: positive sharps, negative flats (as in MIDI and MusicXML)."""
        major = _FIFTHS_OF_NATURALS[self.tonic.step] + 7 * self.tonic.alter
        return major - 3 if self.mode == "minor" else major

    @cached_property
    def scale(self) -> tuple[NoteName, ...]:
        """The seven notes from the tonic up; natural minor in minor."""
        degrees = _MINOR if self.mode == "minor" else _MAJOR
        return tuple(self.tonic.degree(degree) for degree in degrees)

    def spell(self, midi: int) -> Pitch:
        """A spelling for a MIDI number in this key: scale notes first, then the signature's side."""
        for name in self.scale:
            if name.pitch_class == midi % 12:
                return name.at_or_above(midi)
        return Pitch.from_midi(midi, flats=self.fifths < 0)

    def _simpler(self) -> str:
        flats = self.fifths > 7
        return f"{Pitch.from_midi(self.tonic.pitch_class, flats=flats).name} {self.mode}"

    def __str__(self) -> str:
        return f"{self.tonic} {self.mode}"
