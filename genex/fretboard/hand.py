"""What the left hand can do, and what each of its moves costs.

Model
-----
A *state* is one way to take a note: string, fret, finger, place of the hand and its posture. The
place of the hand, its *position*, is the fret that the first finger falls on by itself; the
second finger lies one fret above it, whatever the others do. In the open hand each finger has
its fret: finger f falls on fret p + f - 1. The departures from that are few:

* the little finger draws in beside the third
* the *closed* hand has its second and third finger on one fret, the little finger on that fret
  (a cluster over three strings, as in an open A chord) or the next one; its second finger may
  come down beside the first
* the first finger reaches back one fret while the hand stays, where the hand spans all five frets
* a large hand stretches the little finger one fret out where the millimetres permit
* the third or the little finger comes down *flat* on two strings, to roll from one to the other

Anything else is taken by a shift. A line costs the sum of its states' costs and of the costs of
each change between two states. All costs are symmetric in time, so a line backwards costs what
it costs forwards.

Literature
----------
The optimum path over (string, fret, finger, position): Sayegh 1989, Computer Music Journal
13(3). Horizontal, vertical and hand-position cost terms: Radicioni and Lombardo, ICMC 2005;
Grozman and Norman, KTH 2013. The rank of the terms follows teaching practice [common practice]:

* one finger a fret, no stretch; a tone out of reach is taken by a shift
* a shift costs a fixed part and a part for each fret of travel, more for a leap: two short
  shifts are surer than one that is wider than the hand
* a finger that stays on its string as the hand shifts guides it; but one finger on two
  neighbouring frets in a row sounds like a slide that nobody asked for
* equal frets on neighbouring strings: a roll of the first finger is nearly free, one of the second
  costs. The third and the little finger have to be laid flat for it and raised again: to lie on two
  strings there and back is less work than a shift there and back, but to be laid down in passing is
  more than a short shift to separate fingers. Over a third string they would have to be laid anew
* two neighbouring fingers at one fret: the higher finger takes the thinner string
* opening and closing the hand in one place costs as much as a neighbouring finger does; while the
  hand travels it costs nothing
* a reach back costs little by itself; what makes it hard is the finger before or after it, by how
  far the two must spread: least between the first two, most between the second and the third, and
  more with the higher finger on the thicker string
* a string that is skipped costs, above all together with a stretch
* one finger never goes to another fret without a shift, and hopping to another string as it
  does so is worse than sliding along one
* open strings are for the lowest positions
* the little finger, then the third, are the weaker ones (decides only between equals)
* a hand that is free to choose stays low, and most of all off the frets over the body

How far two fingers spread is kept in millimetres. What is wider than the hand's share for these
fingers is out of its reach: such a tone is taken by a shift, never by a stretch.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from genex.fretboard.own_shape import Taste
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


OPEN_HAND, CLOSED_HAND, FLAT_UP, FLAT_DOWN = 0, 1, 2, 3
"""Postures. In the last two the hand is open and the finger lies on the next thinner string, or on
the next thicker one, besides."""
REACHES = {
    # finger: frets above the position, in the open hand, then in the closed one
    1: ((0, -1), (0, -1)),
    2: ((1,), (0, 1)),
    3: ((2,), (1,)),
    4: ((2, 3), (1, 2)),
}
REACHED_BACK, STRETCHED_OUT = -1, 4
LAYS_FLAT = {3: 2, 4: 3}
"""Fingers that have to be laid flat to roll, and their frets above the position."""

REACH_SHARE = (0.0, 0.0, 0.45, 0.7, 1.0)
"""Share of the hand's reach that lies between the place of the first finger and finger 0 (open), 1 … 4.

Two frets of four take 0.69 of the three frets' width anywhere on a neck, one takes 0.35: a hand that
reaches four frets holds one finger a fret."""
SPREAD_SHARE = {(1, 2): 0.6, (1, 3): 0.8, (1, 4): 1.0, (2, 3): 0.4, (2, 4): 0.65, (3, 4): 0.45}
"""Share of the hand's reach that lies between two fingers that follow each other without a shift."""
STAY_SHARE = 1.15
"""All that a hand takes between two shifts lies within this share of its reach. It is more than what
two fingers hold at once, because the hand turns a little about the resting thumb."""

# One unit is about a hundredth of the trouble of moving the hand by one fret.
SHIFT, SHIFT_A_FRET, SHIFT_ACROSS, SHIFT_OPEN, SHIFT_OPEN_A_FRET = 350, 100, 50, 200, 100
HOP_FRETS, THUMB_A_FRET, LEAP_FRETS, LEAP_A_FRET = 2, 100, 4, 150
"""Two frets are a hop about the resting thumb. A hand that goes further takes the thumb along:
each further fret costs this besides. Further than its own width it leaps, and each fret costs
that again."""
GUIDED, SAME_FINGER_NEXT_FRET, SWAPPED = -80, 250, 150
ROLL_DISLIKED, SHIFT_DISLIKED = 250, 250
"""What each costs besides for a player who wishes for fewer; a roll of the first finger a fifth."""
HOP = 400
ROLL = (0, 60, 300, 900, 900)
"""From a finger that stands on its tip; one that lies flat has ``FLAT_ROLL``."""
LAID_FLAT, FLAT_ROLL, FLAT_AND_ON = 250, 50, 200
"""Each note of a finger that lies on two strings, and each roll between these; and where the line goes
on to a third string, so that the finger has to be raised in passing. 850 there and back and 750 in
passing, beside 1,140 and 570 for a shift by one fret to another finger."""
ROLL_OVER_A_STRING = (0, 100, 300, 300, 300)
NEIGHBOUR, FAR_NEIGHBOUR, CROSSED, SUBSTITUTE = 120, 300, 600, 600
DRAWN_IN, CLOSED, BESIDE_FIRST, OPENED_OR_CLOSED = 60, 20, 200, 110
REACH_BACK, RELOCATED, SHIFT_FROM_REACH, STRETCHED = 60, 150, 250, 250
OUT_OF_REACH, OUT_OF_REACH_A_MM = 10_000, 20
"""For fingers further apart than the hand's share for them: more than any shifts that avoid it, so
that it happens only where a teacher's own fingering asks for it."""
SPREAD = {(1, 2): 150, (1, 3): 270, (1, 4): 300, (2, 3): 500, (2, 4): 400, (3, 4): 300}
"""For each fret that two fingers in a row lie further apart than they do in the open hand."""
SPREAD_TURNED = 80
"""For each string, and each finger between the two, where the higher one is on the thicker string:
there the shorter finger has the longer way."""
NARROWED = 15
"""For each fret that two fingers in a row lie nearer together than they do in the open hand."""
WEAK = (0, 0, 0, 10, 30)
OTHER_FINGER, OTHER_PLACE = 100, 300
"""A note that was just taken by another finger, or elsewhere: what is learned once is easier."""
OPEN_A_POSITION = 100
LOWER_OF_EQUALS = 1
AWAY_FROM_HOME = 60
AWAY_BETWEEN_BREATHS, SHIFT_IN_A_PHRASE = 40, 200
SHIFT_IN_A_BREATH, SHIFT_IN_A_BREATH_A_FRET = 100, 20
"""In a line that breathes the hand chooses its place for each phrase, near to the wished position:
a note away from there costs little, a shift in a rest little too, one within a phrase the more.
So does one where a position was asked for."""
SHIFT_ALONG_A_STRING = 600
"""Besides, where a line goes up one string: each note further is a shift, if the hand lets it."""
ROLL_INTO_A_SLIDE = 2000
"""A slide comes along its own string: no finger can come to it from another at that fret."""
SKIPPED_STRING = 150
CLIMB, CLIMB_OVER_THE_BODY, BODY_POSITION = 10, 40, 12


@dataclass(frozen=True)
class States:
    """Every state of a hand on a neck, sorted by pitch, as parallel arrays of length S.

    ``posture`` is ``OPEN_HAND``, ``CLOSED_HAND``, ``FLAT_UP`` or ``FLAT_DOWN``. ``span[midi]`` is the
    slice of the states of a pitch; ``own`` the cost of each state (S,); ``change`` the cost of going
    from one to another (S, S), symmetric.
    """

    string: Ints
    fret: Ints
    finger: Ints
    position: Ints
    posture: Ints
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


def _reaches(tuning: Tuning, hand: Hand, fret: int) -> Iterator[tuple[int, int, int]]:
    """(finger, position, posture) of every way to stop a fret."""
    for finger, by_posture in REACHES.items():
        for posture, reaches in enumerate(by_posture):
            for reach in reaches:
                if fret - reach >= 1:
                    yield finger, fret - reach, posture
    for finger, reach in LAYS_FLAT.items():
        if fret - reach >= 1:
            yield finger, fret - reach, FLAT_UP
            yield finger, fret - reach, FLAT_DOWN
    position = fret - STRETCHED_OUT
    if hand is Hand.LARGE and position >= 1:
        lowest = position - (_too_wide_mm(tuning, hand, position - 1, position + 3) <= 0)
        extent_mm = tuning.fret_mm(fret) - tuning.fret_mm(position)
        if extent_mm <= hand.reach_mm and _too_wide_mm(tuning, hand, lowest, fret) <= 0:
            yield 4, position, OPEN_HAND


def _too_wide_mm(tuning: Tuning, hand: Hand, lowest: int, highest: int) -> float:
    """By how much all that a hand takes without a shift is too wide for it; 0 or less if it is not."""
    extent_mm = tuning.fret_mm(min(highest, tuning.last_fret)) - tuning.fret_mm(lowest)
    return extent_mm - STAY_SHARE * hand.reach_mm


def _list_states(tuning: Tuning, hand: Hand) -> list[tuple[int, int, int, int, int, int]]:
    """(midi, string, fret, finger, position, posture) of every state, sorted."""
    found = []
    last = tuning.last_fret
    for string, open_midi in enumerate(tuning.open_midi, start=1):
        for position in range(1, min(OPEN_POSITIONS, last) + 1):
            found.append((open_midi, string, 0, 0, position, OPEN_HAND))
        barred = {FLAT_UP: string == 1, FLAT_DOWN: string == len(tuning.open_midi)}
        for fret in range(1, last + 1):
            for reached in _reaches(tuning, hand, fret):
                if not barred.get(reached[2]):
                    found.append((open_midi + fret, string, fret, *reached))
    return sorted(found)


def states_of(tuning: Tuning, hand: Hand | None) -> States:
    """The states of a hand on a neck with all costs; kept for necks that come again."""
    return _states_of(replace(tuning, own=()) if tuning.own else tuning, hand or tuning.hand)


@lru_cache(maxsize=8)
def _states_of(tuning: Tuning, hand: Hand) -> States:
    """The states of a hand on a neck with all costs; about 1,700 for six strings and 22 frets."""
    import numpy as np

    listed = _list_states(tuning, hand)
    midi, string, fret, finger, position, posture = np.array(listed, dtype=np.int32).T
    edges = np.flatnonzero(np.diff(midi)) + 1
    bounds = [0, *edges.tolist(), len(midi)]
    span = {int(midi[a]): slice(a, b) for a, b in pairwise(bounds)}
    fret_mm = np.array([tuning.fret_mm(n) for n in range(tuning.last_fret + 1)])
    own = _own_cost(fret_mm, hand, fret, finger, position, posture)
    change = _change_cost(string, fret, finger, position)
    _roll_flat(change, string, fret, finger, posture)
    change += _dislikes(tuning.taste, string, fret, finger, position)
    for place in np.flatnonzero(np.bincount(position)):
        here = np.flatnonzero(position == place)
        change[np.ix_(here, here)] += _change_in_place(
            fret_mm, hand, *(column[here] for column in (string, fret, finger, position, posture))
        )
    return States(string, fret, finger, position, posture, own, change, span)


def _own_cost(fret_mm: Any, hand: Hand, fret: Ints, finger: Ints, position: Ints, posture: Ints) -> Ints:
    """Cost of holding each state (S,)."""
    import numpy as np

    reach = fret - position
    # A neck may end below the hand's own frets; a finger that draws in or reaches back is at ease.
    extent_mm = np.where(reach > 0, fret_mm[fret] - fret_mm[np.minimum(position, fret)], 0.0)
    strain_mm = np.maximum(0.0, extent_mm - hand.reach_mm * np.array(REACH_SHARE)[finger])
    # Whatever else the hand takes while it stays: all of that has to be within its reach.
    highest = np.minimum(position + 3, len(fret_mm) - 1)
    stay_mm = fret_mm[highest] - fret_mm[fret] - STAY_SHARE * hand.reach_mm
    back = (finger == 1) & (reach == REACHED_BACK)
    strain_mm = np.where(back, np.maximum(strain_mm, stay_mm), strain_mm)
    stopped = finger > 0
    cost = (
        np.where((finger == 4) & (reach == 2) & (posture == OPEN_HAND), DRAWN_IN, 0)
        + np.where(posture == CLOSED_HAND, CLOSED, 0)
        + np.where(posture >= FLAT_UP, LAID_FLAT, 0)
        + np.where((finger == 2) & (reach == 0), BESIDE_FIRST, 0)
        + np.where(stopped & (reach == REACHED_BACK), REACH_BACK, 0)
        + np.where(stopped & (reach == STRETCHED_OUT), STRETCHED, 0)
        + np.where(stopped, _out_of_reach(strain_mm), 0)
        + np.array(WEAK)[finger]
        + np.where(stopped, 0, OPEN_A_POSITION * (position - 1))
        + LOWER_OF_EQUALS * position
    )
    whole: Ints = cost.astype(np.int32)
    return whole


def _out_of_reach(strain_mm: Any) -> Any:
    """What it costs to spread so many millimetres too far."""
    import numpy as np

    return np.where(strain_mm > 0, OUT_OF_REACH + np.rint(OUT_OF_REACH_A_MM * strain_mm), 0).astype(
        np.int32
    )


def _change_cost(string: Ints, fret: Ints, finger: Ints, position: Ints) -> Ints:
    """Cost of each change (S, S) as far as it depends on the way and the fingers; what it costs
    beside that within a position is added by ``_change_in_place``.

    States share few ways (position, string) and few touches (string, fret, finger): their costs
    are computed once for each pair of these and then spread over all pairs of states.
    """
    import numpy as np

    small = np.int16  # every ordinary cost fits, and an array of S x S of them fits the cache
    way, ways = _numbered(position, string, (finger == 0).astype(np.int32))
    touch, touches = _numbered(string, fret, finger)
    cost = _way_cost(*ways).astype(small)[way][:, way]
    cost += _touch_cost(*touches).astype(small)[touch][:, touch]
    # A finger that stays on its string and in its place in the hand guides the shift.
    in_hand, _ = _numbered(string, finger, fret - position + 1)
    for place in np.flatnonzero(np.bincount(in_hand[finger > 0])):
        a = np.flatnonzero(in_hand == place)
        travel = np.abs(np.subtract.outer(position[a], position[a]))
        cost[np.ix_(a, a)] += ((travel > 1) & (travel <= HOP_FRETS)) * small(GUIDED)
    # The first finger that has reached back is further away than the hand that goes up from it.
    back = np.flatnonzero((finger == 1) & (fret < position))
    further = np.greater.outer(position, position[back]) & (finger > 0)[:, None]
    cost[:, back] += further * small(SHIFT_FROM_REACH)
    cost[back, :] += further.T * small(SHIFT_FROM_REACH)
    whole: Ints = cost.astype(np.int32)
    return whole


def _roll_flat(change: Ints, string: Ints, fret: Ints, finger: Ints, posture: Ints) -> None:
    """Put in the cost of the rolls of fingers that lie flat on two strings."""
    import numpy as np

    low, high = np.flatnonzero(posture == FLAT_UP), np.flatnonzero(posture == FLAT_DOWN)
    stopped = (finger > 0)[:, None]
    for lying, beyond in (
        (low, np.greater.outer(string, string[low])),
        (high, np.less.outer(string, string[high])),
    ):
        on = (beyond & stopped) * np.int32(FLAT_AND_ON)
        change[:, lying] += on
        change[lying, :] += on.T
    for flat in LAYS_FLAT:
        a = np.flatnonzero((posture == FLAT_UP) & (finger == flat))
        b = np.flatnonzero((posture == FLAT_DOWN) & (finger == flat))
        row, column = np.nonzero(
            np.equal.outer(fret[a], fret[b]) & (np.subtract.outer(string[a], string[b]) == 1)
        )
        change[a[row], b[column]] += FLAT_ROLL - ROLL[flat]
        change[b[column], a[row]] += FLAT_ROLL - ROLL[flat]


def _dislikes(taste: Taste, string: Ints, fret: Ints, finger: Ints, position: Ints) -> Any:
    """What changes cost a player besides by taste, (S, S) or 0."""
    import numpy as np

    if taste.fewer == "shifts":
        return SHIFT_DISLIKED * np.not_equal.outer(position, position)
    if taste.fewer == "rolls":
        one = np.equal.outer(finger, finger) & np.equal.outer(fret, fret) & (finger > 0)[:, None]
        price = np.where(finger == 1, ROLL_DISLIKED // 5, ROLL_DISLIKED)
        return one * np.not_equal.outer(string, string) * price[:, None]
    return 0


def _numbered(*columns: Ints) -> tuple[Any, tuple[Ints, ...]]:
    """For each state the number of its combination of values, and these combinations."""
    import numpy as np

    code = columns[0]
    for column in columns[1:]:
        code = code * 64 + column
    _, first, number = np.unique(code, return_index=True, return_inverse=True)
    return number, tuple(column[first] for column in columns)


def _way_cost(position: Ints, string: Ints, is_open: Ints) -> Ints:
    """What it costs the hand to go from one position to another, for each pair of ways."""
    import numpy as np

    travel = np.abs(np.subtract.outer(position, position))
    leap = THUMB_A_FRET * np.maximum(0, travel - HOP_FRETS)
    leap += LEAP_A_FRET * np.maximum(0, travel - LEAP_FRETS)
    moved = travel > 0
    over = np.abs(np.subtract.outer(string, string))
    across = over > 0
    stopped = moved * (SHIFT + SHIFT_ACROSS * across) + SHIFT_A_FRET * travel + leap
    # While an open string sounds the hand moves at leisure.
    leisure = moved * SHIFT_OPEN + SHIFT_OPEN_A_FRET * travel + leap
    way = np.where(np.logical_or.outer(is_open, is_open), leisure, stopped)
    cost: Ints = way + SKIPPED_STRING * np.maximum(0, over - 1)
    return cost


def _touch_cost(string: Ints, fret: Ints, finger: Ints) -> Any:
    """What it costs the fingers to go from one place to another, for each pair of touches."""
    import numpy as np

    both = np.logical_and.outer(finger > 0, finger > 0)
    frets = np.abs(np.subtract.outer(fret, fret))
    cost = np.zeros(both.shape, np.int16)
    # One fret, or one finger: a part of all pairs.
    a, b = np.nonzero(both & (frets == 0))
    apart, over = finger[a] - finger[b], np.abs(string[a] - string[b])
    # One finger on two strings at one fret: rolled over, further over more strings.
    rolled = np.array(ROLL)[finger[a]] + (over - 1) * np.array(ROLL_OVER_A_STRING)[finger[a]]
    # Two fingers at one fret on two strings: the higher finger belongs on the thinner string.
    natural = apart * (string[a] - string[b]) < 0
    beside = np.where(natural, NEIGHBOUR, CROSSED) + (np.abs(apart) - 1) * FAR_NEIGHBOUR
    # Another finger on the very same note.
    again = np.where(apart == 0, 0, SUBSTITUTE)
    cost[a, b] = np.where(over == 0, again, np.where(apart == 0, rolled, beside))
    # One finger on two frets (with a shift): along a string it can keep contact.
    a, b = np.nonzero(both & np.equal.outer(finger, finger) & (frets > 0))
    along = np.where(frets[a, b] == 1, SAME_FINGER_NEXT_FRET, 0)
    cost[a, b] = np.where(string[a] == string[b], along, HOP)
    # Two fingers change sides on neighbouring frets: the hand jumps for a semitone.
    a, b = np.nonzero(both & (frets == 1))
    cost[a, b] += np.where((finger[a] - finger[b]) * (fret[a] - fret[b]) < 0, SWAPPED, 0)
    return cost


def _change_in_place(
    fret_mm: Any,
    hand: Hand,
    string: Ints,
    fret: Ints,
    finger: Ints,
    position: Ints,
    posture: Ints,
) -> Ints:
    """What a change costs beside ``_change_cost`` where the hand stays; for states of one position."""
    import numpy as np

    both = np.logical_and.outer(finger > 0, finger > 0)
    fingers = np.subtract.outer(finger, finger)
    frets = np.subtract.outer(fret, fret)
    closed = posture == CLOSED_HAND
    cost = np.where(both & np.not_equal.outer(closed, closed), OPENED_OR_CLOSED, 0)
    spread, share = np.zeros((5, 5), np.int32), np.full((5, 5), np.inf)
    for (a, b), cost_a_fret in SPREAD.items():
        spread[a, b] = spread[b, a] = cost_a_fret
        share[a, b] = share[b, a] = SPREAD_SHARE[a, b]
    wider = np.maximum(0, np.abs(frets) - np.abs(fingers)) * both
    narrower = np.where(frets == 0, 0, np.maximum(0, np.abs(fingers) - np.abs(frets)))
    cost += NARROWED * narrower * both
    strings = np.subtract.outer(string, string)
    turned = np.where(strings * fingers > 0, np.abs(strings) * (np.abs(fingers) - 1), 0)
    cost += wider * (spread[finger[:, None], finger[None, :]] + SPREAD_TURNED * turned)
    extent_mm = np.abs(np.subtract.outer(fret_mm[fret], fret_mm[fret]))
    strain_mm = np.maximum(0.0, extent_mm - hand.reach_mm * share[finger[:, None], finger[None, :]])
    cost += np.where(both, _out_of_reach(strain_mm), 0)
    # A finger at its usual distance from one that reaches back: the hand itself has gone back.
    back = (finger == 1) & (fret < position)
    settled = np.abs(frets) == np.abs(fingers)
    cost += np.where(both & np.not_equal.outer(back, back) & settled, RELOCATED, 0)
    # Fingers do not cross within a position, and none is on two frets.
    crossed = (fingers * frets < 0) | ((fingers == 0) & (frets != 0))
    cost += np.where(both & crossed, IMPOSSIBLE, 0)
    whole: Ints = cost.astype(np.int32)
    return whole
