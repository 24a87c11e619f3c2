"""What tunes of a series draw without giving it back: so no two of them begin alike."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from functools import lru_cache
from random import Random

from genex.exact import Fraction
from genex.exercises import LineFamily
from genex.lines.habits import Habit, struck_last
from genex.lines.rhythm import (
    Style,
    drawn_bar,
    family_in,
    latest_pulse,
    left_over,
    next_cells,
    notes_wanted,
    strokes,
)
from genex.lines.rhythm_cells import LATE_LEVEL, OFF_BEAT_LEVEL, Words, cells_of
from genex.score import Meter

_FAR = Fraction(7, 5)
"""So many notes more or fewer than the level aims at an opening may have, at least."""
_FAR_AT_FIRST, _FAR_IN_THREE = Fraction(9, 5), Fraction(12, 5)
"""The same for level 1, and for its bars of three beats, of which there are few."""
_FULLER, _FAR_FROM_FULLER = Fraction(5, 4), Fraction(8, 5)
_IDEAS, _FEWEST_IDEAS, _ENDS = 5, 3, 3
"""Bars that a tune of the first levels has besides its first, at the most and at the least, and its
ways to come to rest."""
_TERM, _TUNES_OF_A_FAMILY = 40, 6
"""So many lessons begin otherwise, and have other bars; of these so many are of one family of feels, if
the families take turns: they share its bars out."""
_FEW_OPENINGS, _FEW_ENDINGS = 6, 8
"""No habits where there are so few ways to begin: bars of two beats have not many."""
_SHORT_BAR = 3
_TOO_FULL = 20
"""What each note costs that the bars of a tune have on average beyond the aim of its level."""
_MANY = 200


@lru_cache(maxsize=64)
def openings_of(family: LineFamily | None, meter: Meter, level: int) -> tuple[Words, ...]:
    """The bars that a tune may begin with, about as dense as its level, in an order that is drawn:
    ``_TERM`` of the first levels, ``_MANY`` of the others."""
    if level < OFF_BEAT_LEVEL:
        return _all_bars(family, meter, level, first=True)[:_TERM]
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
    Random(f"openings/{meter}/{level}b").shuffle(bars)
    return tuple(bars)


def _suits(words: Words, meter: Meter, level: int) -> bool:
    """Whether a bar is about as dense as its level."""
    count, aim = strokes(words), notes_wanted(meter, 1, level)
    if level == LATE_LEVEL:
        # What rests at a phrase's end is made up for by the bars before.
        return abs(count - aim * _FULLER) <= _FAR_FROM_FULLER
    far = _FAR
    if level < LATE_LEVEL:
        far = _FAR_IN_THREE if len(meter.pulses) == 3 else _FAR_AT_FIRST
    return abs(count - aim) <= max(far, aim / 2)


def _comes_to_rest(words: Words) -> bool:
    """Whether a bar is an ending: its last note, on a beat, is followed by rests only; or empty."""
    struck = [index for index, word in enumerate(words) if "x" in word]
    return not struck or (words[-1][-1] == "." and words[struck[-1]].rstrip(".") == "x")


def habit_of(family: LineFamily | None, meter: Meter, level: int, draws: Sequence[int]) -> Habit | None:
    """What a tune of the first levels keeps to; None at the others, which have rhythms enough.

    Two lessons of a series have one bar in common at the most, be it an idea or an ending, as long as
    the level has enough.
    """
    count = len(openings_of(family, meter, level))
    if level >= OFF_BEAT_LEVEL or count <= _FEW_OPENINGS:
        return None
    again = (max(1, len(draws)) - 1) // count
    return _habits(family, meter, level)[turn_of(draws, count) + count * (again % 2)]


@lru_cache(maxsize=64)
def _habits(family: LineFamily | None, meter: Meter, level: int) -> tuple[Habit, ...]:
    """A habit for each opening, and for each once more: bars of which no two stand together in another
    one of a term, if there are such, and of these the ones that were taken least.

    One ending of each comes as late in its bar as an ending may, for bars whose last chord does.
    """
    openings = openings_of(family, meter, level)
    ideas = _all_bars(family, meter, level, first=False)
    ends = _endings(family, meter, level)
    latest = max(map(struck_last, ends))
    late = [end for end in ends if struck_last(end) == latest]
    aim = notes_wanted(meter, 1, level)
    taken: Counter[Words] = Counter()
    # By bar, the bars of the habits that it stands in: of the turn before and of this one.
    earlier: defaultdict[Words, set[Words]] = defaultdict(set)
    together: defaultdict[Words, set[Words]] = defaultdict(set)
    count = {words: strokes(words) for words in (*openings, *ideas, *ends)}

    def take(group: list[Words], pool: Sequence[Words], *, needed: bool = False) -> None:
        total = sum(count[words] for words in group)
        now, before = (
            Counter(other for words in group for other in pairs[words]) for pairs in (together, earlier)
        )

        def cost(words: Words) -> tuple[int, int, Fraction]:
            mean = Fraction(total + count[words], len(group) + 1)
            too_full = _TOO_FULL * max(Fraction(0), mean - aim)
            return now[words], before[words], taken[words] + too_full

        free = [words for words in pool if words not in group and (needed or not now[words])]
        if free:
            group.append(min(free, key=cost))
            taken[group[-1]] += 1

    found = []
    for number, opening in enumerate((*openings, *openings)):
        if number % len(openings) == 0:
            taken, earlier, together = Counter(openings), together, defaultdict(set)
        group = [opening]
        take(group, late, needed=True)
        for more in range(max(_FEWEST_IDEAS, min(_IDEAS, len(ideas) // _TUNES_OF_A_FAMILY))):
            if 0 < more < (_ENDS if len(ends) > _FEW_ENDINGS else 2):
                take(group, ends, needed=more == 1)
            take(group, ideas, needed=more < _FEWEST_IDEAS)
        for words in group:
            together[words].update(group)
        bars = tuple(words for words in group if words not in ends)
        found.append(Habit(bars, tuple(words for words in group if words in ends)))
    return tuple(found)


@lru_cache(maxsize=64)
def _endings(family: LineFamily | None, meter: Meter, level: int) -> tuple[Words, ...]:
    """All bars that come to rest and leave a breath: what the cells give up to the last note, and that
    note held."""
    style = Style(cells_of(family_in(meter, family), level), meter, level)
    beats = len(meter.pulses)
    found: set[Words] = set()

    def go_on(head: Words, last: int) -> None:
        if len(head) < last:
            for cell in next_cells(style, head, first=False, on_beat=False):
                if len(head) + len(cell.words) <= last:
                    go_on((*head, *cell.words), last)
            return
        if last and not any("x" in word for word in head):
            return  # a note all by itself after a rest closes nothing
        # One beat alone, and three that rest, is no ending but a break.
        shortest = int(not last and beats > _SHORT_BAR)
        for held in range(shortest, max(1, beats - 1 - last)):
            rests = ("." for _ in range(beats - 1 - last - held))
            found.add((*head, "x", *("-",) * held, *rests, *("." for _ in left_over(meter))))

    for last in range(latest_pulse(beats) + 1):
        go_on((), last)
    bars = sorted(found)
    Random(f"ends/{meter}/{level}b").shuffle(bars)
    return tuple(bars)


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
