"""The practice click."""

from fractions import Fraction as F

import pytest

from genex.band.click import play_click
from genex.exercises import Click
from genex.score.checks import equal_pitch_overlaps
from tests.score.test_timeline import timeline

HIGH, LOW = 76, 77  # [published: General MIDI 1: Hi Wood Block, Low Wood Block]


def clicks(meter="4/4", bars=1, **more):
    part = play_click(timeline(["C"] * bars, meter), Click(**more))
    assert equal_pitch_overlaps(part) == []
    return [(str(note.onset_beats), note.midi) for note in part.notes]


def test_every_beat_with_an_accent_on_one():
    assert clicks() == [("0", HIGH), ("1", LOW), ("2", LOW), ("3", LOW)]
    assert [key for _, key in clicks(accent=False)] == [LOW] * 4


def test_two_and_four():
    assert clicks(beats="two and four") == [("1", LOW), ("3", LOW)]
    assert clicks("3/4", beats="two and four") == [("1", LOW)]


def test_one_alone():
    assert clicks(bars=2, beats="one") == [("0", HIGH), ("4", HIGH)]


def test_subdivisions_share_the_beat():
    assert [onset for onset, _ in clicks(subdivide=3)][:4] == ["0", "1/3", "2/3", "1"]
    assert [onset for onset, _ in clicks("6/8", subdivide=3)] == ["0", "1/2", "1", "3/2", "2", "5/2"]


def test_seven_eight_counts_two_two_three():
    assert [onset for onset, _ in clicks("7/8")] == ["0", "1", "2"]
    subdivided = [onset for onset, _ in clicks("7/8", subdivide=2)]
    assert subdivided == ["0", "1/2", "1", "3/2", "2", "5/2", "3"]


def test_the_click_vanishes_for_bars():
    bars = {int(F(onset) // 4) for onset, _ in clicks(bars=9, play_bars=2, drop_bars=1)}
    assert bars == {0, 1, 3, 4, 6, 7}
    assert {int(F(onset) // 4) for onset, _ in clicks(bars=6, drop_bars=1)} == {0, 2, 4}


def test_a_subdivided_click_is_softer_between_the_beats():
    part = play_click(timeline(["C"]), Click(subdivide=2))
    assert part.notes[0].velocity > part.notes[2].velocity > part.notes[1].velocity


@pytest.mark.parametrize(
    "wrong", [{"subdivide": 0}, {"subdivide": 9}, {"play_bars": -1}, {"drop_bars": -1}]
)
def test_settings_that_are_not_ones(wrong):
    with pytest.raises(ValueError):
        clicks(**wrong)
