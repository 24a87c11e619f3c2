"""Bars of a chart dealt to rows, as charts are set: an ending stands below the one before it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from genex.export.page_signs import Signs


class Signed(Protocol):
    """A bar with the signs around it."""

    @property
    def signs(self) -> Signs: ...


B = TypeVar("B", bound=Signed)


@dataclass(frozen=True, slots=True)
class Row(Generic[B]):
    """Bars side by side, the first of them ``indent`` bars from the left."""

    indent: int
    bars: tuple[B, ...]


def rows_of(bars: Sequence[B], columns: int) -> tuple[Row[B], ...]:
    """Rows of at most ``columns`` bars.

    A repeat of at least a whole row begins a new one. An ending that is not in one row with the
    one before stands below the first, and what follows the endings begins a row of its own then. So
    does a coda.
    """
    rows: list[Row[B]] = []
    indent, row = 0, list[B]()
    first_ending = 0
    for index, bar in enumerate(bars):
        signs = bar.signs
        column = indent + len(row)
        room = columns - column
        turns = room == 0 or (signs.opens and bool(row) and _passage(bars, index) >= columns)
        if signs.coda and row:
            turns = True
        later = signs.ending_begins and signs.ending > 1
        if later and _ending(bars, index) > room:
            turns = True
        if bool(row) and indent and not signs.ending and bars[index - 1].signs.ending:
            turns = True
        if turns:
            rows.append(Row(indent, tuple(row)))
            row = []
            fits = first_ending + _ending(bars, index) <= columns
            indent = first_ending if later and fits else 0
        if signs.ending_begins and signs.ending == 1:
            first_ending = indent + len(row)
        row.append(bar)
    rows.append(Row(indent, tuple(row)))
    return tuple(rows)


def _passage(bars: Sequence[B], start: int) -> int:
    """Bars from one that opens a repeat to the one that first closes it."""
    for index in range(start, len(bars)):
        if bars[index].signs.closes:
            return index + 1 - start
    return len(bars) - start


def _ending(bars: Sequence[B], start: int) -> int:
    """Bars of the ending that begins at ``start``."""
    for index in range(start, len(bars)):
        if bars[index].signs.ending_ends:
            return index + 1 - start
    return len(bars) - start
