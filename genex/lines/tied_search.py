"""The cheapest choice where the same choice stands in several places: exact, by elimination.

A path through a tune whose A section comes three times is no chain: what is chosen for the first A
holds for the others, and each of them meets other neighbours. Such a sum of costs of single choices
and of pairs is made least by taking one choice after the other out of it and noting what it would
be for every choice of those it meets (non-serial dynamic programming). Literature: Bertele and
Brioschi 1972, Nonserial Dynamic Programming; Dechter 1999, Bucket elimination, Artificial
Intelligence 113 [memory].
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from genex.lazy import lazy

if TYPE_CHECKING:
    import numpy as np
else:
    np = lazy("numpy")

Place = TypeVar("Place", bound=Hashable)

LARGEST_TABLE = 4_000_000
"""Entries of a table; a song form whose sections go round and round needs a few ten thousand."""


def cheapest_choices(
    own: Mapping[Place, Any], pairs: Mapping[tuple[Place, Place], Any]
) -> tuple[int, dict[Place, int]]:
    """The least sum of costs, and the index of the choice at every place.

    own    for each place the costs of its choices, whole numbers (N,)
    pairs  for two places the costs of choosing both, (N of the first, N of the second)

    Exact as long as no table is larger than ``LARGEST_TABLE``; beyond it the choices that cost
    most by themselves are left out first.
    """
    kept = {place: np.arange(len(costs)) for place, costs in own.items()}
    while True:
        answer = _eliminated(
            {place: np.asarray(own[place])[kept[place]] for place in own},
            {(a, b): np.asarray(costs)[np.ix_(kept[a], kept[b])] for (a, b), costs in pairs.items()},
        )
        if answer is not None:
            total, chosen = answer
            return total, {place: int(kept[place][index]) for place, index in chosen.items()}
        for place, costs in own.items():
            order = np.argsort(np.asarray(costs)[kept[place]], kind="stable")
            kept[place] = np.sort(kept[place][order[: max(1, len(order) * 3 // 4)]])


def _eliminated(
    own: Mapping[Place, Any], pairs: Mapping[tuple[Place, Place], Any]
) -> tuple[int, dict[Place, int]] | None:
    """The optimum; None where a table would be too large."""
    sizes = {place: len(costs) for place, costs in own.items()}
    factors: list[tuple[tuple[Place, ...], Any]] = [((place,), costs) for place, costs in own.items()]
    factors += list(pairs.items())
    left = list(own)
    taken: list[tuple[Place, tuple[Place, ...], Any]] = []
    while left:
        tables = {place: _table_of(place, factors, sizes) for place in left}
        place = min(left, key=lambda p: tables[p][1])  # the first of equals
        around, entries = tables[place]
        if entries > LARGEST_TABLE:
            return None
        scope = (*around, place)
        total = sum(_spread(costs, names, scope) for names, costs in factors if place in names)
        factors = [(names, costs) for names, costs in factors if place not in names]
        taken.append((place, around, np.argmin(total, axis=-1)))
        factors.append((around, np.min(total, axis=-1)))
        left.remove(place)
    least = int(sum(int(costs) for _, costs in factors))
    chosen: dict[Place, int] = {}
    for place, around, best in reversed(taken):
        chosen[place] = int(best[tuple(chosen[other] for other in around)])
    return least, chosen


def _table_of(
    place: Place, factors: list[tuple[tuple[Place, ...], Any]], sizes: Mapping[Place, int]
) -> tuple[tuple[Place, ...], int]:
    """The places that one meets, and the entries of the table over all of them."""
    around = dict.fromkeys(
        other for names, _ in factors if place in names for other in names if other != place
    )
    entries = sizes[place]
    for other in around:
        entries *= sizes[other]
    return tuple(around), entries


def _spread(costs: Any, names: tuple[Place, ...], scope: tuple[Place, ...]) -> Any:
    """Costs over some places as an array over all places of a scope."""
    order = sorted(range(len(names)), key=lambda axis: scope.index(names[axis]))
    ordered = np.transpose(costs, order)
    shape = iter(ordered.shape)
    present = set(names)
    return ordered.reshape([next(shape) if place in present else 1 for place in scope])
