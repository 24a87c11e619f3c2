"""Rhythms to read on one note: pages put together from the cells of a feel and a level.

A page has lines of four bars. What a level adds to the one before is drawn more often than the rest
of its cells, so that each page practises it. A bar comes once on a page as long as there are others.
The last note of the page falls into the middle of its bar and is held.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from itertools import pairwise
from random import Random

from genex.exercises import LineFamily, Player
from genex.exercises.models.rhythms import Reading
from genex.lines.counting import SYLLABLES, syllable
from genex.lines.one_note import Stage, Stroke, one_note_study
from genex.lines.rhythm import PhraseRhythm, family_in
from genex.lines.rhythm_cells import Cell, Words, cells_of
from genex.lines.study_plan import StudyPlan
from genex.said import Said
from genex.score import Meter, Timeline

NEW_WEIGHT = 3
"""So much more often come the cells that a level is the first to have."""
BARS_OF_A_LINE = 4
DRAWS = 24
"""Bars drawn to find one that the page does not have yet."""


def reading(timeline: Timeline, exercise: Reading, player: Player) -> StudyPlan:
    """A page of rhythms to read. Raises LineError for a note off the neck."""
    meter = timeline.meter
    seed = f"{player.seed}/{player.title}/reading/{exercise.level}/{exercise.page}"
    page = draw_page(player.family, meter, exercise.level, exercise.bars, Random(seed))
    strokes = strokes_of(page, meter)
    stages = []
    for first in range(0, exercise.bars, BARS_OF_A_LINE):
        start, bars = first * meter.bar_beats, min(BARS_OF_A_LINE, exercise.bars - first)
        stages.append(
            Stage(
                Said(
                    "Level {level}, page {page}, line {line}",
                    level=exercise.level,
                    page=exercise.page,
                    line=first // BARS_OF_A_LINE + 1,
                ),
                bars,
                tuple(
                    replace(stroke, onset=stroke.onset - start)
                    for stroke in strokes
                    if start <= stroke.onset < start + bars * meter.bar_beats
                ),
            )
        )
    return one_note_study(timeline, exercise, player, stages, end="")


def draw_page(
    family: LineFamily | None, meter: Meter, level: int, bars: int, rng: Random
) -> tuple[Words, ...]:
    """The bars of a page, a word a pulse."""
    family = family_in(meter, family)
    known = {cell.words for cell in cells_of(family, level - 1)} if level > 1 else set()
    cells = [
        cell if cell.words in known else Cell(cell.words, cell.weight * NEW_WEIGHT)
        for cell in cells_of(family, level)
        if all("x" in before + word for before, word in pairwise(cell.words) if before[-1] == ".")
    ]
    page: list[Words] = []
    while len(page) < bars - 1:
        drawn = [_bar(cells, meter, rng, after=page[-1] if page else None) for _ in range(DRAWS)]
        page.append(next((bar for bar in drawn if bar not in page), drawn[0]))
    head = _bar(cells, meter, rng, after=page[-1] if page else None)[: len(meter.pulses) // 2]
    held = len(meter.pulses) - len(head) - 1
    page.append((*head, "x", *("-",) * held, *_left_over(meter, "x")))
    return tuple(page)


def strokes_of(page: Collection[Words], meter: Meter) -> tuple[Stroke, ...]:
    """The strokes of a page, each with its count."""
    bars = tuple(page)
    times = PhraseRhythm(bars, (None,) * len(bars), meter).bars
    found = []
    for number, (words, notes) in enumerate(zip(bars, times, strict=True)):
        counts = [
            syllable(beat, _division(word), place * _division(word) // len(word))
            for beat, word in enumerate(words, start=1)
            for place, letter in enumerate(word)
            if letter == "x"
        ]
        for (onset, length), count in zip(notes, counts, strict=True):
            found.append(Stroke(number * meter.bar_beats + onset, length, count))
    return tuple(found)


def _division(word: str) -> int:
    return len(word) if len(word) in SYLLABLES else 1


def _bar(cells: list[Cell], meter: Meter, rng: Random, *, after: Words | None) -> Words:
    """Cells that fill a bar; it begins with a tie only where something sounds, and is never silent."""
    pulses = len(meter.pulses)
    while True:
        words: list[str] = []
        while len(words) < pulses:
            before = words[-1] if words else after[-1] if after else "."
            options = [
                cell
                for cell in cells
                if len(cell.words) <= pulses - len(words) and _follows(cell, before, meter)
            ]
            if not options:
                options = [Cell(("x",), 1)]
            words += rng.choices(options, [cell.weight for cell in options])[0].words
        if any("x" in word for word in words) and (after is not None or words[0][0] == "x"):
            return (*words, *_left_over(meter, words[-1]))


def _follows(cell: Cell, before: str, meter: Meter) -> bool:
    """Whether a cell can be read after a word: nothing silent is held, no triplet is tied into a
    pulse that is divided otherwise, and no two beats in a row are silent."""
    first = cell.words[0]
    if before[-1] == ".":
        return first[0] == "x" or (first[0] == "." and "x" in first)
    if first[0] != "-" or meter.is_compound:
        return True
    return len(before) != 3 or len(first) in (1, 3)


def _left_over(meter: Meter, before: str) -> Words:
    """What lies behind the last whole pulse of an odd meter: held, or struck after a rest."""
    whole = len(meter.pulses) * meter.pulse_beats
    if whole == meter.bar_beats:
        return ()
    return ("x",) if before[-1] == "." else ("-",)
