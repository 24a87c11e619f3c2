"""The checks that every score passes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from genex.score import Role, Score
from genex.score.checks import equal_pitch_overlaps, line_overlaps, require_sound
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
