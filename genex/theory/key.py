"""Keys: a tonic, a mode, a signature, the spelling that follows, and ways from key to key."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from genex.errors import NotationError
from genex.theory.chord import Chord
from genex.theory.foreign import english_key
from genex.theory.pitch import Degree, Interval, NoteName, Pitch

Mode = Literal["major", "minor"]

_MAJOR = tuple(Degree(number) for number in range(1, 8))
_MINOR = tuple(Degree(n, -1 if n in (3, 6, 7) else 0) for n in range(1, 8))
_KEY = re.compile(
    r"(?P<letter>[A-Ga-g])(?:\s*(?P<sign>[b#♭♯])|[\s-]*(?P<word>flat|sharp))?"
    r"[\s-]*?(?P<mode>major|maj|minor|min|m|M|-)?",
    re.IGNORECASE,
)
_CHURCH_MODE = re.compile(r"(.+?)\s+(dorian|phrygian|lydian|mixolydian|locrian)", re.IGNORECASE)
_MODE_DEGREES = {"dorian": 2, "phrygian": 3, "lydian": 4, "mixolydian": 5, "locrian": 7}
_FIFTHS_OF_NATURALS = (0, 2, 4, -1, 1, 3, 5)
_MOST_ACCIDENTALS = 7


@dataclass(frozen=True)
class Key:
    """A major or natural minor key whose signature has at most seven accidentals."""

    tonic: NoteName
    mode: Mode = "major"

    def __post_init__(self) -> None:
        if abs(self.fifths) > _MOST_ACCIDENTALS:
            raise NotationError(
                f"{self} would need {abs(self.fifths)} accidentals",
                hint=f"write {simplest_key(self.tonic.pitch_class, self.mode)} instead",
            )

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read ``F``, ``G minor``, ``Bbm``, ``C#-``, ``f# minor``, ``E flat major``.

        A lower-case letter alone is refused, because some mean minor by it and some do not.
        Raises NotationError.
        """
        plain = text.strip()
        match = _KEY.fullmatch(plain)
        if match is None:
            raise NotationError(f"'{text}' is not a key", hint=_hint(plain))
        sign = {"flat": "b", "sharp": "#"}.get((match["word"] or "").lower(), match["sign"] or "")
        mode = match["mode"] or ""
        if not mode and match["letter"].islower():
            capital = plain[0].upper() + plain[1:]
            raise NotationError(
                f"'{text}' may mean {capital} major or {capital} minor",
                hint=f"write {capital} or {capital}m",
            )
        is_minor = mode in ("m", "-") or mode.lower() in ("minor", "min")
        return cls(
            NoteName.parse(match["letter"].upper() + sign.lower()), "minor" if is_minor else "major"
        )

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

    @property
    def relative(self) -> Key:
        """The key of the other mode with the same signature."""
        return Key(self.scale[2], "major") if self.mode == "minor" else Key(self.scale[5], "minor")

    @property
    def parallel(self) -> Key:
        """The key of the other mode on the same tonic, respelled where it needs over seven signs."""
        mode: Mode = "major" if self.mode == "minor" else "minor"
        return spelled_key(self.tonic, mode)

    def spell(self, midi: int) -> Pitch:
        """A spelling for a MIDI number in this key.

        Scale notes first; in minor then the raised sixth and seventh; then the signature's side.
        """
        names = list(self.scale)
        if self.mode == "minor":
            names += [NoteName(name.step, name.alter + 1) for name in self.scale[5:]]
        for name in names:
            if name.pitch_class == midi % 12:
                return name.at_or_above(midi)
        return Pitch.from_midi(midi, flats=self.fifths < 0)

    def __str__(self) -> str:
        return f"{self.tonic} {self.mode}"


def _hint(text: str) -> str:
    """What to write instead of a key that cannot be read."""
    english = english_key(text)
    if english is not None:
        return f"did you mean {english}?"
    match = _CHURCH_MODE.fullmatch(text)
    if match:
        number = _MODE_DEGREES[match[2].lower()]
        try:
            tonic = NoteName.parse(match[1])
            home = tonic.transpose(-Degree(number).interval)
            major = spelled_key(home, "major")
        except NotationError:
            return "write for example F, Bb or G minor"
        return f"give the major key with the same signature: {major.tonic}"
    return "write for example F, Bb or G minor"


def all_keys() -> tuple[Key, ...]:
    """The thirty keys of at most seven accidentals, major first, from seven flats to seven sharps."""
    # F C G D A E B: each a fifth above the last, with flats, without, with sharps.
    tonics = [NoteName(step, alter) for alter in (-1, 0, 1) for step in (3, 0, 4, 1, 5, 2, 6)]
    modes: tuple[Mode, ...] = ("major", "minor")
    return tuple(Key(tonic, mode) for mode in modes for tonic in tonics if _is_key(tonic, mode))


def _is_key(tonic: NoteName, mode: Mode) -> bool:
    major = _FIFTHS_OF_NATURALS[tonic.step] + 7 * tonic.alter
    return abs(major - 3 if mode == "minor" else major) <= _MOST_ACCIDENTALS


def simplest_key(pitch_class: int, mode: Mode = "major", *, flats: bool = True) -> Key:
    """The key on a pitch class with the fewest accidentals.

    Of two with six, such as Gb and F# major, the one in flats unless ``flats`` is false.
    """
    choices = [
        key for key in all_keys() if key.mode == mode and key.tonic.pitch_class == pitch_class % 12
    ]
    return min(choices, key=lambda key: (abs(key.fifths), (key.fifths < 0) != flats))


def spelled_key(tonic: NoteName, mode: Mode) -> Key:
    """The key on a tonic as spelled, or on its simplest respelling where it has over seven signs."""
    return Key(tonic, mode) if _is_key(tonic, mode) else simplest_key(tonic.pitch_class, mode)


def interval_between(source: Key, target: Key) -> Interval:
    """The interval from tonic to tonic, spelled, the nearer way (up for a tritone).

    Modes are not looked at: from C major to A minor it is a minor third down.
    """
    semitones = (target.tonic.pitch_class - source.tonic.pitch_class) % 12
    if semitones > 6:
        semitones -= 12
    steps = (target.tonic.step - source.tonic.step) % 7
    # The octave in which letter and sound agree: B to C is a step up, not a seventh down.
    choices = [Interval(steps + 7 * octave, semitones) for octave in (-1, 0)]
    return min(choices, key=lambda interval: abs(12 * interval.steps - 7 * interval.semitones))


def transpose_chord(chord: Chord, source: Key, target: Key) -> Chord:
    """The chord of ``source`` moved to ``target``, its root spelled with at most one accidental.

    bVI in Gb major would be Ebb; charts write D [common practice]. A slash bass goes with it.
    """
    moved = chord.transpose(interval_between(source, target))
    if abs(moved.root.alter) > 1:
        plain = Pitch.from_midi(moved.root.pitch_class, flats=moved.root.alter < 0).name
        moved = moved.transpose(_respelling(moved.root, plain))
    return moved


def _respelling(name: NoteName, plain: NoteName) -> Interval:
    """The interval of no semitones from a note name to another of the same sound."""
    steps = (plain.step - name.step + 3) % 7 - 3
    return Interval(steps, 0)


# Semitones from key to key; after a full turn the next round starts a semitone higher.
_CYCLES = {
    "fourths": 5,
    "fifths": 7,
    "chromatic": 1,
    "chromatic down": 11,
    "whole tones": 2,
    "minor thirds": 3,
    "major thirds": 4,
}
CYCLES = tuple(_CYCLES)
"""The orders in which ``key_cycle`` goes through the twelve keys."""


def key_cycle(key: Key, cycle: str) -> tuple[Key, ...]:
    """All twelve keys of the key's mode in a cycle, beginning with ``key`` as it is spelled.

    Cycles that come home early (minor thirds after four keys) go on a semitone higher. Each key
    has the fewest accidentals; of two with six the one on the side of the key before it.
    Raises NotationError for an unknown cycle.
    """
    if cycle not in _CYCLES:
        raise NotationError(f"'{cycle}' is no cycle of keys", hint=f"there are: {', '.join(CYCLES)}")
    found = [key]
    seen = {key.tonic.pitch_class}
    while len(found) < 12:
        following = (found[-1].tonic.pitch_class + _CYCLES[cycle]) % 12
        while following in seen:
            following = (following + 1) % 12
        seen.add(following)
        found.append(simplest_key(following, key.mode, flats=found[-1].fifths < 0))
    return tuple(found)
