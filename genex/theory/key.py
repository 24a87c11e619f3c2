"""Keys: a tonic, a mode, a signature, the spelling that follows, and ways from key to key."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Literal

from genex.errors import NotationError
from genex.theory.chord import Chord
from genex.theory.foreign import english_key
from genex.theory.pitch import Degree, Interval, NoteName, Pitch

Mode = Literal[
    "major", "minor", "ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian"
]
PlainMode = Literal["major", "minor"]

_LOWERED: dict[Mode, str] = {
    "major": "", "ionian": "", "lydian": "", "mixolydian": "7", "dorian": "37", "minor": "367",
    "aeolian": "367", "phrygian": "2367", "locrian": "23567",
}  # fmt: skip
"""The degrees of each mode that lie a semitone below the major scale's [published: definition]."""

_FIFTHS_FROM_MAJOR = {mode: -len(lowered) for mode, lowered in _LOWERED.items()} | {"lydian": 1}
MODES: tuple[Mode, ...] = tuple(_LOWERED)
_CHURCH_MODES = "|".join(mode for mode in MODES if mode not in ("major", "minor"))
_KEY = re.compile(
    r"(?P<letter>[A-Ga-g])(?:\s*(?P<sign>[b#♭♯])|[\s-]*(?P<word>flat|sharp))?"
    rf"[\s-]*?(?P<mode>major|maj|minor|min|{_CHURCH_MODES}|m|M|-)?",
    re.IGNORECASE,
)
_WITH_SCALE = re.compile(
    r"(?P<tonic>[A-G][b#]?)m?[\s-]+(?P<kind>harmonic|melodic|natural)(?:[\s-]+min(?:or)?)?",
    re.IGNORECASE,
)
_FIFTHS_OF_NATURALS = (0, 2, 4, -1, 1, 3, 5)
_MOST_ACCIDENTALS = 7


@dataclass(frozen=True)
class Key:
    """A key whose signature has at most seven accidentals: major, natural minor, or one of the modes.

    Ionian and aeolian have the notes of major and minor, and keep the name they were given.
    """

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
        """Read ``F``, ``G minor``, ``Bbm``, ``C#-``, ``f# minor``, ``E flat major``, ``D dorian``.

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
        return cls(NoteName.parse(match["letter"].upper() + sign.lower()), _mode_of(mode))

    @property
    def fifths(self) -> int:
        """Accidentals of the signature: positive sharps, negative flats (as in MIDI and MusicXML)."""
        return _fifths(self.tonic, self.mode)

    @cached_property
    def degrees(self) -> tuple[Degree, ...]:
        """The seven degrees of the mode, counted from the major scale."""
        if self.mode == "lydian":
            return tuple(Degree(number, 1 if number == 4 else 0) for number in range(1, 8))
        lowered = _LOWERED[self.mode]
        return tuple(Degree(number, -1 if str(number) in lowered else 0) for number in range(1, 8))

    @cached_property
    def scale(self) -> tuple[NoteName, ...]:
        """The seven notes from the tonic up; natural minor in minor."""
        return tuple(self.tonic.degree(degree) for degree in self.degrees)

    @property
    def plain_mode(self) -> PlainMode:
        """Major or minor, whichever has the mode's third."""
        return "minor" if Degree(3, -1) in self.degrees else "major"

    @property
    def signature(self) -> Key:
        """The major or minor key with the same signature and the mode's third.

        What formats take that know no modes, such as MIDI: A minor for D dorian, G major for D
        mixolydian.
        """
        if self.mode == self.plain_mode:
            return self
        return next(
            key for key in all_keys() if key.mode == self.plain_mode and key.fifths == self.fifths
        )

    @property
    def plain(self) -> Key:
        """The major or minor key on the tonic, respelled where it needs over seven signs."""
        return spelled_key(self.tonic, self.plain_mode)

    @property
    def relative(self) -> Key:
        """The major key with the same signature; of a major key, the minor one."""
        wanted: PlainMode = "minor" if self.mode in ("major", "ionian") else "major"
        return next(key for key in all_keys() if key.mode == wanted and key.fifths == self.fifths)

    @property
    def parallel(self) -> Key:
        """The key with the other third on the same tonic, respelled where it needs over seven signs."""
        return spelled_key(self.tonic, "major" if self.plain_mode == "minor" else "minor")

    def spell(self, midi: int) -> Pitch:
        """A spelling for a MIDI number in this key.

        Scale notes first; in minor then the raised sixth and seventh; then the signature's side.
        """
        names = list(self.scale)
        if self.plain_mode == "minor":
            names += [
                self.tonic.degree(Degree(number))
                for number in (6, 7)
                if Degree(number, -1) in self.degrees
            ]
        for name in names:
            if name.pitch_class == midi % 12:
                return name.at_or_above(midi)
        return Pitch.from_midi(midi, flats=self.fifths < 0)

    def __str__(self) -> str:
        return f"{self.tonic} {self.mode}"


def _mode_of(text: str) -> Mode:
    """The mode of a word behind the tonic; ``M`` is major and ``m`` minor."""
    word = text.lower()
    church = next((mode for mode in MODES if mode == word), None)
    if church is not None:
        return church
    return "minor" if text in ("m", "-") or word == "min" else "major"


def _hint(text: str) -> str:
    """What to write instead of a key that cannot be read."""
    scale = _WITH_SCALE.fullmatch(text)
    if scale is not None:
        minor = f"{scale['tonic'].capitalize()} minor"
        return (
            f"write '{minor}': its {scale['kind']} form is a scale, written where a scale is asked for"
        )
    english = english_key(text)
    if english is not None:
        return f"did you mean {english}?"
    return "write for example F, Bb, G minor or D dorian"


def all_keys() -> tuple[Key, ...]:
    """The thirty keys of at most seven accidentals, major first, from seven flats to seven sharps."""
    modes: tuple[PlainMode, ...] = ("major", "minor")
    return tuple(key for mode in modes for key in _keys_of(mode))


@cache
def _keys_of(mode: Mode) -> tuple[Key, ...]:
    """The fifteen keys of a mode, from seven flats to seven sharps."""
    # F C G D A E B: each a fifth above the last, with flats, without, with sharps.
    tonics = [NoteName(step, alter) for alter in (-2, -1, 0, 1, 2) for step in (3, 0, 4, 1, 5, 2, 6)]
    return tuple(Key(tonic, mode) for tonic in tonics if _is_key(tonic, mode))


def _fifths(tonic: NoteName, mode: Mode) -> int:
    return _FIFTHS_OF_NATURALS[tonic.step] + 7 * tonic.alter + _FIFTHS_FROM_MAJOR[mode]


def _is_key(tonic: NoteName, mode: Mode) -> bool:
    return abs(_fifths(tonic, mode)) <= _MOST_ACCIDENTALS


def simplest_key(pitch_class: int, mode: Mode = "major", *, flats: bool = True) -> Key:
    """The key on a pitch class with the fewest accidentals.

    Of two with six, such as Gb and F# major, the one in flats unless ``flats`` is false.
    """
    choices = [key for key in _keys_of(mode) if key.tonic.pitch_class == pitch_class % 12]
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

    bVI in Gb major would be Ebb; charts write D, and in A major Bb7 for A#7, which has a C##, and Bb/D
    for A#/C## [common practice]. A slash bass goes with it.
    """
    moved = chord.transpose(interval_between(source, target))
    root, bass = moved.root, moved.bass
    if abs(root.alter) > 1:
        plain = Pitch.from_midi(root.pitch_class, flats=root.alter < 0).name
    elif abs(root.alter) == 1 and (_is_odd_root(chord, moved, target) or abs(bass.alter) > 1):
        plain = Pitch.from_midi(root.pitch_class, flats=root.alter > 0).name
    else:
        return moved
    return moved.transpose(_respelling(root, plain))


def _is_odd_root(chord: Chord, moved: Chord, target: Key) -> bool:
    """Whether a chord gets notes with two accidentals on a root that few charts write, and that is
    foreign to the key."""
    has_doubles = any(abs(name.alter) > 1 for name in moved.notes)
    return (
        str(moved.root) in ("A#", "E#", "B#", "Cb", "Fb")
        and moved.root not in target.scale
        and has_doubles
        and all(abs(name.alter) < 2 for name in chord.notes)
    )


def transpose_key(key: Key, source: Key, target: Key) -> Key:
    """A key passed through in ``source`` moved to ``target``, with at most seven signs."""
    return spelled_key(key.tonic.transpose(interval_between(source, target)), key.mode)


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
