"""The one note of studies of rhythm."""

from __future__ import annotations

import pytest

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.rhythms import Subdivisions
from genex.fretboard import TUNINGS
from genex.lines.rhythm_studies import subdivisions
from genex.theory import all_keys
from tests.lines.line_charts import chart


@pytest.mark.parametrize("neck", TUNINGS)
def test_the_tonic_in_the_middle_of_every_neck(neck):
    for key in all_keys():
        plan = subdivisions(chart("N.C.", key=str(key)), Subdivisions(), Player(tuning=TUNINGS[neck]))
        (part,) = plan.parts
        assert {n.pitch.name for n in part.notes} == {key.tonic}
        first = part.notes[0]
        assert 1 <= first.fretting.fret <= 12
        assert part.strings[first.fretting.string - 1].midi + first.fretting.fret == first.midi
        # the finger stays, and is told once
        assert first.fretting.finger and all(n.fretting.finger is None for n in part.notes[1:])


def test_a_note_off_the_neck_is_refused():
    with pytest.raises(LineError, match="C8 lies above"):
        subdivisions(chart("N.C."), Subdivisions(note="C8"), Player())
