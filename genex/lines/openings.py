"""What tunes of a series draw without giving it back: so no two of them begin alike."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations
from random import Random

from genex.exact import Fraction
from genex.exercises import LineFamily
from genex.lines.habits import Habit
from genex.lines.rhythm import Style, drawn_bar, family_in, left_over, next_cells, notes_wanted
from genex.lines.rhythm_cells import LATE_LEVEL, OFF_BEAT_LEVEL, Words, cells_of
from genex.score import Meter

_FAR = Fraction(7, 5)
"""So many notes more or fewer than the level aims at an opening may have, at least."""
_FULLER = Fraction(23, 20)
_RULERS = (0, 1, 4, 6), (0, 2, 7, 8)
"""Steps from a tune's first bar to its others; the second for tunes that have to begin like others."""
_MANY = 200


@lru_cache(maxsize=64)
def openings_of(family: LineFamily | None, meter: Meter, level: int) -> tuple[Words, ...]:
    """The bars that a tune may begin with, about as dense as its level, in an order that is drawn: all
    of the first levels, ``_MANY`` of the others."""
    style = Style(cells_of(family_in(meter, family), level), meter, level)
    aim = notes_wanted(meter, 1, level)
    found: dict[Words, None] = {}

    def suits(words: Words) -> bool:
        count = sum(word.count("x") for word in words)
        if level == LATE_LEVEL:
            # What rests at a phrase's end is made up for by the bars before.
            return abs(count - aim * _FULLER) <= 1
        return abs(count - aim) <= max(_FAR, aim / 2)

    def go_on(words: Words) -> None:
        if len(words) < len(meter.pulses):
            for cell in next_cells(style, words, first=True, on_beat=False):
                go_on((*words, *cell.words))
        elif suits(words):
            found[(*words, *left_over(meter))] = None

    rng = Random(f"openings/{meter}/{level}")
    if level < OFF_BEAT_LEVEL:
        go_on(())
        bars = sorted(found)
        rng.shuffle(bars)
        return tuple(bars)
    for _ in range(8 * _MANY):
        words = drawn_bar(style, rng, first=True, on_beat=False)
        if suits(words):
            found[words] = None
    return tuple(found)[:_MANY]


def habit_of(family: LineFamily | None, meter: Meter, level: int, draws: Sequence[int]) -> Habit | None:
    """What a tune of the first levels keeps to; None at the others, which have rhythms enough.

    Two lessons of a series have one bar in common at the most, as long as the level has enough: the
    distances within a ruler differ from each other (a Golomb ruler).
    """
    openings = openings_of(family, meter, level)
    if level >= OFF_BEAT_LEVEL or len(openings) <= 2 * _RULERS[0][-1]:
        return None
    place = turn_of(draws, len(openings))
    again = (max(1, len(draws)) - 1) // len(openings)
    steps = _RULERS[again % len(_RULERS)]
    bars = tuple(openings[(place + step) % len(openings)] for step in steps)
    pairs = _pairs_of_ends(len(meter.pulses))
    return Habit(bars, pairs[(place + 7 * again) % len(pairs)])


def _pairs_of_ends(beats: int) -> list[tuple[tuple[int, int], ...]]:
    """Two ways to come to rest that leave a breath, of all there are: where the last note is struck,
    and how much longer than a beat it is."""
    latest = beats // 2 if beats > 2 else 0
    ends = [(at, held) for at in range(latest + 1) for held in range(max(1, beats - 1 - at))]
    pairs: list[tuple[tuple[int, int], ...]] = list(combinations(ends, 2)) or [tuple(ends)]
    Random(f"ends/{beats}").shuffle(pairs)
    return pairs


def turn_of(draws: Sequence[int], count: int) -> int:
    """The place among ``count`` that the last of some draws gets, each taking one that is free.

    Each draw takes the place that it comes to, or the next free one: one draw changed moves only
    those that meet it. All places are free again when all were taken.
    """
    taken: set[int] = set()
    place = 0
    for draw in draws:
        if len(taken) == count:
            taken.clear()
        place = draw % count
        while place in taken:
            place = (place + 1) % count
        taken.add(place)
    return place
