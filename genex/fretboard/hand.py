"""What the left hand can do, and what each of its moves costs.

Model
-----
A *state* is one way to take a note: string, fret, finger and hand position, where the position
is the fret of the first finger. One finger a fret: at position p finger f falls on fret
p + f - 1. Two departures are allowed. A finger may draw in by one fret, which puts neighbouring
fingers on equal frets of neighbouring strings; a large hand may stretch the little finger one
fret out where the distance in millimetres permits. Anything else is taken by a shift.

A line costs the sum of its states' costs and of the costs of each change between two states.
All costs are symmetric in time, so a line backwards costs what it costs forwards and the same
notes are fingered alike up and down.

Literature
----------
The optimum path over (string, fret, finger, position): Sayegh 1989, Computer Music Journal
13(3). Horizontal, vertical and hand-position cost terms: Radicioni and Lombardo, ICMC 2005;
Grozman and Norman, KTH 2013. The rank of the terms follows teaching practice [common practice]:

* one finger a fret, no stretch; a tone out of reach is taken by a shift
* a shift costs a fixed part and a part for each fret of travel, more for a leap: two short
  shifts are surer than one that is wider than the hand
* equal frets on neighbouring strings: a roll of the flat first finger is nearly free and grows
  dearer with each finger; of the third and the little one it costs more than two neighbouring
  fingers would
* two neighbouring fingers at one fret: the higher finger takes the thinner string
* one finger never goes to another fret without a shift, and hopping to another string as it
  does so is worse than sliding along one
* open strings are for the lowest positions
* the little finger, then the third, are the weaker ones (decides only between equals)
* a hand that is free to choose stays low, and most of all off the frets over the body
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from genex.fretboard.tunings import Hand, Tuning

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Ints = NDArray[np.int32]

OPEN_POSITIONS = 4
"""An open string may be played while the hand lies in positions 1 to this one."""

IMPOSSIBLE = 10_000_000
"""Cost of what no hand can do: far more than any detour that avoids it."""


class HandMove(Enum):
    """How the left hand comes to a note from the one before."""

    NONE = "none"
    ROLL = "roll"
    SHIFT = "shift"


REACH_SHARE = (0.0, 0.0, 0.45, 0.65, 1.0)
"""Share of the hand's reach that lies between the first finger and finger 0 (open), 1 … 4."""

# One unit is about a hundredth of the trouble of moving the hand by one fret.
SHIFT, SHIFT_A_FRET, SHIFT_ACROSS, SHIFT_OPEN, SHIFT_OPEN_A_FRET = 300, 100, 50, 200, 100
LEAP_FRETS, LEAP_A_FRET = 3, 100
"""A hand that travels further than its own width, the frets from first to little finger, leaps:
each further fret costs this besides."""
HOP = 400
ROLL = (0, 100, 350, 500, 600)
ROLL_OVER_A_STRING = (0, 100, 300, 300, 300)
NEIGHBOUR, FAR_NEIGHBOUR, CROSSED, SUBSTITUTE = 200, 300, 600, 600
DRAWN_IN, STRETCHED, STRAIN_A_MM = 200, 250, 20
WEAK = (0, 0, 0, 10, 30)
OPEN_A_POSITION = 100
LOWER_OF_EQUALS = 1
AWAY_FROM_HOME = 150
AWAY_BETWEEN_BREATHS, SHIFT_IN_A_PHRASE = 40, 500
SHIFT_IN_A_BREATH, SHIFT_IN_A_BREATH_A_FRET = 100, 20
"""In a line that breathes the hand chooses its place for each phrase, near to the wished position:
a note away from there costs little, a shift in a rest little too, one within a phrase so much more
that a roll of any finger is preferred to it. So is one where a position was asked for."""
CLIMB, CLIMB_OVER_THE_BODY, BODY_POSITION = 10, 40, 12


@dataclass(frozen=True)
class States:
    """Every state of a hand on a neck, sorted by pitch, as parallel arrays of length S.

    ``span[midi]`` is the slice of the states of a pitch; ``own`` the cost of each state (S,);
    ``change`` the cost of going from one to another (S, S), symmetric.
    """

    string: Ints
    fret: Ints
    finger: Ints
    position: Ints
    own: Ints
    change: Ints
    span: dict[int, slice]


def move_between(before: tuple[int, int, int, int] | None, after: tuple[int, int, int, int]) -> HandMove:
    """The move from one (string, fret, finger, position) to the next.

    A shift changes the position of the hand or takes one finger to another fret; a roll takes
    one finger to the neighbouring string at the same fret (further away it has to jump).
    """
    if before is None:
        return HandMove.NONE
    string_a, fret_a, finger_a, position_a = before
    string_b, fret_b, finger_b, position_b = after
    same_finger = finger_a == finger_b != 0
    if position_a != position_b or (same_finger and fret_a != fret_b):
        return HandMove.SHIFT
    if same_finger and abs(string_a - string_b) == 1:
        return HandMove.ROLL
    return HandMove.NONE


def climb_cost(position: Any) -> Any:
    """What a freely chosen position costs a note; for a number or an array of them."""
    over = (position > BODY_POSITION) * (position - BODY_POSITION)
    return CLIMB * (position - 1) + CLIMB_OVER_THE_BODY * over


def _list_states(tuning: Tuning, hand: Hand) -> list[tuple[int, int, int, int, int]]:
    """(midi, string, fret, finger, position) of every state, sorted."""
    found = []
    last = tuning.last_fret
    for string, open_midi in enumerate(tuning.open_midi, start=1):
        for position in range(1, min(OPEN_POSITIONS, last) + 1):
            found.append((open_midi, string, 0, 0, position))
        for fret in range(1, last + 1):
            found.append((open_midi + fret, string, fret, 1, fret))
            for finger in (2, 3, 4):
                for drawn_in in (0, 1):
                    position = fret - (finger - 1) + drawn_in
                    if position >= 1:
                        found.append((open_midi + fret, string, fret, finger, position))
            stretched = fret - 4
            if hand is Hand.LARGE and stretched >= 1:
                reach = tuning.fret_mm(fret) - tuning.fret_mm(stretched)
                if reach <= hand.reach_mm:
                    found.append((open_midi + fret, string, fret, 4, stretched))
    return sorted(found)


@lru_cache(maxsize=8)
def states_of(tuning: Tuning, hand: Hand | None) -> States:
    """The states of a hand on a neck with all costs; about 1,000 for six strings and 22 frets."""
    import numpy as np

    hand = hand or tuning.hand
    listed = _list_states(tuning, hand)
    midi, string, fret, finger, position = np.array(listed, dtype=np.int32).T
    edges = np.flatnonzero(np.diff(midi)) + 1
    bounds = [0, *edges.tolist(), len(midi)]
    span = {int(midi[a]): slice(a, b) for a, b in pairwise(bounds)}
    own = _own_cost(tuning, hand, fret, finger, position)
    change = _change_cost(string, fret, finger, position)
    return States(string, fret, finger, position, own, change, span)


def _own_cost(tuning: Tuning, hand: Hand, fret: Ints, finger: Ints, position: Ints) -> Ints:
    """Cost of holding each state (S,)."""
    import numpy as np

    mm = np.array([tuning.fret_mm(n) for n in range(tuning.last_fret + 5)])
    is_open = finger == 0
    off_natural = np.where(is_open, 0, fret - position - (finger - 1))
    extent_mm = np.where(is_open, 0.0, mm[fret] - mm[position])
    strain_mm = np.maximum(0.0, extent_mm - hand.reach_mm * np.array(REACH_SHARE)[finger])
    cost = (
        np.where(off_natural < 0, DRAWN_IN, 0)
        + np.where(off_natural > 0, STRETCHED, 0)
        + np.rint(STRAIN_A_MM * strain_mm).astype(np.int32)
        + np.array(WEAK)[finger]
        + np.where(is_open, OPEN_A_POSITION * (position - 1), 0)
        + LOWER_OF_EQUALS * position
    )
    whole: Ints = cost.astype(np.int32)
    return whole


def _change_cost(string: Any, fret: Any, finger: Any, position: Any) -> Ints:
    """Cost of each change (S, S); row the state before, column the one after."""
    import numpy as np

    def pair(values: Any) -> tuple[Any, Any]:
        return values[:, None], values[None, :]

    small = np.int16  # every ordinary cost fits, and an array of S x S of them fits the cache
    string, fret, finger, position = (x.astype(small) for x in (string, fret, finger, position))
    (string_a, string_b), (fret_a, fret_b) = pair(string), pair(fret)
    finger_a, finger_b = pair(finger)
    stopped = (finger > 0)[:, None] & (finger > 0)[None, :]
    travel = np.abs(np.subtract.outer(position, position))
    fingers = finger_b - finger_a
    shifted = travel > 0
    same_finger, same_fret, same_string = fingers == 0, fret_a == fret_b, string_a == string_b
    across = ~same_string

    # Moving the hand; while an open string sounds it moves at leisure.
    cost = travel * np.where(stopped, small(SHIFT_A_FRET), small(SHIFT_OPEN_A_FRET))
    cost += shifted * np.where(stopped, small(SHIFT), small(SHIFT_OPEN))
    cost[shifted & stopped & across] += SHIFT_ACROSS
    cost += np.maximum(travel - small(LEAP_FRETS), small(0)) * small(LEAP_A_FRET)
    impossible = np.zeros(cost.shape, dtype=bool)

    # One finger on two strings at one fret: rolled over, further over more strings.
    a, b = np.nonzero(stopped & same_finger & same_fret & across)
    over = np.abs(string[a] - string[b]) - 1
    cost[a, b] += (
        np.array(ROLL, small)[finger[a]] + over * np.array(ROLL_OVER_A_STRING, small)[finger[a]]
    )
    # One finger on two frets: only with a shift; along a string it can keep contact.
    moved = stopped & same_finger & ~same_fret
    impossible |= moved & ~shifted
    cost[moved & shifted & across] += HOP
    # Two fingers at one fret on two strings: the higher finger belongs on the thinner string.
    a, b = np.nonzero(stopped & ~same_finger & same_fret & across)
    apart = finger[b] - finger[a]
    natural = (apart > 0) == (string[b] < string[a])
    cost[a, b] += np.where(natural, small(NEIGHBOUR), small(CROSSED))
    cost[a, b] += (np.abs(apart) - 1) * small(FAR_NEIGHBOUR)
    # Another finger on the very same note.
    cost[stopped & ~same_finger & same_fret & same_string] += SUBSTITUTE
    # Fingers do not cross within a position.
    impossible |= stopped & ~shifted & (fingers * (fret_b - fret_a) < 0)
    total: Ints = cost.astype(np.int32)
    total[impossible] = IMPOSSIBLE
    return total
