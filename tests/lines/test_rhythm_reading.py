"""Pages of rhythms to read."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from genex.exercises import Player
from genex.exercises.models.rhythms import Reading
from genex.lines.rhythm_cells import cells_of
from genex.lines.rhythm_reading import draw_page, reading, strokes_of
from genex.score import Meter
from tests.lines.line_charts import chart
from tests.lines.rhythm_sheets import assert_reads_back

FAMILIES = ["swing", "bossa", "funk", "shuffle", "waltz", "straight"]
METERS = ["2/4", "3/4", "4/4", "5/4", "7/8", "6/8", "9/8", "12/8"]


def page(family, meter, level, number=1, bars=16):
    return draw_page(family, Meter.parse(meter), level, bars, Random(f"{family}{level}{number}"))


@example("swing", "3/4", 1, 1, 17)
@given(
    st.sampled_from(FAMILIES), st.sampled_from(METERS), st.integers(1, 6), st.integers(1, 60),
    st.integers(2, 24),
)  # fmt: skip
@settings(max_examples=150)
def test_every_page_can_be_read(family, meter, level, number, bars):
    signature = Meter.parse(meter)
    words = page(family, meter, level, number, bars)
    assert len(words) == bars
    assert words[0][0][0] == "x", "it begins with its first beat"
    flat = [word for bar in words for word in bar]
    for before, word in pairwise(flat):
        assert not (before[-1] == "." and word[0] == "-"), "nothing silent is held"
        assert {before[0], word[0]} != {"."} or "x" in before + word, "no two beats are silent"
    strokes = strokes_of(words, signature)
    assert all(any(letter == "x" for word in bar for letter in word) for bar in words)
    for before, after in pairwise(strokes):
        assert before.onset + before.length <= after.onset
    last = strokes[-1]
    assert last.onset + last.length == bars * signature.bar_beats
    assert last.onset % signature.bar_beats in signature.pulses


@pytest.mark.parametrize(
    ("family", "level"),
    [(family, level) for at, family in enumerate(FAMILIES) for level in range(1 + at % 2, 7, 2)],
)
def test_a_year_of_weeks_has_other_pages(family, level):
    """52 weeks: no page twice, and hardly a line of four bars that comes twice."""
    pages = [page(family, "4/4", level, number) for number in range(52)]
    assert len(set(pages)) == 52
    lines = [each[at : at + 4] for each in pages for at in (0, 4, 8, 12)]
    assert len(set(lines)) >= len(lines) - 2
    for each in pages:
        assert len(set(each)) >= 15


@pytest.mark.parametrize("level", range(2, 7))
@pytest.mark.parametrize("family", FAMILIES)
def test_each_level_practises_what_it_brings(family, level):
    """In the mean of many pages the cells that a level is the first to have take a share of the page."""
    new = {cell.words for cell in cells_of(family, level)}
    new -= {cell.words for lower in range(1, level) for cell in cells_of(family, lower)}
    there = 0
    for number in range(20):
        words = page(family, "4/4", level, number)
        there += sum(
            any(bar[at : at + len(cell)] == cell for cell in new for at in range(len(bar)))
            for bar in words
        )
    assert not new or there >= 20 * 4, "four bars of sixteen"


@pytest.mark.parametrize("meter", METERS)
@pytest.mark.parametrize("level", [1, 3, 4, 6])
def test_a_page_reads_back(meter, level):
    for family in ("swing", "funk"):
        player = Player(family=family, title="Window Box")
        plan = reading(chart("N.C.", meter=meter), Reading(level=level, bars=8), player)
        assert_reads_back(plan)
        assert [cue.text for cue in plan.cues] == [
            f"Level {level}, page 1, line 1",
            f"Level {level}, page 1, line 2",
        ]


def test_titles_seeds_and_pages_are_other_pages():
    def onsets(player, **fields):
        plan = reading(chart("N.C."), Reading(level=3, **fields), player)
        return [note.onset_beats for note in plan.parts[0].notes]

    first = onsets(Player())
    assert first == onsets(Player())
    others = [onsets(Player(seed=2)), onsets(Player(title="Rain")), onsets(Player(), page=2)]
    assert all(other != first for other in others)
