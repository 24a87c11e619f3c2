"""Rhythms to recognise: what is struck is what is written. [common practice]"""

from fractions import Fraction

import pytest

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.asking import Drill
from genex.lines.drills import drill
from genex.lines.rhythm_drill import RHYTHMS, times_of, usual_rhythms
from genex.score import Meter, Role
from tests.lines.line_charts import chart

METERS = ("2/4", "3/4", "4/4", "5/4", "6/8", "9/8", "12/8", "7/8")


@pytest.mark.parametrize(
    ("text", "meter", "times"),
    [
        ("x -x . x", "4/4", ((0, "3/2"), ("3/2", "1/2"), (3, 1))),
        ("xxx x-x", "6/8", ((0, "1/2"), ("1/2", "1/2"), (1, "1/2"), ("3/2", 1), ("5/2", "1/2"))),
        ("x x", "2/4", ((0, 1), (1, 1))),
        (". x xx xx", "2/4", ((1, 1), (2, "1/2"), ("5/2", "1/2"), (3, "1/2"), ("7/2", "1/2"))),
    ],
)
def test_times(text, meter, times):
    expected = tuple((Fraction(onset), Fraction(length)) for onset, length in times)
    assert times_of(text, Meter.parse(meter)) == expected


@pytest.mark.parametrize("meter", METERS)
def test_the_usual_rhythms_fill_a_bar_and_differ(meter):
    parsed = Meter.parse(meter)
    items = usual_rhythms(parsed)
    assert len(items) >= 2
    found = {times_of(item, parsed) for item in items}
    assert len(found) == len(items)
    assert all(times[-1][0] < parsed.bar_beats for times in found)


def test_no_rhythm_is_another_in_the_table():
    assert all(len(set(items)) == len(items) == 6 for items in RHYTHMS.values())


@pytest.mark.parametrize("meter", METERS)
def test_a_rhythm_is_asked_and_confirmed_on_one_note_over_a_beat(meter):
    plan = drill(chart("N.C.", meter=meter), Drill(ask="rhythm"), Player())
    parsed = Meter.parse(meter)
    lead, pulse = plan.parts
    assert pulse.role is Role.CLICK
    assert len(pulse.notes) == len(plan.timeline.bars) * len(parsed.pulses)
    rhythms = {choice.text: choice.rhythm for choice in plan.choices}
    assert len({note.midi for note in lead.notes}) == 1
    for kind in ("listen", "answer"):
        cues = [cue for cue in plan.cues if cue.kind == kind]
        for cue, answer in zip(cues, plan.answers, strict=True):
            letter = answer.text.partition(":")[0]
            heard = tuple(
                (n.onset_beats - cue.onset_beats, n.duration_beats)
                for n in lead.notes
                if cue.onset_beats <= n.onset_beats < cue.end_beats
            )
            assert heard == rhythms[letter]


@pytest.mark.parametrize(
    ("item", "message"),
    [
        ("x x x", "does not fill"),
        ("x x x q", "not the rhythm of a beat"),
        (". . . .", "strikes nothing"),
        (" ".join("x" * 12), "does not fill"),
    ],
)
def test_refusals(item, message):
    with pytest.raises(LineError, match=message):
        drill(chart("N.C."), Drill(ask="rhythm", items=(item,)), Player())
