"""The clave: two bars that go on in one direction, whatever the form does."""

from __future__ import annotations

import pytest

from genex.band import play_band
from genex.score import Part
from tests.band.charts import GROOVES, for_groove, notes_by_bar

FEELS = ("montuno-2-3", "montuno-3-2")
CLAVES = 75  # [published: MMA, General MIDI System Level 1, 1991]
SIDES = {"3": ["0", "3/2", "3"], "2": ["1", "2"]}
"""Strokes of the son clave in quarter notes from the bar line [common practice]."""


def played(name: str, sections: tuple[int, ...]) -> tuple[dict[str, Part], list[str]]:
    """The parts over a form, and which side of the clave each bar should be."""
    line = for_groove(name, " | ".join(["C7", "F7"] * 20), sections=sections)
    first, second = name.removeprefix("montuno-").split("-")
    sides = [first if index % 2 == 0 else second for index in range(len(line.bars))]
    return {part.name: part for part in play_band(line, GROOVES[name], seed=4, humanise=0)}, sides


@pytest.mark.parametrize("name", FEELS)
@pytest.mark.parametrize("sections", [(8, 8, 8, 8, 8), (5, 7, 9, 11, 8)])
def test_the_clave_does_not_turn_in_sections_of_odd_length(name, sections):
    parts, sides = played(name, sections)
    line = for_groove(name, " | ".join(["C7", "F7"] * 20), sections=sections)
    bars = notes_by_bar(parts["drums"], line)
    filled = 0
    for bar, side in zip(line.bars, sides, strict=True):
        struck = [str(n.onset_beats - bar.onset_beats) for n in bars[bar.number] if n.midi == CLAVES]
        assert set(struck) <= set(SIDES[side]), bar.number
        filled += struck != SIDES[side]  # fills and crashes take the hands
    assert filled <= 14


@pytest.mark.parametrize("name", FEELS)
def test_the_piano_begins_on_the_beat_of_the_two_side_and_stays_off_it_on_the_three_side(name):
    """A montuno has its stroke on one on the side of two strokes; the other side goes off the beat
    [common practice]."""
    parts, sides = played(name, (5, 7, 9, 11, 8))
    line = for_groove(name, " | ".join(["C7", "F7"] * 20), sections=(5, 7, 9, 11, 8))
    bars = notes_by_bar(parts["comping"], line)
    on_one = {"2": 0, "3": 0}
    for bar, side in zip(line.bars, sides, strict=True):
        on_one[side] += any(n.onset_beats == bar.onset_beats for n in bars[bar.number])
    assert on_one["2"] >= 15
    assert on_one["3"] <= 2  # the loop's first chord
