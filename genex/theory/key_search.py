"""The cheapest way of a chart through keys: an exact search by dynamic programming.

A state is a key, major or minor, or the home key in its mode. The cost of a reading is what its
chords cost in their keys (``functions.py``) and what it costs to go from key to key. Costs are
whole numbers, hundredths of a step, so that equal readings compare equal.

Costs of the way [common practice]: a key is cheap to enter with its ii-V, dearer with its V alone or
its tonic, dearest anywhere else; near keys are cheaper than far ones, and a new section makes it
easier. A V is not torn from its ii, nor a tonic from the V that led to it. Being away costs a
little for every chord, so that a reading comes home as soon as it can. A closed chart begins at
home each time round, unless it pays for the entrance.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from operator import add
from typing import NamedTuple

from genex.theory.functions import FIFTH_DOWN, SAME_NOTES, Sight, is_dark, role_in
from genex.theory.key import Key, Mode, simplest_key
from genex.theory.places import Event, is_blues, sight_of

AWAY = 6
NEW_KEY, PARALLEL_OR_RELATIVE, A_FIFTH_FURTHER = 100, 80, 5
WITH_DOMINANT, WITH_TONIC, ANYWHERE, NEW_SECTION = 20, 20, 90, -40
VAMP_AWAY = 50
"""What it costs that a ii-V is heard as i and IV7 of a key passed through."""
HOME_TONIC = 15
"""What it costs to hear the tonic of the home key as another key's chord."""
DOMINANT_TONIC = 80
"""What it costs that a key passed through has a dominant seventh for its tonic."""
TORN_FROM_TWO, TORN_FROM_FIVE, TORN_FROM_TONIC = 80, 50, 40
BACK_HOME = 10


class State(NamedTuple):
    """A key by sound."""

    tonic: int
    mode: Mode


def state_of(key: Key) -> State:
    """The state of a key."""
    return State(key.tonic.pitch_class, key.mode)


_PLAIN = tuple(State(tonic, mode) for mode in ("major", "minor") for tonic in range(12))


_TONICS = {False: ("major", "major seventh"), True: ("minor", "minor seventh", "minor sixth")}
"""Whether the home key is minor -> kinds of chords that are its tonic beyond doubt."""


class Costs:
    """What a chart's events cost in each key, worked out once for all homes that are tried."""

    def __init__(self, events: Sequence[Event]) -> None:
        self.events = tuple(events)
        # Long charts repeat themselves: what looks the same is weighed once.
        first: dict[object, Event] = {}
        looks = [_look(event) for event in events]
        for event, look in zip(events, looks, strict=True):
            first.setdefault(look, event)
        place = {look: index for index, look in enumerate(first)}
        self._unlike = tuple(first.values())
        self._place = [place[look] for look in looks]
        self._sights: dict[int, list[Sight]] = {}
        self._columns: dict[tuple[State, bool], tuple[int, ...]] = {}

    def column(self, state: State, *, blues: bool = False) -> tuple[int, ...]:
        """The cost of each event in a key, in hundredths; ``blues`` where it is that of a blues."""
        if (state, blues) not in self._columns:
            if state.tonic not in self._sights:
                self._sights[state.tonic] = [sight_of(event, state.tonic) for event in self._unlike]
            weighed = [
                round(100 * role_in(state.mode, sight._replace(blues=True) if blues else sight).cost)
                for sight in self._sights[state.tonic]
            ]
            self._columns[state, blues] = tuple(map(weighed.__getitem__, self._place))
        return self._columns[state, blues]


def _look(event: Event) -> tuple[object, ...]:
    """All of an event that a ``Sight`` shows."""
    return (
        event.root, event.kind, event.notes, event.step, event.to_kind, event.to_two, event.is_two,
        event.five_of, event.altered, event.bass, event.around,
    )  # fmt: skip


class Search:
    """Costs of a chart's events in every key, and the cheapest way.

    ``home`` is the key of the piece; an event whose section has a key of its own is at home there.
    """

    def __init__(self, events: Sequence[Event], home: Key, *, closed: bool = True,
                 costs: Costs | None = None) -> None:  # fmt: skip
        self.events = tuple(events)
        self._costs = costs or Costs(events)
        self.closed = closed
        self.homes = tuple(state_of(event.key or home) for event in events)
        special = [
            state for state in dict.fromkeys((state_of(home), *self.homes)) if state not in _PLAIN
        ]
        doubled = {State(tonic, SAME_NOTES.get(mode, mode)) for tonic, mode in special}
        doubled -= set(self.homes)
        self.states = (*(state for state in _PLAIN if state not in doubled), *special)
        self._index = {state: index for index, state in enumerate(self.states)}
        self._blues = {
            state: state.mode in ("major", "ionian", "mixolydian") and is_blues(events, state.tonic)
            for state in dict.fromkeys(self.homes)
        }

    def blues_in(self, index: int, state: State) -> bool:
        """Whether a key is the home of an event, and that of a blues."""
        return state == self.homes[index] and self._blues[state]

    @cached_property
    def in_key(self) -> tuple[tuple[int, ...], ...]:
        """For each event its cost in each state, being away from home included."""
        away = []
        for event, home in zip(self.events, self.homes, strict=True):
            is_tonic = event.root == home.tonic and event.kind in _TONICS[_is_minor(home)]
            away.append(AWAY + HOME_TONIC if is_tonic else AWAY)
        sevenths: dict[int, list[int]] = {tonic: [] for tonic in range(12)}
        for index, event in enumerate(self.events):
            if event.kind == "dominant":
                sevenths[event.root].append(index)
        vamps = [index for index, event in enumerate(self.events) if event.five_of]
        columns = []
        for state in self.states:
            column = list(map(add, self._costs.column(state), away))
            for index in sevenths[state.tonic]:
                column[index] += DOMINANT_TONIC
            for index in vamps:
                if _is_minor(state) and (self.events[index].root - state.tonic) % 12 == 5:
                    column[index] += VAMP_AWAY
            if state in self._blues:
                own = self._costs.column(state, blues=self._blues[state])
                column = [
                    at_home if home == state else cost
                    for at_home, home, cost in zip(own, self.homes, column, strict=True)
                ]
            columns.append(column)
        return tuple(zip(*columns, strict=True))

    def starts_at(self, index: int) -> bool:
        """Whether the reading begins at home anew: the chart's beginning, or another home."""
        return index == 0 or self.homes[index] != self.homes[index - 1]

    @cached_property
    def _distances(self) -> dict[State, tuple[int, ...]]:
        """For each home what it costs to go to each state anywhere."""
        return {
            home: tuple(_distance(home, state) + ANYWHERE for state in self.states)
            for home in dict.fromkeys(self.homes)
        }

    @cached_property
    def entering(self) -> tuple[tuple[int, ...], ...]:
        """For each event what it costs to come into each state with it, from another key."""
        found: dict[tuple[object, ...], tuple[int, ...]] = {}
        rows = []
        for index, event in enumerate(self.events):
            alike = (
                event.root, event.kind, event.is_two, event.step == FIFTH_DOWN and event.to_kind,
                event.starts, self.homes[index], self.starts_at(index),
            )  # fmt: skip
            row = found.get(alike)
            if row is None:
                row = found[alike] = self._entering(index)
            rows.append(row)
        return tuple(rows)

    def _entering(self, index: int) -> tuple[int, ...]:
        event, home = self.events[index], self.homes[index]
        costs = list(self._distances[home])
        is_dark_kind = is_dark(event.kind)
        for mode in ("major", "minor"):
            is_minor = mode == "minor"
            if event.is_two:
                own = (event.kind == "half-diminished") == is_minor
                # A ii may have the other key's fifth.
                self._discount(costs, event.root - 2, mode, 0 if own else WITH_TONIC)
            if event.kind == "dominant" and event.step == FIFTH_DOWN:
                arrives = event.to_kind == "major seventh"
                self._discount(costs, event.root - 7, mode, 0 if arrives else WITH_DOMINANT)
            if is_dark_kind == is_minor and event.kind != "dominant":
                self._discount(costs, event.root, mode, WITH_TONIC)
        if event.starts:
            costs = [cost + NEW_SECTION for cost in costs]
        costs[self._index[home]] = 0 if self.starts_at(index) else BACK_HOME
        return tuple(costs)

    def _discount(self, costs: list[int], tonic: int, mode: Mode, cost: int) -> None:
        """A key's cost where it is not entered just anywhere."""
        at = self._index.get(State(tonic % 12, mode))
        if at is not None:
            costs[at] += cost - ANYWHERE

    @cached_property
    def leaving(self) -> tuple[tuple[int, ...], ...]:
        """For each event what it costs to have gone out of each state when it comes."""
        return tuple(self._leaving(index) for index in range(len(self.events)))

    def _leaving(self, index: int) -> tuple[int, ...]:
        event = self.events[index]
        if event.five_of:
            # A tonic that turns into a ii of no great weight may stay where it arrived.
            is_home_five = (event.root - self.homes[index].tonic) % 12 == 7
            torn = TORN_FROM_TWO if is_home_five or not event.two_arrives else TORN_FROM_TONIC
            return (torn,) * len(self.states)
        if event.before is None or event.kind == "dominant":
            return self._none
        before, kind = event.before
        if kind != "dominant" or (before - event.root) % 12 != 7:
            return self._none
        tonic = State(event.root, "minor" if is_dark(event.kind) else "major")
        if tonic == self.homes[index] or tonic not in self._index:
            return self._none
        costs = list(self._none)
        costs[self._index[tonic]] = TORN_FROM_FIVE
        return tuple(costs)

    def step(self, index: int, source: State, target: State) -> int:
        """The cost of the way to an event, from the state of the one before."""
        if source == target and (target == self.homes[index] or not self.starts_at(index)):
            return 0
        left = self.leaving[index][self._index[source]] if source != target else 0
        if index == 0 and source != target == self.homes[0]:
            left += BACK_HOME
        return left + self.entering[index][self._index[target]]

    def cost(self, way: Sequence[State]) -> int:
        """The cost of a reading: one state an event."""
        total = sum(row[self._index[state]] for row, state in zip(self.in_key, way, strict=True))
        total += sum(self.step(index, way[index - 1], way[index]) for index in range(1, len(way)))
        return total + (
            self.step(0, way[-1], way[0]) if self.closed else self.entering[0][self._index[way[0]]]
        )

    def best(self) -> tuple[State, ...]:
        """The cheapest reading, one state an event; of equal ones the one that is home first."""
        return self._found[0]

    @property
    def least(self) -> int:
        """The cost of the cheapest reading."""
        return self._found[1]

    @property
    def bound(self) -> int:
        """What the cheapest reading costs at least: found in half the time."""
        return self._beginnings[0][0] if self.events else 0

    @cached_property
    def _beginnings(self) -> list[tuple[int, bool, int]]:
        """The states that a reading may begin in, the cheapest bound first: a bound of its cost,
        whether it is away from home, and the state's index."""
        return sorted(
            (bound + entering, state != self.homes[0], index)
            for index, (bound, entering, state) in enumerate(
                zip(self._completions(), self.entering[0], self.states, strict=True)
            )
        )

    @cached_property
    def _found(self) -> tuple[tuple[State, ...], int]:
        if not self.events:
            return (), 0
        best: tuple[int, tuple[State, ...]] | None = None
        for bound, _, index in self._beginnings:
            # No way that begins here is cheaper than its bound, so the rest need not be looked at.
            if best is not None and bound >= best[0]:
                break
            found = self._from(index)
            if best is None or found[0] < best[0]:
                best = found
        assert best is not None
        return best[1], best[0]

    def _completions(self) -> list[int]:
        """For each state the least cost of an open reading that begins there."""
        costs = list(self.in_key[-1])
        for index in range(len(self.events) - 1, 0, -1):
            leaving, entering = self.leaving[index], self.entering[index]
            onward = min(map(add, costs, entering))
            left = (onward,) * len(costs)
            if leaving is not self._none:
                left = tuple(map(add, leaving, left))
            if self.starts_at(index):
                costs = list(map(add, costs, entering))
            costs = list(map(add, self.in_key[index - 1], map(min, left, costs)))
        return costs

    @cached_property
    def _none(self) -> tuple[int, ...]:
        return (0,) * len(self.states)

    def _from(self, start: int) -> tuple[int, tuple[State, ...]]:
        """The cheapest reading whose first event is in a state, and its cost."""
        far = 10**9
        costs = [far] * len(self.states)
        costs[start] = self.in_key[0][start]
        steps: list[tuple[list[int], list[int], int]] = []
        for index in range(1, len(self.events)):
            leaving, entering = self.leaving[index], self.entering[index]
            left = costs if leaving is self._none else list(map(add, costs, leaving))
            away = min(left)
            stay = list(map(add, costs, entering)) if self.starts_at(index) else costs
            go = [away + enter for enter in entering]
            steps.append((stay, go, left.index(away)))
            costs = list(map(add, self.in_key[index], map(min, stay, go)))
        if self.closed:
            target = self.states[start]
            costs = [
                cost + self.step(0, state, target)
                for cost, state in zip(costs, self.states, strict=True)
            ]
        else:
            costs = [cost + self.entering[0][start] for cost in costs]
        at = min(
            range(len(costs)), key=lambda state: (costs[state], self.states[state] != self.homes[-1])
        )
        total = costs[at]
        way = [at]
        for stay, go, source in reversed(steps):
            at = at if stay[at] <= go[at] else source
            way.append(at)
        return total, tuple(self.states[state] for state in reversed(way))


def _is_minor(state: State) -> bool:
    return state.mode in ("minor", "aeolian", "dorian", "phrygian", "locrian")


def _distance(home: State, state: State) -> int:
    """What a key costs to be gone to from home, by how far it is round the circle of fifths."""
    fifths = (_FIFTHS[state] - _FIFTHS[home]) % 12
    apart = min(fifths, 12 - fifths)
    if apart == 0 or home.tonic == state.tonic:
        return PARALLEL_OR_RELATIVE
    return NEW_KEY + A_FIFTH_FURTHER * apart


class _Fifths(dict[State, int]):
    """Accidentals of each key's signature, modulo 12."""

    def __missing__(self, state: State) -> int:
        self[state] = simplest_key(state.tonic, state.mode).fifths % 12
        return self[state]


_FIFTHS = _Fifths()
