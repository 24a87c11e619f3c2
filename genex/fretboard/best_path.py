"""The cheapest path through the hand's states: what a search asks of notes and of the ways between.

Viterbi from both ends towards the middle; see ``fingering.py``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Protocol

from genex.fretboard.hand import (
    AWAY_BETWEEN_BREATHS,
    AWAY_FROM_HOME,
    IMPOSSIBLE,
    OPEN_POSITIONS,
    OTHER_FINGER,
    OTHER_PLACE,
    ROLL_INTO_A_SLIDE,
    SHIFT_IN_A_BREATH,
    SHIFT_IN_A_BREATH_A_FRET,
    States,
    climb_cost,
)
from genex.fretboard.wishes import Wishes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Costs = NDArray[np.int64]


class Taken(Protocol):
    """How a note is taken."""

    @property
    def string(self) -> int: ...
    @property
    def fret(self) -> int: ...
    @property
    def finger(self) -> int: ...


class Search:
    """Costs of single notes under a search's conditions, kept for notes that come again."""

    def __init__(self, states: States, wishes: Wishes, slack: int) -> None:
        self._states = states
        self._wishes = wishes
        self._slack = slack
        self._away_a_fret = AWAY_BETWEEN_BREATHS if wishes.breaths else AWAY_FROM_HOME
        self._known: dict[object, Costs] = {}

    def own(
        self,
        midi: int,
        choice: frozenset[tuple[int, int]] | None,
        held: tuple[int, int | None] | None = None,
        wished: int | None = None,
    ) -> Costs:
        """Cost of each state of a pitch; IMPOSSIBLE and more for those ruled out."""
        key = (midi, choice)
        if key not in self._known:
            self._known[key] = self._compute(midi, choice)
        if held is None and wished is None:
            return self._known[key]
        further = (midi, choice, held, wished)
        if further not in self._known:
            self._known[further] = self._bound(self._known[key], midi, held, wished)
        return self._known[further]

    def near(self, midi: int, cost: Costs, so_far: Taken | None) -> Costs:
        """The costs of a note that had better stay where it is, and with its finger."""
        if so_far is None:
            return cost
        span = self._states.span[midi]
        moved = (self._states.string[span] != so_far.string) | (self._states.fret[span] != so_far.fret)
        other = self._states.finger[span] != so_far.finger
        total: Costs = cost + OTHER_PLACE * moved + OTHER_FINGER * other
        return total

    def _bound(
        self, cost: Costs, midi: int, held: tuple[int, int | None] | None, wished: int | None
    ) -> Costs:
        """The costs of a note for which a finger is settled, or would be welcome."""
        span = self._states.span[midi]
        finger, position = self._states.finger[span], self._states.position[span]
        bound = cost.copy()
        if held is not None:
            other = finger != held[0]
            if held[1] is not None:
                other |= position != held[1]
            bound[other] += IMPOSSIBLE
        if wished is not None:
            bound[finger != wished] += OTHER_FINGER
        return bound

    def _compute(self, midi: int, choice: frozenset[tuple[int, int]] | None) -> Costs:
        import numpy as np

        states, wishes = self._states, self._wishes
        span = states.span[midi]
        string, fret = states.string[span], states.fret[span]
        cost = states.own[span].astype(np.int64)
        ruled_out = np.zeros(len(cost), dtype=bool)
        if wishes.position is not None:
            if wishes.between is None:
                away = np.abs(states.position[span] - wishes.position)
                cost += self._away_a_fret * away
                ruled_out |= away > self._slack
            is_open = states.finger[span] == 0
            ruled_out |= is_open & (wishes.position > OPEN_POSITIONS)
            # The frets stay the position's too, however far a finger could reach from beside it.
            above = fret - wishes.position
            ruled_out |= ~is_open & ((above < -self._slack) | (above > 3 + self._slack))
        if wishes.position is None and wishes.between is None and choice is None:
            cost += climb_cost(states.position[span])
        if wishes.between is not None:
            lowest, highest = wishes.between
            at = states.position[span]
            ruled_out |= (at < lowest) | (at > highest)
        if wishes.strings is not None:
            ruled_out |= ~np.isin(string, list(wishes.strings))
        if wishes.closed:
            ruled_out |= fret == 0
        if choice is not None:
            allowed = np.zeros(len(cost), dtype=bool)
            for place in choice:
                allowed |= (string == place[0]) & (fret == place[1])
            ruled_out |= ~allowed
        cost[ruled_out] += IMPOSSIBLE
        return cost


@dataclass(frozen=True)
class Ways:
    """What the changes of a line cost besides. ``dearer`` is added to what a shift costs.

    ``known`` keeps the costs between two pitches: a long line has few pairs of them, many times.
    """

    states: States
    rests: frozenset[int]
    slides: frozenset[int]
    dearer: int
    known: dict[tuple[int, int, bool, bool], Any] = field(default_factory=dict)

    def backwards(self, last: int) -> Ways:
        """The same for the line from its last note, of this index, to its first: what lies before
        a note lies before its neighbour then."""
        rests, slides = (
            frozenset(last - index + 1 for index in indices) for indices in (self.rests, self.slides)
        )
        return replace(self, rests=rests, slides=slides)

    def cost(self, index: int, here: slice, before: slice) -> Any:
        """Of coming to the states of a note from those of the note before."""
        key = here.start, before.start, index in self.rests, index in self.slides
        if key not in self.known:
            self.known[key] = self._compute(here, before, rested=key[2], slides=key[3])
        return self.known[key]

    def _compute(self, here: slice, before: slice, *, rested: bool, slides: bool) -> Any:
        states = self.states
        if not rested and not self.dearer and not slides:
            return states.change[here, before]
        travel = abs(states.position[here][:, None] - states.position[before][None, :])
        if rested:
            return SHIFT_IN_A_BREATH * (travel > 0) + SHIFT_IN_A_BREATH_A_FRET * travel
        cost = states.change[here, before] + self.dearer * (travel > 0)
        if slides:
            same_finger = states.finger[here][:, None] == states.finger[before][None, :]
            across = states.string[here][:, None] != states.string[before][None, :]
            cost = cost + ROLL_INTO_A_SLIDE * (same_finger & across)
        return cost


def best_path(spans: Sequence[slice], own: Sequence[Costs], ways: Ways) -> list[int]:
    """Indices of the states of the cheapest path."""
    middle = len(spans) // 2
    left, left_from = _sweep(spans[: middle + 1], own[: middle + 1], ways)
    back = ways.backwards(len(spans) - 1)
    right, right_from = _sweep(spans[middle:][::-1], own[middle:][::-1], back)
    # The middle note's own cost is in both halves.
    total = left + right - own[middle]
    start = int(total.argmin())
    down = _walk(left_from, start)[::-1]
    up = _walk(right_from, start)
    local = down + up[1:]
    return [span.start + i for span, i in zip(spans, local, strict=True)]


def _sweep(
    spans: Sequence[slice], own: Sequence[Costs], ways: Ways
) -> tuple[Costs, list[NDArray[np.intp]]]:
    """Cheapest cost of reaching each state of the last note, and for each note but the first the
    state before that it was reached from."""
    best = own[0]
    came_from: list[NDArray[np.intp]] = []
    for index in range(1, len(spans)):
        # Row: state of this note; column: state of the one before (the costs are symmetric).
        so_far = ways.cost(index, spans[index], spans[index - 1]) + best
        chosen = so_far.argmin(axis=1)
        best = so_far.min(axis=1) + own[index]
        came_from.append(chosen)
    return best, came_from


def _walk(came_from: Sequence[NDArray[np.intp]], start: int) -> list[int]:
    """State indices from the end of a sweep back to its beginning."""
    walked = [start]
    for chosen in reversed(came_from):
        walked.append(int(chosen[walked[-1]]))
    return walked
