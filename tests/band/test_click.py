"""The practice click."""

from fractions import Fraction as F

import pytest

from genex.band.click import BEAT, play_click
from genex.compose import compose
from genex.exercises import Click
from genex.recipe import parse_recipe
from genex.score import Note, Part, Role
from genex.score.checks import equal_pitch_overlaps
from genex.theory import Pitch
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


def test_the_click_may_lie_on_any_subdivision():
    assert clicks(subdivide=2, only=[2], accent=False) == [
        ("1/2", LOW), ("3/2", LOW), ("5/2", LOW), ("7/2", LOW)
    ]  # fmt: skip
    assert [onset for onset, _ in clicks(beats="one", subdivide=4, only=[4])] == ["3/4"]
    assert [onset for onset, _ in clicks("6/8", subdivide=3, only=[1, 3])] == ["0", "1", "3/2", "5/2"]
    part = play_click(timeline(["C"]), Click(subdivide=2, only=[2]))
    assert {note.velocity for note in part.notes} == {BEAT}  # the only click is no ghost


def test_gaps_grow_up_to_the_longest():
    bars = {
        int(F(onset) // 4)
        for onset, _ in clicks(bars=20, play_bars=2, drop_bars=1, grow_bars=2, most_drop_bars=4)
    }
    # two with, one without, two with, three without, two with, four without, two with, four without
    assert bars == {0, 1, 3, 4, 8, 9, 14, 15}


def test_three_eight_counts_three():
    assert [onset for onset, _ in clicks("3/8")] == ["0", "1/2", "1"]


def test_a_pulse_fills_the_silence_of_a_line_and_is_soft():
    line = timeline(["C"] * 6)
    notes = [Note(F(beat), F(1), Pitch.parse("C4"), 80) for beat in (0, 1, 2, 3, 12, 13, 15)]
    part = play_click(line, Click(in_silence=True), [Part.of("call", Role.LEAD, 0, notes)])
    onsets = [int(note.onset_beats) for note in part.notes]
    assert onsets == [*range(4, 12), *range(16, 24)]  # the rest in bar 4 is part of the phrase
    plain = play_click(line, Click())
    assert max(n.velocity for n in part.notes) < 0.6 * max(n.velocity for n in plain.notes)


def test_calls_have_a_pulse_in_the_answering_bars():
    recipe = parse_recipe(
        "chords: Dm7 | G7 | Cmaj7 | Am7\nparts: [exercise, click]\nexercise: calls\n"
        "click: {in_silence: true}"
    )
    score = compose(recipe).score
    (click,) = [part for part in score.parts if part.role is Role.CLICK]
    lead = {note.onset_beats for part in score.lead_parts for note in part.notes}
    assert click.notes and not lead & {note.onset_beats for note in click.notes}


@pytest.mark.parametrize(
    "wrong",
    [
        {"subdivide": 0},
        {"subdivide": 9},
        {"play_bars": -1},
        {"drop_bars": -1},
        {"only": [0]},
        {"grow_bars": -1},
        {"most_drop_bars": 0},
    ],
)
def test_settings_that_are_not_ones(wrong):
    with pytest.raises(ValueError):
        clicks(**wrong)
