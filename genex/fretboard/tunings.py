"""Instruments: open strings, frets, capo, and every place where a pitch lies.

Conventions
-----------
* String 1 is the one nearest the floor when the instrument is held, on a guitar the highest;
  the last string is nearest the player's chin. Re-entrant tunings need not be in pitch order.
* Frets are counted from the nut or, with a capo, from the capo, as tab does: fret 0 is the open
  string, and the fret ``last_fret`` is the last one that can be stopped.
* Fret n lies ``scale_mm * (1 - 2 ** (-n / 12))`` from the nut (twelve-tone equal temperament).

The tunings are common practice; one table holds them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property
from typing import NamedTuple

from genex.errors import FretboardError, NotationError
from genex.fretboard.own_shape import NO_TASTE, OwnShape, Taste, intervals_of
from genex.hints import nearest
from genex.theory import Pitch

MAX_STRINGS = 12
MAX_FRETS = 36
LOWEST_OPEN_MIDI, HIGHEST_OPEN_MIDI = 12, 100
GUITAR_SCALE_MM = 648.0


class Hand(Enum):
    """Comfortable reach from the first to the fourth finger in millimetres.

    At a string length of 648 mm the four frets from the first take 97 mm, from the twelfth
    52 mm [computed]: a medium hand holds one finger a fret everywhere, a small one does not in
    the lowest positions, a large one can stretch to a fifth fret from the second position up.
    """

    SMALL = 85
    MEDIUM = 105
    LARGE = 120

    @property
    def reach_mm(self) -> int:
        return self.value


class Place(NamedTuple):
    """A place on the neck. Strings count from 1, frets from 0 (open)."""

    string: int
    fret: int

    def __str__(self) -> str:
        return f"{self.string}/{self.fret}"


@dataclass(frozen=True)
class Tuning:
    """An instrument's neck. Raises FretboardError when it is absurd.

    name      for display
    strings   open pitches without capo, string 1 first
    frets     frets on the neck, counted from the nut
    capo      fret that the capo lies at, 0 for none
    scale_mm  length of the open string in millimetres; decides how far fingers must reach
    hand      the player's hand; decides how far they can
    own       the player's own shapes and fingerings, used in place of those that are computed
    taste     what the player prefers where a fingering is computed
    """

    name: str
    strings: tuple[Pitch, ...]
    frets: int = 22
    capo: int = 0
    scale_mm: float = GUITAR_SCALE_MM
    hand: Hand = Hand.MEDIUM
    own: tuple[OwnShape, ...] = ()
    taste: Taste = NO_TASTE

    def __post_init__(self) -> None:
        _require_sane(self)

    @cached_property
    def open_midi(self) -> tuple[int, ...]:
        """MIDI numbers of the open strings as they sound, capo on, string 1 first."""
        return tuple(pitch.midi + self.capo for pitch in self.strings)

    @property
    def last_fret(self) -> int:
        """The highest fret number, counted from the capo."""
        return self.frets - self.capo

    @property
    def lowest_midi(self) -> int:
        return min(self.open_midi)

    @property
    def highest_midi(self) -> int:
        return max(self.open_midi) + self.last_fret

    @cached_property
    def low_to_high(self) -> tuple[int, ...]:
        """String numbers by open pitch, lowest first; of two equal ones the higher number first."""
        order = sorted(range(len(self.strings)), key=lambda i: (self.open_midi[i], -i))
        return tuple(i + 1 for i in order)

    @cached_property
    def has_standard_intervals(self) -> bool:
        """Six strings tuned a fourth apart, a third between the third and second: E A D G B E
        or the same at another pitch, where the five forms are named by open chords."""
        return intervals_of(self.open_midi) == (5, 4, 5, 5, 5)

    @cached_property
    def rolled_semitones(self) -> frozenset[int]:
        """Semitones between neighbouring strings: such a leap can be rolled at one fret."""
        return frozenset(abs(step) for step in intervals_of(self.open_midi))

    def fret_mm(self, fret: int) -> float:
        """Distance from the nut to ``fret`` (counted from the capo) in millimetres."""
        return self.scale_mm * (1.0 - float(2.0 ** (-(fret + self.capo) / 12)))

    def __str__(self) -> str:
        return self.name


def _require_sane(tuning: Tuning) -> None:
    """Raise FretboardError for a neck that nobody could build or play."""
    count = len(tuning.strings)
    if not 1 <= count <= MAX_STRINGS:
        raise FretboardError(
            f"a tuning of {count} strings", hint=f"give one pitch a string, 1 to {MAX_STRINGS} strings"
        )
    for pitch in tuning.strings:
        if not LOWEST_OPEN_MIDI <= pitch.midi <= HIGHEST_OPEN_MIDI:
            raise FretboardError(
                f"an open string at {pitch} is out of range",
                hint="open strings lie between C0 and E7; a guitar's lowest is E2",
            )
    if not 1 <= tuning.frets <= MAX_FRETS:
        raise FretboardError(
            f"there is no neck of {tuning.frets} frets", hint=f"write 1 to {MAX_FRETS} frets"
        )
    if not 0 <= tuning.capo < tuning.frets:
        raise FretboardError(
            f"a capo cannot sit at fret {tuning.capo} of {tuning.frets}",
            hint=f"write 0 for no capo, or a fret up to {tuning.frets - 1}",
        )
    if not 100 <= tuning.scale_mm <= 2000:
        raise FretboardError(
            f"a string length of {tuning.scale_mm:g} mm", hint="a guitar measures about 648 mm"
        )


def _row(name: str, strings: str, frets: int = 22, scale_mm: float = GUITAR_SCALE_MM) -> Tuning:
    """A table row; ``strings`` from the lowest-numbered last, as players spell tunings."""
    pitches = tuple(Pitch.parse(text) for text in reversed(strings.split()))
    return Tuning(name, pitches, frets, 0, scale_mm)


TUNINGS: dict[str, Tuning] = {
    row.name: row
    for row in (
        _row("standard", "E2 A2 D3 G3 B3 E4"),
        _row("drop D", "D2 A2 D3 G3 B3 E4"),
        _row("double drop D", "D2 A2 D3 G3 B3 D4"),
        _row("DADGAD", "D2 A2 D3 G3 A3 D4"),
        _row("half-step down", "Eb2 Ab2 Db3 Gb3 Bb3 Eb4"),
        _row("whole-step down", "D2 G2 C3 F3 A3 D4"),
        _row("drop C", "C2 G2 C3 F3 A3 D4"),
        _row("open C", "C2 G2 C3 G3 C4 E4"),
        _row("open D", "D2 A2 D3 F#3 A3 D4"),
        _row("open D minor", "D2 A2 D3 F3 A3 D4"),
        _row("open E", "E2 B2 E3 G#3 B3 E4"),
        _row("open G", "D2 G2 D3 G3 B3 D4"),
        _row("open G minor", "D2 G2 D3 G3 Bb3 D4"),
        _row("open A", "E2 A2 E3 A3 C#4 E4"),
        _row("all fourths", "E2 A2 D3 G3 C4 F4"),
        _row("baritone guitar", "B1 E2 A2 D3 F#3 B3", 22, 686.0),
        _row("tenor guitar", "C3 G3 D4 A4", 19, 584.0),
        _row("seven-string", "B1 E2 A2 D3 G3 B3 E4"),
        _row("eight-string", "F#1 B1 E2 A2 D3 G3 B3 E4", 24, 686.0),
        _row("four-string bass", "E1 A1 D2 G2", 21, 864.0),
        _row("drop D bass", "D1 A1 D2 G2", 21, 864.0),
        _row("five-string bass", "B0 E1 A1 D2 G2", 21, 864.0),
        _row("six-string bass", "B0 E1 A1 D2 G2 C3", 24, 864.0),
        _row("ukulele", "G4 C4 E4 A4", 15, 381.0),
        _row("low G ukulele", "G3 C4 E4 A4", 15, 381.0),
        _row("baritone ukulele", "D3 G3 B3 E4", 17, 482.0),
    )
}
"""The one table of tunings, each written from the lowest-sounding side to string 1."""

STANDARD = TUNINGS["standard"]

_ALIASES = {
    "guitar": "standard",
    "EADGBE": "standard",
    "six-string": "standard",
    "Eb": "half-step down",
    "E flat": "half-step down",
    "half step": "half-step down",
    "D standard": "whole-step down",
    "whole step": "whole-step down",
    "DADGBE": "drop D",
    "DADGBD": "double drop D",
    "DADF#AD": "open D",
    "DGDGBD": "open G",
    "fourths": "all fourths",
    "baritone": "baritone guitar",
    "tenor": "tenor guitar",
    "seven-string guitar": "seven-string",
    "7-string": "seven-string",
    "eight-string guitar": "eight-string",
    "8-string": "eight-string",
    "bass": "four-string bass",
    "bass guitar": "four-string bass",
    "4-string bass": "four-string bass",
    "5-string bass": "five-string bass",
    "6-string bass": "six-string bass",
    "uke": "ukulele",
    "gCEA": "ukulele",
    "low G": "low G ukulele",
}


def _plain(name: str) -> str:
    """A name with case, spaces, hyphens and underscores forgotten."""
    return re.sub(r"[\s_,\-]+", "", name).replace("♭", "b").replace("♯", "#").lower()


_BY_PLAIN_NAME = {_plain(name): row for name, row in TUNINGS.items()} | {
    _plain(alias): TUNINGS[name] for alias, name in _ALIASES.items()
}


def tuning(
    name_or_pitches: str | Sequence[str] | Sequence[Pitch],
    frets: int | None = None,
    capo: int = 0,
    hand: Hand = Hand.MEDIUM,
) -> Tuning:
    """A neck from a name (``drop D``, ``four-string bass``) or from the pitches of its strings.

    Pitches are written as players spell a tuning, from the lowest string to string 1
    (``D2 A2 D3 G3 A3 D4``), as a list or as one text; a list whose first pitch is higher than
    its last is taken to begin with string 1. ``frets`` defaults to the table's, 22 for a list.
    Raises FretboardError.
    """
    found = _by_name(name_or_pitches) if isinstance(name_or_pitches, str) else None
    if found is None:
        given = name_or_pitches
        if isinstance(name_or_pitches, str):
            given = re.findall(r"[^\s,]+", name_or_pitches)
        found = _from_pitches(given)
    return replace(found, frets=found.frets if frets is None else frets, capo=capo, hand=hand)


def _by_name(name: str) -> Tuning | None:
    """The table's row; None for a text that is a list of pitches. Raises FretboardError."""
    row = _BY_PLAIN_NAME.get(_plain(name))
    if row is not None:
        return row
    words = re.split(r"[\s,]+", name.strip())
    if len(words) > 1 and sum(any(c.isdigit() for c in word) for word in words) > len(words) / 2:
        return None
    near = nearest(_plain(name), _BY_PLAIN_NAME)
    hint = f"did you mean '{_BY_PLAIN_NAME[near].name}'?" if near else None
    raise FretboardError(
        f"'{name}' is not a tuning that is known",
        hint=hint or f"write one of {', '.join(TUNINGS)}, or the strings as pitches: D2 A2 D3 G3 A3 D4",
    )


def _from_pitches(parts: Sequence[str] | Sequence[Pitch]) -> Tuning:
    pitches: list[Pitch] = []
    for part in parts:
        if isinstance(part, Pitch):
            pitches.append(part)
            continue
        try:
            pitches.append(Pitch.parse(str(part).strip(" ,")))
        except NotationError as error:
            raise FretboardError(
                f"'{part}' is not the pitch of an open string",
                hint="write a note and an octave a string, for example D2 A2 D3 G3 A3 D4",
            ) from error
    if pitches and pitches[0].midi <= pitches[-1].midi:
        pitches.reverse()
    name = " ".join(str(pitch) for pitch in reversed(pitches))
    return Tuning(name, tuple(pitches))


def pitch_at(tuning: Tuning, string: int, fret: int) -> int:
    """MIDI number that sounds at a place. Raises FretboardError when there is no such place."""
    if not 1 <= string <= len(tuning.strings):
        raise FretboardError(
            f"there is no string {string} in {tuning}",
            hint=f"strings run from 1 to {len(tuning.strings)}",
        )
    if not 0 <= fret <= tuning.last_fret:
        raise FretboardError(
            f"there is no fret {fret} on this neck", hint=f"frets run from 0 to {tuning.last_fret}"
        )
    return tuning.open_midi[string - 1] + fret


def places(tuning: Tuning, midi: int) -> tuple[Place, ...]:
    """Every place where a pitch lies, from the nut upwards; empty if it is off the instrument."""
    found = [
        Place(string, midi - open_midi)
        for string, open_midi in enumerate(tuning.open_midi, start=1)
        if 0 <= midi - open_midi <= tuning.last_fret
    ]
    return tuple(sorted(found, key=lambda place: (place.fret, place.string)))


def require_on_instrument(tuning: Tuning, midi: int) -> None:
    """Raise FretboardError, saying what would work, when a pitch lies nowhere on the neck."""
    if places(tuning, midi):
        return
    lowest, highest = Pitch.from_midi(tuning.lowest_midi), Pitch.from_midi(tuning.highest_midi)
    where = "below" if midi < tuning.lowest_midi else "above"
    octaves = _octaves_away(tuning, midi)
    move = f"; move it {octaves}" if octaves else ""
    raise FretboardError(
        f"{Pitch.from_midi(midi)} lies {where} the compass of the {tuning} tuning"
        if midi < tuning.lowest_midi or midi > tuning.highest_midi
        else f"{Pitch.from_midi(midi)} lies on no string of the {tuning} tuning",
        hint=f"its notes run from {lowest} to {highest}{move}",
    )


def _octaves_away(tuning: Tuning, midi: int) -> str:
    for count in range(1, 10):
        for sign, word in ((1, "up"), (-1, "down")):
            if places(tuning, midi + 12 * sign * count):
                return f"{count} octave{'s' if count > 1 else ''} {word}"
    return ""
