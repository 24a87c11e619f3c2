"""Pitches of notes in ABC: key signatures, clefs that sound an octave off, and accidentals.

Accidentals hold for a note in all octaves to the end of the bar (``propagate-accidentals`` is
``pitch``, the standard's default) [published: ABC standard v2.1, 4.2, 4.6 and 11.3].
"""

from __future__ import annotations

import re

from genex.errors import NotationError
from genex.exact import Fraction
from genex.readers.charts.abc_music import LENGTH, key_of
from genex.theory import STEPS, Key, NoteName, Pitch

NOTE = re.compile(rf"(\^\^?|__?|=)?([A-Ga-gzx])([,']*)({LENGTH})(-?)")
"""A note or a rest: accidental, letter, octave, length and tie."""
_ACCIDENTALS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}
_EXPLICIT = re.compile(r"(\^\^?|__?|=)([A-Ga-g])")
_OCTAVE = re.compile(
    r"(?:octave=(-?[0-4])(?![0-9]))|(?:clef=)?(?:treble|bass|alto|tenor)?[1-5]?([+-]8)\b"
)
_DIRECTIVE = re.compile(r"(?:%%|I:)\s*propagate-accidentals:?\s+(not|octave|pitch)\s*$")


class AbcPitches:
    """What a letter sounds like at a place of a tune."""

    def __init__(self, key: Key | None = None) -> None:
        self.octave = 0
        self._signature = {} if key is None else {name.step: name.alter for name in key.scale}
        self._propagation = "pitch"
        self._accidentals: dict[tuple[int, int | None], int] = {}
        self._tied: dict[tuple[int, int], int] = {}

    def directive(self, line: str) -> bool:
        """Whether a line says how far accidentals hold; it is followed then."""
        match = _DIRECTIVE.match(line)
        if match is not None:
            self._propagation = match[1]
        return match is not None

    def set_key(self, value: str) -> Key | None:
        """Take over a field ``K:`` and return its key, None for none. Raises NotationError."""
        plain = value.split("clef=")[0]
        if plain.lower().startswith("hp"):
            raise NotationError("the key of the bagpipes is not read", hint="write for example K:D")
        octave = _OCTAVE.search(value)
        if octave is not None:
            self.octave = int(octave[1] or 0) + {"+8": 1, "-8": -1}.get(octave[2] or "", 0)
        key = key_of(re.sub(r"octave=.*|\S*[+-]8", "", plain).strip())
        if key is None and not re.match(r"\s*(none|[\^_=]|$)", plain.lower()):
            raise NotationError(f"'{value}' is not a key", hint="write for example K:G or K:A dorian")
        alters = (
            {} if key is None or re.search(r"\bexp\b", plain) else {n.step: n.alter for n in key.scale}
        )
        for sign, letter in _EXPLICIT.findall(plain):
            alters[STEPS.index(letter.upper())] = _ACCIDENTALS[sign]
        if key is not None or alters or not octave:
            self._signature = alters
        return key

    def pitch(self, head: re.Match[str], into_bar: Fraction) -> Pitch:
        """The pitch of a match of ``NOTE`` that begins ``into_bar``."""
        step = STEPS.index(head[2].upper())
        octave = 4 + head[2].islower() + head[3].count("'") - head[3].count(",")
        name: tuple[int, int | None] = (step, octave if self._propagation == "octave" else None)
        if head[1]:
            alter = _ACCIDENTALS[head[1]]
            if self._propagation != "not":
                self._accidentals[name] = alter
        elif (step, octave) in self._tied and not into_bar:
            alter = self._tied[step, octave]
        else:
            alter = self._accidentals.get(name, self._signature.get(step, 0))
        return Pitch(NoteName(step, alter), octave + self.octave)

    def end_bar(self, tied: set[Pitch]) -> None:
        """A bar line: accidentals end, but for notes that are tied over it."""
        self._tied = {(pitch.name.step, pitch.octave - self.octave): pitch.name.alter for pitch in tied}
        self._accidentals = {}
