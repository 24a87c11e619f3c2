"""The contour of a phrase: how high each of its notes should lie, and how much that matters.

A phrase has a shape of its own (an arch, a fall), or the shape of what it takes up; bars that come
back to an idea keep its shape. ``phrase.py`` looks for the notes that come nearest to it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Literal

from genex.exact import Fraction
from genex.lines.phrase_places import PICKUP_BAR, PhrasePlace
from genex.lines.rhythm import Copy, PhraseRhythm
from genex.lines.vocabulary import Vocabulary

SHAPES = ("arch", "valley", "rise", "fall", "wave")
OWN_SHAPE, TAKEN_UP, IDEA, END = 3, 10, 12, 40
"""What each semitone away from its height costs a note: of the phrase's own shape, of a phrase taken
up, of an idea that comes back, and of the end of the compass."""

Likeness = Literal["answer", "sequence", "inversion"]
"""How a phrase takes up an earlier one: at the same height, moved by a step or third, or upside down."""


@dataclass
class Contour:
    """heights  of each note, as a MIDI number
    weights  what each semitone away from it costs
    """

    heights: list[float]
    weights: list[int]

    @classmethod
    def draw(
        cls,
        places: Sequence[PhrasePlace],
        vocabulary: Vocabulary,
        rng: Random,
        compass: tuple[int, int] | None,
    ) -> Contour:
        """A shape within a compass, as MIDI numbers; within the level's window about the centre if
        there is none."""
        base = vocabulary.centre - 8 + rng.randrange(-4, 5)
        low, high = compass or vocabulary.window([place.chord for place in places], base)
        shape = rng.choice(SHAPES)
        last = max(1, len(places) - 1)
        heights = [low + (high - low) * _height(shape, index / last) for index in range(len(places))]
        count = sum(place.bar == PICKUP_BAR for place in places)
        if count:
            # A pickup leads to the first note by step, from below or above.
            side = 2 if rng.random() < 0.3 else -2
            for index in range(count):
                heights[index] = heights[count] + side * (count - index)
        return cls(heights, [OWN_SHAPE] * len(places))

    def cost(self, index: int, midi: int) -> int:
        """What it costs to have a note at a pitch."""
        return round(self.weights[index] * abs(midi - self.heights[index]))

    def reach(self, places: Sequence[PhrasePlace], end: int) -> None:
        """One note past the middle of the phrase goes to an end of its compass: on a beat or held for
        one, and the notes about it lead there and back."""
        goal = len(places) * 3 // 5
        carried = [n for n, place in enumerate(places[:-1]) if place.carries and n > 0]
        at = min(carried or [goal], key=lambda n: abs(n - goal))
        self.heights[at], self.weights[at] = end, END
        for index, height in enumerate(self.heights[:-1]):
            near = _WAY_TO_THE_END * abs(index - at)
            side = 1 if end >= height else -1
            if 0 < near < abs(end - height):
                self.heights[index] = end - side * near

    def repeat(
        self, places: Sequence[PhrasePlace], rhythm: PhraseRhythm, idea: Sequence[int], rng: Random
    ) -> None:
        """Bars that come back to an idea keep its shape, as it was or a step or third away."""
        shifts = {bar: rng.choice((0, 0, 2, -2, 3, -3)) for bar in range(len(rhythm.bars))}
        at = {(place.bar, place.index): number for number, place in enumerate(places)}
        for number, place in enumerate(places):
            copy = None if place.bar == PICKUP_BAR else rhythm.copies[place.bar]
            if copy is None:
                self.heights[number], self.weights[number] = idea[number], IDEA
                continue
            own = _index_in_idea(rhythm, copy, place)
            source = None if own is None else at.get((copy.bar, own))
            if source is not None and number < len(places) - 1:
                self.heights[number] = idea[source] + shifts[place.bar]
                self.weights[number] = IDEA

    def lean_on(
        self,
        known: Mapping[Fraction, int],
        likeness: Likeness,
        places: Sequence[PhrasePlace],
        start_beats: Fraction,
        rng: Random,
    ) -> None:
        """Heights of the phrase that is taken up, by onset from its first bar; the ending is left
        free."""
        shift = rng.choice((2, -2, 3, -3, 4)) if likeness == "sequence" else 0
        if likeness == "inversion":
            axis = max(known.values()) + min(known.values())
            known = {onset: axis - midi for onset, midi in known.items()}
        ending = places[-1].bar
        for number, place in enumerate(places):
            midi = known.get(place.onset_beats - start_beats)
            if midi is not None and (place.bar != ending or ending == 0) and number < len(places) - 1:
                self.heights[number], self.weights[number] = midi + shift, TAKEN_UP


_WAY_TO_THE_END = 4
"""Semitones a note by which a line goes to its peak and comes back."""


def _height(shape: str, at: float) -> float:
    """Height from 0 to 1 at a point from 0 to 1 of a contour."""
    if shape == "arch":
        return 0.15 + 0.8 * math.sin(math.pi * at)
    if shape == "valley":
        return 0.85 - 0.8 * math.sin(math.pi * at)
    if shape == "rise":
        return 0.1 + 0.75 * at
    if shape == "fall":
        return 0.9 - 0.75 * at
    return 0.5 + 0.35 * math.sin(2 * math.pi * at)


def _index_in_idea(rhythm: PhraseRhythm, copy: Copy, place: PhrasePlace) -> int | None:
    """Which note of the idea a note brings back: moved ideas keep their order, others their times."""
    if copy.turn in ("later", "half later"):
        return place.index
    onsets = [onset for onset, _ in rhythm.bars[copy.bar]]
    onset = rhythm.bars[place.bar][place.index][0]
    return onsets.index(onset) if onset in onsets else None
