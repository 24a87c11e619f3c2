"""Rhythms of phrases."""

from collections import Counter
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.lines.rhythm import (
    FEWEST_NOTES,
    NOTES_A_BAR,
    PhraseRhythm,
    Style,
    draw_pickup,
    draw_rhythm,
    family_in,
    latest_ending,
    notes_wanted,
)
from genex.score import Meter

FAMILIES = ["swing", "bossa", "funk", "shuffle", "waltz", "six-eight", "straight", None]


def drawn(meter, bars, level, seed, family=None, **options):
    rng = Random(f"{seed}")
    return draw_rhythm(Style.draw(family, Meter.parse(meter), level, rng), bars, rng, **options)


@given(
    st.sampled_from(["4/4", "3/4", "2/4", "5/4", "6/8", "9/8", "12/8", "7/8"]),
    st.sampled_from(FAMILIES),
    st.integers(1, 8),
    st.integers(1, 6),
    st.integers(0, 300),
)
@settings(max_examples=200, deadline=None)
def test_rhythms_fit_their_bars(meter, family, bars, level, seed):
    signature = Meter.parse(meter)
    rhythm = drawn(meter, bars, level, seed, family)
    assert len(rhythm.bars) == len(rhythm.copies) == bars
    notes = [
        (index * signature.bar_beats + onset, length)
        for index, bar in enumerate(rhythm.bars)
        for onset, length in bar
    ]
    for (onset, length), (following, _) in pairwise(notes):
        assert onset + length <= following
    for bar in rhythm.bars:
        assert all(0 <= onset < signature.bar_beats for onset, _ in bar)
        over = [onset + length > signature.bar_beats for onset, length in bar]
        assert not any(over) or level >= 4, "ties over bar lines come with level 4"
    assert rhythm.bars[0], "a phrase begins in its first bar"
    if level == 1:
        assert rhythm.bars[0][0][0] == 0
    end = notes[-1][0] + notes[-1][1]
    breath = bars * signature.bar_beats - end
    enough = len(signature.pulses) >= 3 or bars > 1
    assert breath >= (signature.pulse_beats if enough else Fraction(1, 2))
    last = bars * signature.bar_beats - signature.bar_beats + latest_ending(signature, alone=bars == 1)
    assert notes[-1][0] <= last
    assert rhythm == drawn(meter, bars, level, seed, family)


@pytest.mark.parametrize("meter", ["4/4", "3/4", "5/4", "6/8", "9/8", "12/8"])
@pytest.mark.parametrize("family", ["swing", "bossa", "funk", "shuffle", "straight"])
def test_phrases_have_about_as_many_notes_as_their_level_says(meter, family):
    for level in range(1, 7):
        counts = [drawn(meter, 4, level, n, family).count for n in range(30)]
        aim = notes_wanted(Meter.parse(meter), 4, level)
        assert abs(sum(counts) / 30 - aim) <= 0.2 * aim
        assert min(counts) >= FEWEST_NOTES


def test_each_level_aims_at_more_notes_than_the_one_before():
    assert all(b - a >= Fraction(1, 2) for a, b in pairwise(NOTES_A_BAR))


def test_twelve_eight_is_no_sparser_than_four_four():
    # a dotted quarter has three eighths: a bar has more notes
    for level in range(1, 7):
        assert notes_wanted(Meter(12, 8), 2, level) > notes_wanted(Meter(4, 4), 2, level)


def test_words_are_read_as_notes():
    rhythm = PhraseRhythm((("x", "-x", "-", "."), ("xxx", "-", ".x", "-")), (None, None), Meter(4, 4))
    third, half = Fraction(1, 3), Fraction(1, 2)
    assert rhythm.bars == (
        ((0, Fraction(3, 2)), (Fraction(3, 2), Fraction(3, 2))),
        ((0, third), (third, third), (2 * third, 4 * third), (5 * half, 3 * half)),
    )
    tied = PhraseRhythm((("x", ".", ".", ".x"), ("-", "-x", "x", ".")), (None, None), Meter(4, 4))
    assert tied.bars[0][-1] == (Fraction(7, 2), 2), "over the bar line"
    assert tied.count == 4


@given(st.sampled_from(["4/4", "3/4", "6/8", "12/8"]), st.integers(1, 6), st.integers(0, 60))
def test_a_pickup_leads_up_to_the_bar_line(meter, level, seed):
    signature = Meter.parse(meter)
    pickup = draw_pickup(signature, level, Random(f"{seed}"))
    if level < 3:
        assert pickup == ()
    if pickup:
        assert -2 * signature.pulse_beats <= pickup[0][0] < 0
        ends = [onset + length for onset, length in pickup]
        assert ends == [*(onset for onset, _ in pickup[1:]), 0]


def test_ideas_come_back_changed_in_the_ways_of_their_level():
    turns = {level: Counter() for level in range(1, 7)}
    for level in turns:
        for seed in range(120):
            rhythm = drawn("4/4", 4, level, seed)
            turns[level].update(copy.turn for copy in rhythm.copies if copy)
    assert set(turns[1]) == {"same", "cut", "divided"}
    assert set(turns[4]) == {"same", "cut", "divided", "later"}
    assert set(turns[6]) == {"same", "cut", "divided", "later", "half later"}


def test_an_idea_later_has_the_notes_of_the_idea_a_beat_later():
    found = 0
    for seed in range(200):
        rhythm = drawn("4/4", 4, 4, seed)
        for index, copy in enumerate(rhythm.copies[:-1]):
            if copy is not None and copy.turn == "later":
                source = [onset + 1 for onset, _ in rhythm.bars[copy.bar] if onset + 1 < 4]
                own = [onset for onset, _ in rhythm.bars[index]]
                # the ending may lead over the last beat, a triplet may lose its tie
                found += own == source
    assert found >= 20


def test_the_last_of_all_is_held_to_the_end():
    for seed in range(40):
        for meter in ("4/4", "3/4", "6/8", "7/8", "2/4"):
            rhythm = drawn(meter, 4, 1 + seed % 6, seed, ending="final")
            onset, length = rhythm.bars[-1][-1]
            assert onset + length == Meter.parse(meter).bar_beats


def test_what_is_taken_up_comes_first():
    for seed in range(30):
        first = drawn("4/4", 2, 2, seed)
        longer = drawn("4/4", 4, 2, seed + 1, like=first)
        assert longer.words[0] == first.words[0]


def test_families_differ():
    """Sixteenths are funk's, triplets swing's and the shuffle's, 6/8 has its own."""
    long_words = {
        family: Counter(
            len(word)
            for seed in range(40)
            for words in drawn("4/4", 4, 5, seed, family).words
            for word in words
        )
        for family in ("swing", "bossa", "funk", "shuffle", "straight")
    }
    assert long_words["funk"][4] > 100 > long_words["swing"][4] == 0
    assert long_words["shuffle"][3] > long_words["swing"][3] > long_words["funk"][3] == 0
    assert family_in(Meter(6, 8), "swing") == "six-eight"
    assert family_in(Meter(3, 4), None) == "waltz"
    assert family_in(Meter(4, 4), None) == family_in(Meter(4, 4), "six-eight") == "straight"


def test_no_tie_leads_from_a_triplet_into_eighths():
    for seed in range(150):
        words = [w for bar in drawn("4/4", 4, 6, seed, "shuffle").words for w in bar]
        for before, after in pairwise(words):
            assert not (len(before) == 3 and before[-1] == "x" and after[0] == "-" and len(after) != 3)
