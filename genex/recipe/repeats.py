"""Repeat signs and endings: the order in which the bars of a chart are played.

A chart is a row of passages, each one of

    A | B |                               bars played once
    |: A | B :|      A | B :|             bars played again; without |: from the beginning of the
                                          chart or from behind the repeat before
    |: A | [1. B :| [2. C                 bars with endings: each pass goes on to the next ending

Endings run 1, 2, … in order. Each but the last closes with ``:|``; the last may, and else goes on
to the next ``|:`` or the end of the chart. Whatever is written is played at least once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

MAX_PASSES = 16


@dataclass(slots=True)
class Signs:
    """The signs around one bar; offsets are those of the signs in the text.

    opens_at   offset of ``|:`` before the bar
    ending     number of the ending that begins with the bar, at ``ending_at``
    passes     2 for ``:|`` after the bar, more for ``:|x3``; at ``closes_at``
    begins     the bar is the first of its section, over whose edge no repeat reaches
    """

    opens_at: int | None = None
    ending: int | None = None
    ending_at: int = 0
    passes: int | None = None
    closes_at: int = 0
    begins: bool = False


class RepeatError(Exception):
    """Signs that do not go together; ``at`` is the offset of the one that is wrong.

    ``form_hint`` is what to write instead where the chart is a form of several sections.
    """

    def __init__(self, message: str, hint: str, at: int, *, form_hint: str = "") -> None:
        super().__init__(message)
        self.message, self.hint, self.at = message, hint, at
        self.form_hint = form_hint or hint


@dataclass(frozen=True, slots=True)
class Repeat:
    """A passage between repeat signs, in bars as they are played.

    first_bar  index of the played bar that it begins with
    body       bars that every pass begins with
    endings    for each pass the bars of its own ending, 0 where there is none
    """

    first_bar: int
    body: int
    endings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Played:
    """Indices of the written bars in the order in which they are played, and what is repeated."""

    order: tuple[int, ...]
    repeats: tuple[Repeat, ...]


def played(bars: Sequence[Signs]) -> Played:
    """The bars as they are played. Raises RepeatError."""
    order: list[int] = []
    repeats: list[Repeat] = []
    index = 0
    while index < len(bars):
        body, endings, after = _passage(bars, index)
        if len(endings) > 1 and body:
            lengths = [len(ending) for ending in endings]
            if bars[after - 1].passes is None:
                # Nothing says where the last ending is over: on paper it is as long as the others.
                lengths[-1] = min(lengths[-1], max(lengths[:-1]))
            repeats.append(Repeat(len(order), len(body), tuple(lengths)))
        order += [number for ending in endings for number in (*body, *ending)]
        index = after
    return Played(tuple(order), tuple(repeats))


def last_time(bars: Sequence[Signs]) -> tuple[int, ...]:
    """The bars as they are played after a jump: once, with the last ending. Raises RepeatError."""
    order: list[int] = []
    index = 0
    while index < len(bars):
        body, endings, index = _passage(bars, index)
        order += [*body, *endings[-1]]
    return tuple(order)


def _passage(bars: Sequence[Signs], start: int) -> tuple[range, list[range], int]:
    """The passage that begins at ``start``, and where the next one begins.

    Its bars, and for each pass those of its ending, if it has one.
    """
    opened_at = bars[start].opens_at
    for index in range(start, len(bars)):
        bar = bars[index]
        if (bar.opens_at is not None or bar.begins) and index > start:
            if opened_at is not None:
                raise _unclosed(opened_at)
            return range(start, index), [range(0)], index
        if bar.ending is not None:
            if index == start and opened_at is None:
                raise RepeatError(
                    f"ending {bar.ending} stands outside of a repeat",
                    "write |: before the bars that are repeated, then [1. … :| [2. …",
                    bar.ending_at,
                )
            endings, after = _endings(bars, index)
            return range(start, index), endings, after
        if bar.passes is not None:
            return range(start, index + 1), [range(0)] * bar.passes, index + 1
    if opened_at is not None:
        raise _unclosed(opened_at)
    return range(start, len(bars)), [range(0)], len(bars)


def _endings(bars: Sequence[Signs], start: int) -> tuple[list[range], int]:
    """The bars of each ending from ``start`` on, and where what follows the last one begins."""
    endings: list[range] = []
    index = start
    while True:
        first = bars[index]
        number = len(endings) + 1
        if first.ending != number:
            raise RepeatError(
                f"ending {first.ending} stands where ending {number} is due",
                f"write [{number}. here: endings run 1, 2, … in order",
                first.ending_at,
            )
        if number > MAX_PASSES:
            raise RepeatError(
                f"a repeat has more than {MAX_PASSES} endings", "write the bars out", first.ending_at
            )
        end = _end_of_ending(bars, index)
        endings.append(range(index, end))
        closes = bars[end - 1].passes is not None
        begins = end < len(bars) and (bars[end].begins or bars[end].opens_at is not None)
        follows = end < len(bars) and not begins and bars[end].ending is not None
        if not closes and (number == 1 or follows):
            raise RepeatError(
                f"ending {number} does not close", "write :| after its last bar", first.ending_at
            )
        if not follows:
            if number == 1:
                raise RepeatError(
                    "ending 1 is the only one", "write [2. before the bars of the last pass",
                    first.ending_at,
                )  # fmt: skip
            return endings, end
        index = end


def _end_of_ending(bars: Sequence[Signs], start: int) -> int:
    """Where the ending that begins at ``start`` is over."""
    for index in range(start, len(bars)):
        bar = bars[index]
        if index > start and (bar.opens_at is not None or bar.ending is not None or bar.begins):
            return index
        if bar.passes is not None:
            if bar.passes != 2:
                raise RepeatError(
                    "a repeat with endings is played once for each of them",
                    f"leave x{bar.passes} away, or write another ending",
                    bar.closes_at,
                )
            return index + 1
    return len(bars)


def _unclosed(opened_at: int) -> RepeatError:
    return RepeatError(
        "the repeat that opens here never closes",
        "write :| after its last bar, or leave the |: away",
        opened_at,
    )
