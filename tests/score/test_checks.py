"""The checks that every score passes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

import pytest

from genex.score import Fretting, HeldGrip, Role, Score
from genex.score.checks import chord_faults, equal_pitch_overlaps, line_overlaps, require_sound
from tests.score.test_model import note, part
from tests.score.test_timeline import timeline


def test_overlaps_are_found():
    assert equal_pitch_overlaps(part(note(0, 2), note(1, 1))) == [(60, 1)]
    assert equal_pitch_overlaps(part(note(0, 2), note(1, 1, "D4"))) == []
    assert line_overlaps(part(note(0, 2), note(1, 1, "D4"))) == [1]
    assert line_overlaps(part(note(0, 1), note(1, 1, "D4"))) == []


def test_a_broken_score_is_never_let_through():
    good = Score("t", "f", timeline(["C"]), (part(note(0, 1)),))
    require_sound(good)
    for bad, why in [
        (part(note(0, 2), note(1, 1, "D4")), "single line"),
        (part(note(0, 2), note(1, 1), role=Role.COMPING), "overlaps equal"),
        (part(note(4, 1)), "after the last bar"),
    ]:
        with pytest.raises(ValueError, match=why):
            require_sound(replace(good, parts=(bad,)))


def held(string: int, onset: object, length: object, pitch: str, **changes: object):
    return replace(note(onset, length, pitch), fretting=Fretting(string, 5, 1), **changes)


def chords(*notes):
    return replace(part(*notes), grips=(HeldGrip(F(0), notes),))


def test_a_part_of_chords_may_strike_together_and_let_strings_ring():
    sound = chords(held(3, 0, 2, "C4"), held(2, 0, 2, "E4"), held(3, 2, 2, "D4"))
    assert chord_faults(sound) == []
    require_sound(Score("t", "f", timeline(["C"]), (sound,)))
    ringing = chords(held(3, 0, 1, "C4", sounding_beats=F(3)), held(2, 1, 1, "E4"))
    assert chord_faults(ringing) == []


@pytest.mark.parametrize(
    "notes",
    [
        (held(3, 0, 2, "C4"), held(3, 0, 2, "E4")),  # two notes on a string
        (held(3, 0, 2, "C4"), held(2, 0, 1, "E4")),  # struck together, of unlike length
        (held(3, 0, 2, "C4"), held(2, 1, 1, "E4")),  # written into the next stroke
        (held(3, 0, 1, "C4", sounding_beats=F(2)), held(3, 1, 1, "D4")),  # a string twice at a time
        (note(0, 1, "C4"), note(0, 1, "E4")),  # on no string
    ],
)
def test_a_part_of_chords_that_no_hand_holds_is_never_let_through(notes):
    assert chord_faults(chords(*notes)) != []
    with pytest.raises(ValueError, match="no hand holds"):
        require_sound(Score("t", "f", timeline(["C"]), (chords(*notes),)))
