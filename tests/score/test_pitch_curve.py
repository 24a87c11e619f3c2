"""The pitch of bent notes and of vibrato, against what guitarists say of them."""

from fractions import Fraction as F
from itertools import pairwise

import pytest

from genex.score import Bend, Note, Slide, height_at, pitch_curve
from genex.theory import Pitch


def note(**how):
    return Note(F(0), F(2), Pitch.parse("D4"), **how)


def test_a_note_that_keeps_its_pitch_has_no_curve():
    assert pitch_curve(note(), F(2), F(120)) == ()


@pytest.mark.parametrize("semitones", [1, 2])
def test_a_bend_goes_up_and_stays(semitones):
    curve = pitch_curve(note(bend=Bend(semitones)), F(2), F(120))
    assert height_at(curve, F(0)) == 0
    assert height_at(curve, F(1, 4)) == F(semitones, 2)  # half way up after half an eighth
    assert height_at(curve, F(1, 2)) == height_at(curve, F(2)) == semitones


def test_a_release_goes_back():
    curve = pitch_curve(note(bend=Bend(2, releases=True)), F(2), F(120))
    assert [height_at(curve, F(quarters, 4)) for quarters in (0, 2, 4, 5, 6, 8)] == [0, 2, 2, 1, 0, 0]


def test_vibrato_goes_up_from_the_note_and_back_five_and_a_half_times_a_second():
    curve = pitch_curve(note(vibrato=True), F(4), F(60))
    heights = [height for _, height in curve]
    assert (min(heights), max(heights)) == (0, F(1, 3))
    tops = [at for at, height in curve if height == F(1, 3)]
    assert {b - a for a, b in pairwise(tops)} == {F(2, 11)}  # a beat is a second
    assert curve[0][0] == F(1, 2)  # the note is heard first
    assert curve[-1][0] < 4


def test_vibrato_waits_for_bend_and_slide():
    bent = pitch_curve(note(vibrato=True, bend=Bend(2)), F(2), F(120))
    assert min(height for at, height in bent if at >= F(1, 2)) == 2
    slid = pitch_curve(note(vibrato=True, slide=Slide(-2, F(1))), F(2), F(120))
    assert slid[0][0] == 1
