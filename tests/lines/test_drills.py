from collections import Counter
from itertools import pairwise
from random import Random
from typing import get_args

import pytest

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.asking import Ask, Drill
from genex.fretboard import STANDARD
from genex.lines.chord_drills import _close_voicings
from genex.lines.drill_track import balanced
from genex.lines.drills import INTERVALS, drill
from genex.lines.placement import in_position
from genex.score.checks import equal_pitch_overlaps, line_overlaps
from genex.theory import parse_chord
from tests.lines.line_charts import chart

DRILLS = get_args(Ask)


def drilled(ask, meter="4/4", key="C", **fields):
    return drill(chart("N.C.", meter=meter, key=key), Drill(ask=ask, **fields), Player())


def notes_in(part, cue):
    return [n for n in part.notes if cue.onset_beats <= n.onset_beats < cue.end_beats]


def of_kind(plan, kind):
    return [cue for cue in plan.cues if cue.kind == kind]


@pytest.mark.parametrize("ask", DRILLS)
@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8"])
def test_question_silence_and_confirmation(ask, meter):
    plan = drilled(ask, meter=meter, rounds=1)
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
        sounding = [part for part in plan.parts if part.name not in ("drone", "pulse")]
        assert not any(
            n.onset_beats < think.end_beats and n.written_end_beats > think.onset_beats
            for part in sounding
            for n in part.notes
        )
    assert all(span.chord is None for span in plan.timeline.chords), "no symbol gives it away"
    assert len(plan.answers) == len(of_kind(plan, "listen"))


@pytest.mark.parametrize("ask", DRILLS)
def test_every_item_comes_equally_often_and_never_twice_in_a_row(ask):
    plan = drilled(ask, rounds=3)
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
    plan = drilled("interval", rounds=1, direction=direction)
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
    plan = drilled("interval", rounds=1, direction="together")
    question = plan.parts[1]
    for listen, answer in zip(of_kind(plan, "listen"), plan.answers, strict=True):
        low, high = notes_in(question, listen)
        assert high.midi - low.midi == SEMITONES[answer.text.partition(":")[0]]


def test_chords_are_confirmed_by_their_arpeggio():
    plan = drilled("chord", rounds=1)
    for listen, answer in zip(of_kind(plan, "listen"), plan.answers, strict=True):
        chord = parse_chord(answer.text.split(": ")[1].split(" ")[0])
        struck = notes_in(plan.parts[1], listen)
        assert {n.midi % 12 for n in struck} == chord.pitch_classes
        assert [n.degree for n in answer.notes] == list(chord.degrees)


def test_degrees_go_home_to_the_tonic_over_a_drone():
    plan = drilled("degree", rounds=1, key="E minor")
    assert [part.name for part in plan.parts] == ["degree-drill", "drone"]
    assert {str(n.pitch.name) for n in plan.parts[1].notes} == {"E", "B"}
    assert plan.parts[1].notes[-1].written_end_beats == plan.length_beats
    for answer in plan.answers:
        assert str(answer.notes[-1].pitch.name) == "E"
        assert str(answer.notes[0].degree) == answer.text.split()[0]


def test_progressions_are_struck_twice_with_their_roots_shown_the_second_time():
    plan = drilled("progression", rounds=1)
    for listen, confirm, answer in zip(
        of_kind(plan, "listen"), of_kind(plan, "answer"), plan.answers, strict=True
    ):
        chords = [parse_chord(text) for text in answer.text.split(": ")[1].split()]
        question = plan.parts[1]
        assert [n.midi for n in notes_in(question, listen)] == [
            n.midi for n in notes_in(question, confirm)
        ]
        assert [n.pitch.name for n in answer.notes] == [chord.root for chord in chords]
        held = in_position(STANDARD, 5)
        aim = held[len(held) // 3]
        for note in answer.notes:
            octaves = [midi for midi in held if (midi - note.midi) % 12 == 0]
            assert abs(note.midi - aim) == min(abs(midi - aim) for midi in octaves)


def test_the_chords_of_a_progression_lie_close():
    """Close position: the tones of a chord within an octave, none of them twice [common practice]."""
    plan = drilled("progression", items=("Imaj7 vi7 ii7 V7",), rounds=1)
    struck = {}
    for note in plan.parts[1].notes:
        struck.setdefault(note.onset_beats, []).append(note.midi)
    assert len(struck) == 8
    for tones in struck.values():
        assert len({midi % 12 for midi in tones}) == len(tones) == 4
        assert max(tones) - min(tones) < 12
        assert min(tones) >= 48


@pytest.mark.parametrize("symbol", ["C", "Cmaj7", "C7", "Cdim7"])
def test_every_inversion_lies_close(symbol):
    chord = parse_chord(symbol)
    inversions = _close_voicings(chord)
    assert [tones[0].name for tones in inversions] == list(chord.notes)
    for tones in inversions:
        assert {pitch.name for pitch in tones} == set(chord.notes)
        assert tones[-1].midi - tones[0].midi < 12


def test_own_items():
    plan = drilled("interval", items=("major third", "perfect fourth"), rounds=4)
    assert len(plan.answers) == 8
    plan = drilled("progression", items=("I bVII IV I",), rounds=1, key="D")
    assert plan.answers[0].text == "I bVII IV I: D C G D"


@pytest.mark.parametrize(
    ("ask", "items", "message"),
    [
        ("interval", ("third",), "not an interval"),
        ("chord", ("wonky",), "not the quality"),
        ("degree", ("x",), "not a degree"),
        ("progression", ("I Q V",), "Q"),
        ("interval", (), "one item or more"),
        ("interval", ("octave", "octave"), "each named once"),
    ],
)
def test_refusals(ask, items, message):
    with pytest.raises(LineError, match=message):
        drilled(ask, items=items)
