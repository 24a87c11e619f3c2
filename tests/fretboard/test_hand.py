"""Moves of the left hand, and what they cost."""

from __future__ import annotations

import numpy as np
import pytest

from genex.fretboard import STANDARD, Fingered, Hand, HandMove, move_between
from genex.fretboard.fingering import line_cost
from genex.fretboard.hand import BODY_POSITION, IMPOSSIBLE, climb_cost, states_of

STATES = states_of(STANDARD, Hand.MEDIUM)


def states(string: int, fret: int, finger: int, position: int) -> list[int]:
    """The indices of (string, fret, finger, position) among the states, one for each posture."""
    found = np.flatnonzero(
        (STATES.string == string)
        & (STATES.fret == fret)
        & (STATES.finger == finger)
        & (STATES.position == position)
    )
    assert len(found)
    return [int(index) for index in found]


def cost(before: tuple[int, int, int, int], after: tuple[int, int, int, int]) -> int:
    """What the change costs in the postures in which it costs least, and what these cost."""
    own = STATES.own
    apart = sum(min(int(own[i]) for i in states(*each)) for each in (before, after))
    return (
        min(
            int(STATES.change[a, b]) + int(own[a]) + int(own[b])
            for a in states(*before)
            for b in states(*after)
        )
        - apart
    )


def passing(*notes: tuple[int, int, int, int]) -> int:
    """What a line costs beyond its notes by themselves, in the postures in which it costs least."""
    apart = sum(min(int(STATES.own[i]) for i in states(*note)) for note in notes)
    return line_cost([Fingered(*note) for note in notes], STANDARD) - apart


# (string, fret, finger, position) before and after [common practice]
@pytest.mark.parametrize(
    ("before", "after", "move"),
    [
        (None, (3, 5, 1, 5), HandMove.NONE),
        ((3, 5, 1, 5), (3, 7, 3, 5), HandMove.NONE),
        ((3, 5, 1, 5), (2, 5, 1, 5), HandMove.ROLL),
        ((2, 5, 1, 5), (3, 5, 1, 5), HandMove.ROLL),
        # Over a string a finger jumps; it cannot roll.
        ((4, 5, 1, 5), (2, 5, 1, 5), HandMove.NONE),
        ((3, 5, 1, 5), (3, 7, 1, 7), HandMove.SHIFT),
        ((3, 5, 1, 5), (2, 8, 2, 7), HandMove.SHIFT),
        # One finger on another fret is a shift even where the hand is said to stay.
        ((3, 5, 2, 4), (3, 6, 2, 4), HandMove.SHIFT),
        # Open strings are not fingered, so nothing rolls.
        ((3, 0, 0, 1), (2, 0, 0, 1), HandMove.NONE),
    ],
)
def test_moves(before, after, move):
    assert move_between(before, after) is move


def test_a_line_backwards_costs_what_it_costs_forwards():
    assert (STATES.change == STATES.change.T).all()
    assert (STATES.own >= 0).all()


def test_one_finger_a_fret_within_a_position_is_free():
    fingers = [(3, 5, 1, 5), (3, 6, 2, 5), (3, 7, 3, 5), (3, 8, 4, 5)]
    assert [cost(fingers[0], other) for other in fingers[1:]] == [0, 0, 0]
    assert cost(fingers[0], (2, 8, 4, 5)) == 0


def test_the_rank_of_moves():
    # [common practice] a roll of the first finger is nearly free, of the little one dear
    rolls = [cost((3, 4 + f, f, 5), (2, 4 + f, f, 5)) for f in (1, 2, 3, 4)]
    assert rolls == sorted(rolls) and 0 < rolls[0] < rolls[-1]
    # laid flat in passing a finger costs more than a short shift to the next one, but there and
    # back less than the shift there and back; a third string is dearer still
    to_the_next = cost((3, 8, 1, 8), (3, 11, 3, 9)) + cost((3, 11, 3, 9), (2, 11, 4, 9))
    assert passing((3, 5, 1, 5), (3, 8, 4, 5), (2, 8, 4, 5), (1, 6, 2, 5)) > to_the_next
    there_and_back = ((3, 8, 4, 5), (2, 8, 4, 5), (3, 8, 4, 5))
    assert passing((3, 5, 1, 5), *there_and_back, (3, 5, 1, 5)) < 2 * to_the_next
    # further over the strings is dearer
    assert cost((3, 7, 3, 5), (1, 7, 3, 5)) > rolls[2]
    # two short shifts are surer than one wider than the hand
    near, far = cost((3, 3, 1, 3), (3, 6, 1, 6)), cost((3, 3, 1, 3), (3, 9, 1, 9))
    assert near < far and 2 * near < far
    # sliding along a string is better than hopping to another with the same finger
    assert cost((3, 5, 1, 5), (3, 7, 1, 7)) < cost((3, 5, 1, 5), (2, 7, 1, 7))
    # two neighbouring fingers at one fret: the higher finger takes the thinner string
    natural = cost((3, 7, 3, 5), (2, 7, 4, 5))
    crossed = cost((2, 7, 3, 5), (3, 7, 4, 5))
    assert 0 < natural < crossed
    # third finger: two neighbouring fingers are kinder than a roll
    assert natural < rolls[2]


def test_fingers_do_not_cross_nor_stand_on_two_frets():
    # Finger 3 drawn in lies on the fret of finger 2; finger 2 drawn in on that of finger 1.
    assert cost((3, 6, 3, 5), (2, 6, 2, 5)) < IMPOSSIBLE
    assert cost((3, 6, 2, 5), (2, 5, 2, 5)) >= IMPOSSIBLE
    assert cost((3, 5, 2, 5), (2, 5, 1, 5)) < IMPOSSIBLE
    assert cost((3, 5, 3, 4), (3, 6, 2, 5)) < IMPOSSIBLE, "the hand shifts"


def test_a_hand_that_is_free_stays_low_and_off_the_body():
    costs = [climb_cost(position) for position in range(1, 20)]
    steps = np.diff(costs)
    assert climb_cost(1) == 0
    assert set(steps[: BODY_POSITION - 1]) == {10}
    assert (np.diff(steps[BODY_POSITION - 1 :]) >= 0).all() and steps[BODY_POSITION - 1] == 50
    assert (climb_cost(np.arange(1, 20)) == costs).all()
