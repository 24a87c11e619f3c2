"""Walks over shapes in time."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.lines.note_slots import RHYTHMS
from genex.lines.walk_times import slots_of_group, walk_times
from genex.score import Meter

METERS = ["2/4", "3/4", "4/4", "5/4", "6/8", "7/8", "9/8", "12/8"]


def test_the_last_note_waits_for_the_beat_and_is_held() -> None:
    """[common practice]: ten eighths, the ninth lengthened to reach the beat"""
    times = walk_times(10, "eighths", Meter.parse("4/4"))
    assert [onset for onset, _ in times.notes] == [*(Fraction(i, 2) for i in range(9)), 5]
    assert [length for _, length in times.notes[-2:]] == [1, 3]
    assert times.bars == 2


def test_quarters_end_in_the_bar_after_the_last_beat() -> None:
    times = walk_times(4, "quarters", Meter.parse("4/4"))
    assert times.notes[-1] == (3, 5) and times.bars == 2


@pytest.mark.parametrize(
    ("group", "rhythm", "meter", "slots"),
    [
        # [common practice]: three notes and the first held in eighths, one beat in triplets
        (3, "eighths", "4/4", 4),
        (3, "triplets", "4/4", 3),
        (3, "sixteenths", "4/4", 4),
        (2, "triplets", "4/4", 3),
        (2, "sixteenths", "4/4", 2),
        (3, "eighths", "6/8", 3),
        (5, "eighths", "4/4", 8),
        (5, "triplets", "4/4", 6),
        (5, "eighths", "3/4", 6),
        (3, "quarters", "3/4", 3),
        (3, "quarters", "4/4", 4),
    ],
)
def test_what_a_group_takes(group: int, rhythm: str, meter: str, slots: int) -> None:
    per_beat = {"quarters": 1, "eighths": 2, "triplets": 3, "sixteenths": 4}[rhythm]
    beats = {"4/4": 4, "3/4": 3, "6/8": 2}[meter]
    per_beat = 3 if meter == "6/8" else per_beat
    assert slots_of_group(group, per_beat, per_beat * beats) == slots


@given(
    st.integers(1, 40),
    st.sampled_from(RHYTHMS),
    st.sampled_from(METERS),
    st.integers(1, 6),
    st.sampled_from([None, "first", "last"]),
    st.sampled_from([0, 2, 3, 4, 5]),
)
def test_every_walk_ends_on_a_beat_and_is_held_to_a_bar_line(
    groups: int, rhythm: str, meter: str, group: int, held: str | None, rest_every: int
) -> None:
    signature = Meter.parse(meter)
    times = walk_times(
        groups * group + 1,
        rhythm,
        signature,
        group=group,
        held=held,
        rest_every=rest_every,  # type: ignore[arg-type]
    )
    assert len(times.notes) == groups * group + 1
    assert times.notes[0][0] == 0
    for (onset, length), (after, _) in pairwise(times.notes):
        assert length > 0 and onset + length <= after
        assert rest_every or onset + length == after
    onset, length = times.notes[-1]
    assert onset % signature.bar_beats in signature.pulses
    assert onset + length == times.bars * signature.bar_beats
    if held and group > 1 and not rest_every and signature.unit == 4:
        starts = [onset for onset, _ in times.notes[::group]]
        assert all(start % Fraction(1, 2) == 0 for start in starts) or rhythm == "dotted"
