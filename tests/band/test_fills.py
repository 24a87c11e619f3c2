"""Fills: when they begin, in what they differ, how they are dealt."""

from __future__ import annotations

from fractions import Fraction

import pytest

from genex.band import Groove, play_band
from genex.band.bar_plans import Shape, plan_bars
from genex.band.fills import Rank, deal_fills
from genex.band.groove_files import groove_of
from genex.text.yaml_source import parse_source
from tests.band.charts import notes_by_bar, timeline

F = Fraction
KICK, SNARE, RIDE = 36, 38, 51


def groove(*fills: str) -> Groove:
    rows = "".join(f"\n    - {fill}" for fill in fills)
    text = f'drums:\n  layers: {{a: [{{ride: "7 7 7 7", kick: "7 . . ."}}]}}\n  fills:{rows}\n'
    return groove_of(parse_source(text, "d.yaml"), "d")


def dealt(found: Groove, bars: int = 32, choruses: int = 3, seed: int = 1, **how):
    line = timeline(" | ".join(["C"] * bars), choruses=choruses, sections=(8,) * (bars // 8))
    return deal_fills(plan_bars(line, Shape()), found.drums, found.beats, seed, **how)


FOUR = groove(
    '{snare: ". . . 56"}',
    '{snare: ". . . 5566", kick: "7 . . 7"}',
    '{snare: ". . 66 66"}',
    '{snare: ". 77 77 77", high tom: ". . . .7"}',
)


def test_the_time_goes_on_until_a_hand_begins_the_fill():
    """Feet that a fill writes before its first stroke of a hand do not stop the ride."""
    one = groove('{snare: ". . . 6666", kick: "7 . 7 7"}')
    line = timeline("C | C | C | C")
    (part,) = play_band(line, one, seed=1, humanise=0)
    last = [(note.midi, note.onset_beats % 4) for note in notes_by_bar(part, line)[4]]
    assert [onset for key, onset in last if key == RIDE] == [0, 1, 2]
    assert [onset for key, onset in last if key == SNARE] == [3, F(13, 4), F(7, 2), F(15, 4)]
    assert [onset for key, onset in last if key == KICK] == [0, 3]


def test_the_largest_fills_end_choruses():
    for seed in range(10):
        found = dealt(FOUR, seed=seed)
        sizes = {rank: [fill.size for where, fill in found.values() if where is rank] for rank in Rank}
        assert min(sizes[Rank.CHORUS]) > max(sizes[Rank.PHRASE], default=0)
        assert all(found[bar][0] is Rank.CHORUS for bar in (31, 63, 95))


def test_fills_are_louder_the_more_they_end():
    (fill,) = (fill for _, fill in dealt(groove('{snare: ". . . 5"}'), 4, 1).values())
    assert [fill.at(rank)[0][2] for rank in Rank] == [3, 4, 5, 6]


@pytest.mark.parametrize("seed", range(10))
def test_none_comes_twice_in_a_row_and_all_before_one_again(seed):
    found = dealt(FOUR, choruses=4, seed=seed)
    order = [fill.heard for _, (_, fill) in sorted(found.items())]
    assert all(one != other for one, other in zip(order, order[1:] + order[:1], strict=True))
    ends = [fill.heard for _, (rank, fill) in sorted(found.items()) if rank is Rank.CHORUS]
    assert ends[0] != ends[1] and set(ends[:2]) == set(ends[2:])


def test_a_feel_with_one_fill_has_more_of_the_same_words():
    """Its last beat alone, and that with fewer strokes."""
    found = dealt(groove('{snare: ". . 66 6666"}'), choruses=6)
    starts = {fill.length_beats for _, fill in found.values()}
    assert starts == {F(1), F(2)}
    assert len({fill.heard for _, fill in found.values()}) == 3


def test_a_line_that_rests_is_answered_with_a_short_fill_that_waits_for_it():
    rests = dict.fromkeys(range(1, 96, 4), F(3))
    found = [fills for seed in range(5) for fills in [dealt(FOUR, seed=seed, rests=rests)]]
    answers = [
        (bar, fill) for fills in found for bar, (rank, fill) in fills.items() if rank is Rank.ANSWER
    ]
    assert 15 < len(answers) < 60
    assert all(bar in rests and fill.length_beats <= 1 for bar, fill in answers)


def test_a_phrase_end_under_a_line_that_goes_on_is_left_alone():
    counts = {}
    for case, rests in (
        ("alone", None),
        ("goes on", {}),
        ("rests", dict.fromkeys(range(3, 96, 8), F(2))),
    ):
        counts[case] = sum(
            rank is Rank.PHRASE
            for seed in range(12)
            for rank, _ in dealt(FOUR, seed=seed, rests=rests).values()
        )
    assert counts["goes on"] < counts["alone"] < counts["rests"]


def test_stops_and_rests_have_no_fill():
    line = timeline(" | ".join(["C"] * 8), choruses=2)
    plans = plan_bars(line, Shape(stops=(8,), bar_mutes={16: ("drums",)}))
    assert not {7, 15} & deal_fills(plans, FOUR.drums, FOUR.beats, 1).keys()
