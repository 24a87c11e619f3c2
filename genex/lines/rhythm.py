"""Rhythms of phrases: cells of one or two pulses, put together into bars and phrases.

A phrase begins with an idea (a bar of cells), comes back to it, and ends on a held note with a
breath of at least a pulse after it (half a pulse in a phrase of one short bar). The cells are
common practice; the weights say how often a level draws them, so that the first levels keep to
the beat and syncopation comes later.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from types import MappingProxyType

from genex.exact import Fraction, decimal
from genex.score import Meter

Weights = tuple[int, int, int, int, int, int]


@dataclass(frozen=True, slots=True)
class Cell:
    """A rhythm of some pulses: ``notes`` as (onset, length) in beats; ``weights`` for levels 1 to 6."""

    name: str
    pulses: int
    notes: tuple[tuple[Fraction, Fraction], ...]
    weights: Weights


def _cell(name: str, pulses: int, notes: str, weights: Weights) -> Cell:
    """``notes`` as ``onset:length`` in beats."""
    pairs = (item.split(":") for item in notes.split())
    return Cell(name, pulses, tuple((decimal(a), decimal(b)) for a, b in pairs), weights)


_SIMPLE = (
    _cell("quarter", 1, "0:1", (5, 4, 3, 2, 2, 2)),
    _cell("half", 2, "0:2", (2, 1, 1, 0, 0, 0)),
    _cell("rest", 1, "", (1, 1, 1, 1, 1, 1)),
    _cell("two eighths", 1, "0:1/2 1/2:1/2", (2, 3, 4, 5, 6, 6)),
    _cell("off the beat", 1, "1/2:1/2", (0, 0, 1, 2, 2, 2)),
    _cell("dotted quarter, eighth", 2, "0:3/2 3/2:1/2", (0, 2, 2, 2, 2, 2)),
    _cell("syncopated", 2, "0:1/2 1/2:1 3/2:1/2", (0, 0, 1, 2, 2, 2)),
    _cell("triplet", 1, "0:1/3 1/3:1/3 2/3:1/3", (0, 0, 0, 1, 1, 1)),
)
_COMPOUND = (
    _cell("dotted quarter", 1, "0:3/2", (4, 3, 2, 1, 1, 1)),
    _cell("dotted half", 2, "0:3", (1, 1, 0, 0, 0, 0)),
    _cell("rest", 1, "", (1, 1, 1, 1, 1, 1)),
    _cell("quarter, eighth", 1, "0:1 1:1/2", (3, 4, 4, 3, 3, 3)),
    _cell("three eighths", 1, "0:1/2 1/2:1/2 1:1/2", (1, 2, 3, 4, 5, 5)),
    _cell("off the beat", 1, "1/2:1/2 1:1/2", (0, 0, 1, 2, 2, 2)),
)
CELLS = MappingProxyType({False: _SIMPLE, True: _COMPOUND})
"""The table of cells by whether the meter is compound."""

FEWEST_NOTES = 3
"""What makes a phrase: no phrase has fewer notes."""

_NOTES_A_PULSE = MappingProxyType(
    {
        # compound: for each level, fewest and most notes for four pulses, the ending counted in
        False: ((2, 3), (2, 4), (2, 5), (3, 5), (3, 6), (3, 6)),
        True: ((2, 4), (3, 5), (3, 7), (4, 8), (5, 9), (5, 9)),
    }
)
"""How dense a level is. A dotted quarter has room for three eighths and lasts longer: a phrase in
12/8 that had no more notes than one in 4/4 would drag [common practice]."""


@dataclass(frozen=True, slots=True)
class PhraseRhythm:
    """The notes of a phrase in time.

    bars   for each bar, (onset, length) of its notes in beats from the bar line
    like   for each bar, the earlier bar whose idea it repeats, or None
    """

    bars: tuple[tuple[tuple[Fraction, Fraction], ...], ...]
    like: tuple[int | None, ...]

    @property
    def count(self) -> int:
        return sum(len(bar) for bar in self.bars)


PICKUP_LEVEL = 3
"""From this level on phrases may begin before the bar line."""
PICKUP_SHARE = 0.75
"""How often a phrase that may have a pickup has one."""
_PICKUPS = MappingProxyType(
    {
        # compound: lengths of the notes before the bar line, in beats
        False: ((Fraction(1, 2),), (Fraction(1, 2), Fraction(1, 2))),
        True: ((Fraction(1, 2),), (Fraction(1, 2), Fraction(1, 2)), (Fraction(1, 2),) * 3),
    }
)

Pickup = tuple[tuple[Fraction, Fraction], ...]
"""(onset, length) of notes before a bar line, in beats from it: onsets are negative."""


def draw_pickup(meter: Meter, level: int, rng: Random) -> Pickup:
    """One to three short notes that lead over the bar line, no longer than a pulse; or none."""
    if level < PICKUP_LEVEL or rng.random() >= PICKUP_SHARE:
        return ()
    lengths = rng.choice(_PICKUPS[meter.is_compound])
    onset = -sum(lengths, Fraction(0))
    found = []
    for length in lengths:
        found.append((onset, length))
        onset += length
    return tuple(found)


Placed = list[tuple[int, Cell]]
"""Cells of a bar, each with the pulse that it begins on."""

# How the bars of a phrase hang together: letters are ideas, "." is the ending, and a letter before
# the dot means that the ending begins like that idea.
_PLANS = MappingProxyType(
    {
        1: ("x.",),
        2: ("a a.", "a a.", "a x."),
        3: ("a a x.", "a b a."),
        4: ("a a b a.", "a b a x.", "a a b x."),
    }
)


def draw_rhythm(meter: Meter, bars: int, level: int, rng: Random) -> PhraseRhythm:
    """A rhythm for a phrase of ``bars`` bars at a level from 1 to 6."""
    fewest, most = notes_wanted(meter, bars, level)

    def off(rhythm: PhraseRhythm) -> int:
        return max(fewest - rhythm.count, rhythm.count - most, 0)

    best = _draw(meter, bars, level, rng)
    for _ in range(60):
        if off(best) == 0:
            break
        best = min(best, _draw(meter, bars, level, rng), key=off)
    return best


def notes_wanted(meter: Meter, bars: int, level: int) -> tuple[int, int]:
    """The fewest and the most notes that a phrase of ``bars`` bars should have at a level."""
    pulses = len(meter.pulses) * bars
    fewest, most = _NOTES_A_PULSE[meter.is_compound][level - 1]
    return max(FEWEST_NOTES, fewest * pulses // 4), max(FEWEST_NOTES + 1, most * pulses // 4)


def _draw(meter: Meter, bars: int, level: int, rng: Random) -> PhraseRhythm:
    plan = rng.choice(_PLANS.get(bars) or ("a " + "a b " * ((bars - 1) // 2) + "x.",)).split()
    plan = [*plan[: bars - 1], plan[-1]] if len(plan) > bars else plan
    while len(plan) < bars:
        plan.insert(-1, "a")
    pulses = len(meter.pulses)
    ideas: dict[str, tuple[int, Placed]] = {}
    written: list[Placed] = []
    like: list[int | None] = []
    for index, word in enumerate(plan):
        letter = word[0]
        kin = ideas.get(letter)
        if word.endswith("."):
            start = kin[1] if kin else _cells(meter, pulses, level, rng, first=index == 0)
            written.append(_with_ending(start, meter, pulses, rng, alone=bars == 1))
        elif kin:
            written.append(kin[1])
        else:
            written.append(_cells(meter, pulses, level, rng, first=index == 0))
            ideas[letter] = (index, written[-1])
        like.append(kin[0] if kin else None)
    return PhraseRhythm(tuple(_notes(bar, meter) for bar in written), tuple(like))


def _cells(meter: Meter, pulses: int, level: int, rng: Random, *, first: bool) -> Placed:
    """Cells that fill a bar; the first bar of a phrase begins with a note, at first on the beat."""
    placed: Placed = []
    at = 0
    while at < pulses:
        options = [cell for cell in CELLS[meter.is_compound] if cell.pulses <= pulses - at]
        if at == 0:
            options = [cell for cell in options if cell.notes]
            if first and level <= 2:
                options = [cell for cell in options if cell.notes[0][0] == 0]
        elif not placed[-1][1].notes:
            options = [cell for cell in options if cell.notes]
        weights = [cell.weights[level - 1] for cell in options]
        cell = rng.choices(options, weights)[0]
        placed.append((at, cell))
        at += cell.pulses
    return placed


def latest_ending(meter: Meter, *, alone: bool) -> Fraction:
    """Where in its last bar a phrase comes to rest at the latest, in beats from the bar line.

    ``alone``: the last bar is the only one.
    """
    return meter.pulse_beats * _latest_ending(len(meter.pulses), alone=alone)


def _latest_ending(pulses: int, *, alone: bool) -> int:
    return pulses // 2 if pulses > 3 else int(alone)


def _with_ending(start: Placed, meter: Meter, pulses: int, rng: Random, *, alone: bool) -> Placed:
    """The beginning of a bar, then the last note on a strong pulse, held, and a breath."""
    half = _latest_ending(pulses, alone=alone)
    last = half if alone else rng.choice((0, half, half))
    kept = [(at, cell) for at, cell in start if at + cell.pulses <= last]
    room = pulses - last
    pulse = meter.pulse_beats
    length = pulse * (room - 1) if room > 1 else pulse / 2 if pulse == 1 else Fraction(1)
    length = min(length, 2 * pulse)
    return [*kept, (last, Cell("ending", room, ((Fraction(0), length),), (0,) * 6))]


def _notes(bar: Sequence[tuple[int, Cell]], meter: Meter) -> tuple[tuple[Fraction, Fraction], ...]:
    pulse = meter.pulse_beats
    return tuple((at * pulse + onset, length) for at, cell in bar for onset, length in cell.notes)
