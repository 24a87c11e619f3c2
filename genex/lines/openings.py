"""What tunes of a series draw without giving it back: so no two of them begin alike."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations, permutations
from random import Random

from genex.exact import Fraction
from genex.exercises import LineFamily
from genex.lines.habits import Habit
from genex.lines.rhythm import Style, drawn_bar, family_in, left_over, next_cells, notes_wanted
from genex.lines.rhythm_cells import LATE_LEVEL, OFF_BEAT_LEVEL, Words, cells_of
from genex.score import Meter

_FAR = Fraction(7, 5)
"""So many notes more or fewer than the level aims at an opening may have, at least."""
_FAR_AT_FIRST, _FAR_IN_THREE = Fraction(9, 5), Fraction(12, 5)
"""The same for level 1, and for its bars of three beats, of which there are few."""
_FULLER, _FAR_FROM_FULLER = Fraction(26, 20), Fraction(8, 5)
_IDEAS = 3
"""Bars that a tune of the first levels has besides its first."""
_MANY = 200


@lru_cache(maxsize=64)
def openings_of(family: LineFamily | None, meter: Meter, level: int) -> tuple[Words, ...]:
    """The bars that a tune may begin with, about as dense as its level, in an order that is drawn: all
    of the first levels, ``_MANY`` of the others."""
    if level < OFF_BEAT_LEVEL:
        return _all_bars(family, meter, level, first=True)
    style = Style(cells_of(family_in(meter, family), level), meter, level)
    rng = Random(f"openings/{meter}/{level}")
    found: dict[Words, None] = {}
    for _ in range(8 * _MANY):
        words = drawn_bar(style, rng, first=True, on_beat=False)
        if _suits(words, meter, level):
            found[words] = None
    return tuple(found)[:_MANY]


def _all_bars(family: LineFamily | None, meter: Meter, level: int, *, first: bool) -> tuple[Words, ...]:
    """All bars that the cells of a level give, but those that come to rest: these end phrases."""
    style = Style(cells_of(family_in(meter, family), level), meter, level)
    found: set[Words] = set()

    def go_on(words: Words) -> None:
        if len(words) < len(meter.pulses):
            for cell in next_cells(style, words, first=first, on_beat=False):
                go_on((*words, *cell.words))
        elif _suits(words, meter, level) and not _comes_to_rest(words):
            found.add((*words, *left_over(meter)))

    go_on(())
    bars = sorted(found)
    Random(f"openings/{meter}/{level}").shuffle(bars)
    return tuple(bars)


def _suits(words: Words, meter: Meter, level: int) -> bool:
    """Whether a bar is about as dense as its level."""
    count, aim = _count(words), notes_wanted(meter, 1, level)
    if level == LATE_LEVEL:
        # What rests at a phrase's end is made up for by the bars before.
        return abs(count - aim * _FULLER) <= _FAR_FROM_FULLER
    far = _FAR
    if level < LATE_LEVEL:
        far = _FAR_IN_THREE if len(meter.pulses) == 3 else _FAR_AT_FIRST
    return abs(count - aim) <= max(far, aim / 2)


def _count(words: Words) -> int:
    return sum(word.count("x") for word in words)


def _comes_to_rest(words: Words) -> bool:
    """Whether a bar is an ending: one note alone, or a last one that is followed by rests only."""
    struck = [index for index, word in enumerate(words) if "x" in word]
    return len(struck) < 2 or (words[-1] == "." and words[struck[-1]] == "x")


def habit_of(family: LineFamily | None, meter: Meter, level: int, draws: Sequence[int]) -> Habit | None:
    """What a tune of the first levels keeps to; None at the others, which have rhythms enough.

    Two lessons of a series have one bar in common at the most, as long as the level has enough.
    """
    openings = openings_of(family, meter, level)
    if level >= OFF_BEAT_LEVEL or len(openings) <= 2 * _IDEAS:
        return None
    place = turn_of(draws, len(openings))
    again = (max(1, len(draws)) - 1) // len(openings)
    groups = _groups_of(family, meter, level)
    pairs = _pairs_of_ends(len(meter.pulses))
    bars = groups[(place + again * len(openings)) % len(groups)]
    return Habit(bars, pairs[(place + 7 * again) % len(pairs)])


@lru_cache(maxsize=64)
def _groups_of(family: LineFamily | None, meter: Meter, level: int) -> tuple[tuple[Words, ...], ...]:
    """An opening and other bars, for each opening, and for each once more: of those that stand in no
    earlier group with one of the same group, the bars that were taken least."""
    openings = openings_of(family, meter, level)
    ideas = _all_bars(family, meter, level, first=False)
    taken: Counter[Words] = Counter(openings)
    together: set[tuple[Words, Words]] = set()
    found = []
    for opening in (*openings, *openings):
        group = [opening]
        for _ in range(_IDEAS):
            free = [
                bar
                for bar in ideas
                if bar not in group and all((bar, other) not in together for other in group)
            ]
            if free:
                group.append(min(free, key=taken.__getitem__))
                taken[group[-1]] += 1
        together.update(permutations(group, 2))
        found.append(tuple(group))
    return tuple(found)


def _pairs_of_ends(beats: int) -> list[tuple[tuple[int, int], ...]]:
    """Two ways to come to rest that leave a breath, of all there are: where the last note is struck,
    and how much longer than a beat it is."""
    latest = beats // 2 if beats > 2 else 0
    ends = [(at, held) for at in range(latest + 1) for held in range(max(1, beats - 1 - at))]
    pairs: list[tuple[tuple[int, int], ...]] = [
        pair for pair in combinations(ends, 2) if pair[-1][0] > 0 or not latest
    ] or [tuple(ends)]
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
