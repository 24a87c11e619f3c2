"""Passages that are written once: passes of a repeat, and a jump back."""

from fractions import Fraction as F

import pytest

from genex.score import JumpSpan, RepeatSpan


def test_a_repeat_has_a_pass_for_each_ending():
    repeat = RepeatSpan(F(8), F(4), (F(4), F(8)))
    assert [(turn.onset_beats, turn.ending_beats, turn.end_beats) for turn in repeat.passes] == [
        (8, 12, 16),
        (16, 20, 28),
    ]
    with pytest.raises(ValueError, match="two passes"):
        RepeatSpan(F(0), F(4), (F(0),))


def test_a_jump_moves_as_a_whole_and_tells_its_signs():
    jump = JumpSpan("D.S. al Coda", "To Coda", F(4), F(12), F(16), (F(4), F(8)), F(24))
    later = jump.moved(F(32))
    assert (later.target_beats, later.leave_beats, later.onset_beats) == (36, 44, 48)
    assert (later.again_beats, later.end_beats) == ((36, 40), 56)
    assert later.has_segno and later.has_coda
    assert not JumpSpan("D.C.", "", F(0), F(8), F(8), (F(0), F(4)), F(16)).has_segno
