from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import LineError
from genex.lines.note_slots import RHYTHMS, accent, accented, bars_under, slots, slots_by_span
from genex.score import Meter
from tests.lines.line_charts import chart

CHARTS = ("C | F", "C | F G | % | Am", "C F G | Dm", "C F G Am Bdim | C", "N.C. | C")
METERS = ("4/4", "3/4", "2/4", "5/4", "6/8", "9/8", "12/8", "7/8", "2/2")


def onsets(text, rhythm, meter="4/4", **options):
    return [slot.onset_beats for slot in slots(chart(text, meter=meter), rhythm, **options)]


def test_rhythms_of_a_bar():
    third = Fraction(1, 3)
    assert onsets("C", "quarters") == [0, 1, 2, 3]
    assert onsets("C", "eighths") == [Fraction(n, 2) for n in range(8)]
    assert onsets("C", "triplets") == [n * third for n in range(12)]
    assert onsets("C", "sixteenths") == [Fraction(n, 4) for n in range(16)]
    assert onsets("C", "dotted", "2/4") == [0, Fraction(3, 4), 1, Fraction(7, 4)]


@pytest.mark.parametrize("meter", ["6/8", "9/8", "12/8"])
def test_compound_meters_run_in_their_natural_eighths(meter):
    count = int(meter.partition("/")[0])
    eighths = [Fraction(n, 2) for n in range(count)]
    assert onsets("C", "eighths", meter) == eighths
    assert onsets("C", "triplets", meter) == eighths
    assert onsets("C", "quarters", meter) == eighths[::3]


@given(st.sampled_from(CHARTS), st.sampled_from(METERS), st.sampled_from(RHYTHMS))
def test_slots_leave_no_gap_and_never_straddle_a_bar_line(text, meter, rhythm):
    timeline = chart(text, meter=meter)
    found = slots(timeline, rhythm)
    assert found[0].onset_beats == 0
    assert found[-1].end_beats == timeline.length_beats
    for before, after in pairwise(found):
        assert before.end_beats == after.onset_beats
    for slot in found:
        assert slot.length_beats > 0
        assert slot.span.onset_beats <= slot.onset_beats < slot.span.end_beats
        assert slot.end_beats <= timeline.bar_at(slot.onset_beats).end_beats


def test_a_change_inside_a_slot_cuts_it():
    found = slots(chart("C F G Am Bdim C D E"), "quarters")
    assert [slot.length_beats for slot in found] == [Fraction(1, 2)] * 8


def test_rests_come_every_so_many_slots_of_a_bar():
    timeline = chart("C | F")
    sounding = [
        slot.onset_beats
        for _, group in slots_by_span(slots(timeline, "quarters", rest_every=4))
        for slot in group
    ]
    assert sounding == [0, 1, 2, 4, 5, 6]


@pytest.mark.parametrize("meter", METERS)
def test_accents_follow_the_meter(meter):
    """The first of a bar is strongest, then the other pulses, then what lies between them
    [common practice]."""
    signature = Meter.parse(meter)
    first, pulse, between = (
        accent(80, onset, signature)
        for onset in (Fraction(0), signature.pulse_beats, signature.pulse_beats / 2)
    )
    assert first > pulse > between > 60
    # MIDI has velocities from 1 to 127 [published: MIDI 1.0; a note-on of 0 is a note-off].
    assert accent(125, Fraction(0), signature) == 127
    assert accent(3, signature.pulse_beats / 2, signature) == 1


def test_a_change_is_accented_like_the_first_of_a_bar():
    timeline = chart("C F | G")
    loud = [accented(80, slot, timeline) for slot in slots(timeline, "quarters")]
    assert loud == [88, 80, 88, 80, 88, 80, 80, 80]


def test_the_bars_under_a_chord():
    timeline = chart("C | C F | F | G")
    spans = timeline.merged_chords
    found = [[bar.number for bar in bars_under(timeline, span)] for span in spans]
    assert found == [[1, 2], [2, 3], [4]]


def test_a_rest_on_every_second_slot_is_allowed():
    timeline = chart("C")
    found = slots(timeline, "quarters", rest_every=2)
    assert [slot.is_rest for slot in found] == [False, True, False, True]
    with pytest.raises(LineError, match="rest"):
        slots(timeline, "quarters", rest_every=-1)


@pytest.mark.parametrize(
    ("meter", "rhythm", "lengths"),
    [
        # What a bar line leaves over is played on by the note before where it is shorter than a
        # sixteenth, and a note of its own from there on.
        ("7/8", "quarters", [1, 1, 1, Fraction(1, 2)]),
        ("5/8", "dotted", [Fraction(3, 4), Fraction(1, 4)] * 2 + [Fraction(1, 2)]),
        ("7/8", "triplets", [Fraction(1, 3)] * 9 + [Fraction(1, 2)]),
    ],
)
def test_a_bar_ends_with_what_is_left(meter, rhythm, lengths):
    assert [slot.length_beats for slot in slots(chart("C", meter=meter), rhythm)] == lengths


def test_what_is_not_a_rhythm_is_refused():
    with pytest.raises(LineError, match="'crotchets' is not a rhythm"):
        slots(chart("C"), "crotchets")
    with pytest.raises(LineError, match="rest"):
        slots(chart("C"), "eighths", rest_every=1)
