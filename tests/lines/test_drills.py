from collections import Counter
from itertools import pairwise
from random import Random

import pytest

from genex.errors import LineError
from genex.lines.drills import (
    INTERVALS,
    DrillSettings,
    balanced,
    chord_drill,
    degree_drill,
    interval_drill,
    progression_drill,
)
from genex.score import Meter
from genex.score.checks import equal_pitch_overlaps, line_overlaps
from genex.theory import Key, parse_chord

DRILLS = (interval_drill, chord_drill, degree_drill, progression_drill)


def notes_in(part, cue):
    return [n for n in part.notes if cue.onset_beats <= n.onset_beats < cue.end_beats]


def of_kind(plan, kind):
    return [cue for cue in plan.cues if cue.kind == kind]


@pytest.mark.parametrize("drill", DRILLS)
@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8"])
def test_question_silence_and_confirmation(drill, meter):
    plan = drill(DrillSettings(meter=Meter.parse(meter), rounds=1))
    lead = plan.parts[0]
    assert line_overlaps(lead) == []
    assert all(equal_pitch_overlaps(part) == [] for part in plan.parts)
    for listen, think, answer in zip(
        *(of_kind(plan, k) for k in ("listen", "play", "answer")), strict=True
    ):
        assert listen.end_beats == think.onset_beats and think.end_beats == answer.onset_beats
        asked = notes_in(lead, listen) + [
            n for part in plan.parts[1:] if part.name == "question" for n in notes_in(part, listen)
        ]
        assert asked
        assert notes_in(lead, answer)
        sounding = [part for part in plan.parts if part.name != "drone"]
        assert not any(
            n.onset_beats < think.end_beats and n.written_end_beats > think.onset_beats
            for part in sounding
            for n in part.notes
        )
    assert all(span.chord is None for span in plan.timeline.chords), "no symbol gives it away"
    assert len(plan.answers) == len(of_kind(plan, "listen"))


@pytest.mark.parametrize("drill", DRILLS)
def test_every_item_comes_equally_often_and_never_twice_in_a_row(drill):
    plan = drill(DrillSettings(rounds=3))
    kinds = [answer.text.split(":")[0] for answer in plan.answers]
    assert set(Counter(kinds).values()) == {3}
    assert all(a != b for a, b in pairwise(kinds))


def test_balance():
    order = balanced(["a", "b", "c"], 50, Random("x"))
    assert Counter(order) == {"a": 50, "b": 50, "c": 50}
    assert all(a != b for a, b in pairwise(order))
    assert balanced(["a"], 3, Random("x")) == ["a"] * 3
    assert len({tuple(order[n : n + 3]) for n in range(0, 150, 3)}) == 6, "all orders come up"


# semitones of the intervals [published: any theory of music; MIDI numbers]
SEMITONES = dict(zip(INTERVALS, range(1, 13), strict=True))


@pytest.mark.parametrize("direction", ["ascending", "descending"])
def test_intervals_sound_as_they_are_named(direction):
    plan = interval_drill(DrillSettings(rounds=1, direction=direction))
    for answer in plan.answers:
        first, second = answer.notes[:2]
        name = answer.text.partition(":")[0].removesuffix(" up").removesuffix(" down")
        assert abs(second.midi - first.midi) == SEMITONES[name]
        assert (second.midi > first.midi) == (direction == "ascending")
        # the confirmation walks from the one to the other
        walk = [n.midi for n in answer.notes[2:]]
        assert walk[0] == first.midi and walk[-1] == second.midi
        assert all(0 < abs(b - a) <= 2 for a, b in pairwise(walk)) or name == "tritone"


def test_intervals_struck_together():
    plan = interval_drill(DrillSettings(rounds=1, direction="together"))
    question = plan.parts[1]
    for listen, answer in zip(of_kind(plan, "listen"), plan.answers, strict=True):
        low, high = notes_in(question, listen)
        assert high.midi - low.midi == SEMITONES[answer.text.partition(":")[0]]


def test_chords_are_confirmed_by_their_arpeggio():
    plan = chord_drill(DrillSettings(rounds=1))
    for listen, answer in zip(of_kind(plan, "listen"), plan.answers, strict=True):
        chord = parse_chord(answer.text.split(": ")[1].split(" ")[0])
        struck = notes_in(plan.parts[1], listen)
        assert {n.midi % 12 for n in struck} == chord.pitch_classes
        assert [n.degree for n in answer.notes] == list(chord.degrees)


def test_degrees_go_home_to_the_tonic_over_a_drone():
    plan = degree_drill(DrillSettings(rounds=1, key=Key.parse("E minor")))
    assert [part.name for part in plan.parts] == ["degree-drill", "drone"]
    assert {str(n.pitch.name) for n in plan.parts[1].notes} == {"E", "B"}
    assert plan.parts[1].notes[-1].written_end_beats == plan.length_beats
    for answer in plan.answers:
        assert str(answer.notes[-1].pitch.name) == "E"
        assert str(answer.notes[0].degree) == answer.text.split()[0]


def test_progressions_are_struck_twice_with_their_roots_shown_the_second_time():
    plan = progression_drill(DrillSettings(rounds=1))
    for listen, confirm, answer in zip(
        of_kind(plan, "listen"), of_kind(plan, "answer"), plan.answers, strict=True
    ):
        chords = [parse_chord(text) for text in answer.text.split(": ")[1].split()]
        question = plan.parts[1]
        assert [n.midi for n in notes_in(question, listen)] == [
            n.midi for n in notes_in(question, confirm)
        ]
        assert [n.pitch.name for n in answer.notes] == [chord.root for chord in chords]


def test_own_items():
    plan = interval_drill(DrillSettings(items=("major third", "perfect fourth"), rounds=4))
    assert len(plan.answers) == 8
    plan = progression_drill(DrillSettings(items=("I bVII IV I",), rounds=1, key=Key.parse("D")))
    assert plan.answers[0].text == "I bVII IV I: D C G D"


@pytest.mark.parametrize(
    ("drill", "items", "message"),
    [
        (interval_drill, ("third",), "not an interval"),
        (chord_drill, ("wonky",), "not the quality"),
        (degree_drill, ("x",), "not a degree"),
        (progression_drill, ("I Q V",), "Q"),
        (interval_drill, (), "one item or more"),
        (interval_drill, ("octave", "octave"), "each named once"),
    ],
)
def test_refusals(drill, items, message):
    with pytest.raises(LineError, match=message):
        drill(DrillSettings(items=items))
    with pytest.raises(LineError, match="a round"):
        drill(DrillSettings(rounds=0))
