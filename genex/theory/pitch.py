"""Spelled pitches, note names, degrees and the intervals between them.

Conventions
-----------
* Octaves are numbered as in scientific pitch notation: middle C is C4, MIDI key 60.
* Frequencies are twelve-tone equal temperament at A4 = 440 Hz (ISO 16:1975).
* Accidentals are counted in semitones: -2 double flat … +2 double sharp. Text output is
  ASCII (``Bb``, ``F#``, ``Bbb``, ``F##``); input also takes ``♭ ♯ 𝄫 𝄪 ♮`` and ``x``.
* A degree is a number counted from the root in the major scale with an alteration:
  ``b3``, ``5``, ``#11``, ``bb7``.

Everything here is an immutable value.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

from genex.errors import NotationError

STEPS = "CDEFGAB"
STEP_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
"""Semitones of the seven steps of the major scale, and of the natural notes above C."""

_UNICODE_ACCIDENTALS = {"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##", "♮": "", "x": "##"}
_NAME = re.compile(r"([A-Ga-g])(b{0,3}|#{0,3})")
_PITCH = re.compile(r"([A-Ga-g])(b{0,3}|#{0,3})(-?\d+)")
_DEGREE = re.compile(r"(b{0,2}|#{0,2})(\d{1,2})")


def ascii_accidentals(text: str) -> str:
    """``text`` with Unicode accidentals turned into ``b`` and ``#``."""
    for sign, plain in _UNICODE_ACCIDENTALS.items():
        text = text.replace(sign, plain)
    return text


def accidental_text(alter: int) -> str:
    """``b``, ``#``, ``bb`` … for an alteration in semitones."""
    return "b" * -alter if alter < 0 else "#" * alter


@dataclass(frozen=True, slots=True)
class Interval:
    """A directed interval: ``steps`` on the staff and ``semitones`` in sound.

    A major third up is ``Interval(2, 4)``; a diminished fourth up is ``Interval(3, 4)``.
    """

    steps: int
    semitones: int

    def __neg__(self) -> Interval:
        return Interval(-self.steps, -self.semitones)

    def __add__(self, other: Interval) -> Interval:
        return Interval(self.steps + other.steps, self.semitones + other.semitones)


@dataclass(frozen=True, slots=True)
class Degree:
    """A degree over a root: ``number`` from 1 up to 13, ``alter`` in semitones."""

    number: int
    alter: int = 0

    def __post_init__(self) -> None:
        if not 1 <= self.number <= 15:
            raise NotationError(f"{self.number} is not a degree", hint="degrees run from 1 to 13")

    @classmethod
    def parse(cls, text: str) -> Degree:
        """Read ``b3``, ``#11``, ``♭9``. Raises NotationError."""
        match = _DEGREE.fullmatch(ascii_accidentals(text.strip()))
        if match is None:
            raise NotationError(f"'{text}' is not a degree", hint="write for example 3, b7 or #11")
        signs, number = match.groups()
        return cls(int(number), signs.count("#") - signs.count("b"))

    @property
    def semitones(self) -> int:
        """Semitones above the root; a ninth is 14, not 2."""
        octave, step = divmod(self.number - 1, 7)
        return 12 * octave + STEP_SEMITONES[step] + self.alter

    @property
    def interval(self) -> Interval:
        """The ascending interval from the root."""
        return Interval(self.number - 1, self.semitones)

    @property
    def simple(self) -> Degree:
        """The same degree within one octave: 9 becomes 2, #11 becomes #4."""
        return Degree((self.number - 1) % 7 + 1, self.alter)

    def __str__(self) -> str:
        return f"{accidental_text(self.alter)}{self.number}"


@dataclass(frozen=True, slots=True)
class NoteName:
    """A spelled note without an octave: ``step`` 0 to 6 for C to B, ``alter`` in semitones."""

    step: int
    alter: int = 0

    @classmethod
    def parse(cls, text: str) -> NoteName:
        """Read ``C``, ``Bb``, ``F♯``. Raises NotationError."""
        match = _NAME.fullmatch(ascii_accidentals(text.strip()))
        if match is None:
            raise NotationError(f"'{text}' is not a note name", hint="write for example C, Bb or F#")
        return cls._of(*match.groups())

    @classmethod
    def _of(cls, letter: str, signs: str) -> NoteName:
        return cls(STEPS.index(letter.upper()), signs.count("#") - signs.count("b"))

    @property
    def pitch_class(self) -> int:
        """0 for C to 11 for B, octave and spelling forgotten."""
        return (STEP_SEMITONES[self.step] + self.alter) % 12

    def transpose(self, interval: Interval) -> NoteName:
        """The name an interval away, spelled as the interval says."""
        octave, step = divmod(self.step + interval.steps, 7)
        semitones = STEP_SEMITONES[self.step] + self.alter + interval.semitones
        return NoteName(step, semitones - STEP_SEMITONES[step] - 12 * octave)

    def degree(self, degree: Degree) -> NoteName:
        """The name that ``degree`` has over this root."""
        return self.transpose(degree.interval)

    def at_or_above(self, midi: int) -> Pitch:
        """The lowest pitch of this name whose MIDI number is at least ``midi``."""
        pitch = Pitch(self, 0)
        return Pitch(self, -((pitch.midi - midi) // 12))

    def at_or_below(self, midi: int) -> Pitch:
        """The highest pitch of this name whose MIDI number is at most ``midi``."""
        return self.at_or_above(midi - 11)

    def nearest(self, midi: int) -> Pitch:
        """The pitch of this name nearest to ``midi``; the lower one of two equally near."""
        return self.at_or_above(midi - 6)

    def __str__(self) -> str:
        return f"{STEPS[self.step]}{accidental_text(self.alter)}"


_SHARP_NAMES = tuple(NoteName._of(n[0], n[1:]) for n in "C C# D D# E F F# G G# A A# B".split())
_FLAT_NAMES = tuple(NoteName._of(n[0], n[1:]) for n in "C Db D Eb E F Gb G Ab A Bb B".split())


@dataclass(frozen=True)
class Pitch:
    """A spelled pitch. B#3 and C4 sound alike and are different pitches.

    ``octave`` belongs to the letter, as in scientific pitch notation (Cb4 is MIDI 59).
    """

    name: NoteName
    octave: int

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read ``E2``, ``Bb3``, ``F♯-1``. Raises NotationError."""
        match = _PITCH.fullmatch(ascii_accidentals(text.strip()))
        if match is None:
            raise NotationError(
                f"'{text}' is not a pitch", hint="write a note and an octave, for example E2 or Bb3"
            )
        letter, signs, octave = match.groups()
        return cls(NoteName._of(letter, signs), int(octave))

    @classmethod
    def from_midi(cls, midi: int, *, flats: bool = False) -> Pitch:
        """A plain spelling for a MIDI number, with sharps unless ``flats``."""
        name = (_FLAT_NAMES if flats else _SHARP_NAMES)[midi % 12]
        return cls(name, midi // 12 - 1)

    @cached_property
    def midi(self) -> int:
        """MIDI key number, 60 for middle C."""
        return 12 * (self.octave + 1) + STEP_SEMITONES[self.name.step] + self.name.alter

    @property
    def pitch_class(self) -> int:
        return self.midi % 12

    def transpose(self, interval: Interval) -> Pitch:
        """The pitch an interval away, spelled as the interval says."""
        name = self.name.transpose(interval)
        return Pitch(name, self.octave + (self.name.step + interval.steps) // 7)

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"
