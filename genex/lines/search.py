"""The cheapest way through layers of choices: exact dynamic programming over small integers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from genex.errors import LineError

State = TypeVar("State", bound="tuple[Any, ...]")

FORBIDDEN = 10**30
"""A cost that rules a choice out; sums of allowed costs stay far below it."""


REPEATED = 10**6
"""Cost of striking a pitch twice in a row: more than any line of other notes."""


def cheapest_path(
    layers: Sequence[Sequence[State]],
    own: Callable[[int, State], int],
    change: Callable[[int, State, State], int],
) -> tuple[int, list[State]]:
    """The total cost and the states of the cheapest path, one state a layer.

    ``own(layer, state)`` is what a state costs, ``change(layer, before, after)`` what it costs to
    enter layer ``layer`` so, which is never less than nothing. Of equally cheap paths the one that
    is smaller at the first difference is taken: costs to go are summed from the end, then the way
    is walked from the front. Raises LineError if every path is forbidden, IndexError for an empty
    layer.
    """
    if not layers:
        return 0, []
    to_go: list[dict[State, int]] = [{}] * len(layers)
    for layer in range(len(layers) - 1, -1, -1):
        # The cheapest first: what costs more by itself than a way that was found need not be asked for.
        after = sorted(to_go[layer + 1].items(), key=_cost) if layer + 1 < len(layers) else []
        costs = {}
        for state in layers[layer]:
            rest = FORBIDDEN**2 if after else 0
            for other, cost in after:
                if cost >= rest:
                    break
                rest = min(rest, change(layer + 1, state, other) + cost)
            costs[state] = own(layer, state) + rest
        to_go[layer] = costs
    total, state = min((cost, state) for state, cost in to_go[0].items())
    if total >= FORBIDDEN:
        raise LineError(
            "no line meets all these conditions",
            hint="allow a wider range or position, or ask for less",
        )
    path = [state]
    for layer in range(1, len(layers)):
        _, state = min(
            (change(layer, path[-1], other) + cost, other) for other, cost in to_go[layer].items()
        )
        path.append(state)
    return total, path


def _cost(item: tuple[State, int]) -> int:
    return item[1]


def connect(
    layers: Sequence[Sequence[int]],
    start: int | None,
    goal: int | None,
    taste: Callable[[int, int], int] = lambda layer, midi: 0,
) -> list[int]:
    """One pitch a layer that lead smoothly from ``start`` to ``goal``.

    Pitches are MIDI numbers. A pitch is repeated only where there is no other; steps up to a
    major third are free, wider ones cost more the wider they are; turning costs something, so
    that the line runs on where it has room. ``taste(layer, midi)`` adds costs of its own, for variety.
    """
    if not layers:
        return []

    def step(before: int, after: int) -> int:
        leap = abs(after - before)
        return REPEATED if leap == 0 else 40 * max(0, leap - 4)

    states = [[(midi, direction) for midi in layer for direction in (-1, 1)] for layer in layers]
    last = len(layers) - 1

    def own(layer: int, state: tuple[int, int]) -> int:
        midi, direction = state
        cost = taste(layer, midi)
        if layer == 0 and start is not None:
            cost += step(start, midi) + (0 if (midi - start) * direction >= 0 else FORBIDDEN)
        if layer == last and goal is not None:
            cost += step(midi, goal) + (0 if (goal - midi) * direction > 0 else 30)
        return cost

    def change(layer: int, before: tuple[int, int], after: tuple[int, int]) -> int:
        moved = after[0] - before[0]
        if moved * after[1] < 0:
            return FORBIDDEN
        return step(before[0], after[0]) + (30 if before[1] != after[1] else 0)

    return [midi for midi, _ in cheapest_path(states, own, change)[1]]
