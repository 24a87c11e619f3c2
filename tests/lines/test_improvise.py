"""Improvising tasks: the demonstration keeps to every limit, and nobody leads in the empty choruses."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.improvising import Aims, Improvise
from genex.exercises.models.over_the_chart import Etude
from genex.lines.etude import phrases_of
from genex.lines.few_notes import from_few_notes
from genex.lines.improvise import aim_text, aims, first_chorus, improvise
from genex.lines.limits import limited
from genex.lines.phrase_places import chord_over
from genex.lines.placement import chords_of, hold_over
from genex.score.checks import line_overlaps
from genex.theory import parse_chord
from tests.lines.etude_tunes import FAMILIES, tune
from tests.lines.line_charts import chart

TUNE = "Gm7 | C7 | Fmaj7 | D7b9 | Gm7 C7 | Am7 D7 | Gm7 | F6"
BLUES = "F7 | Bb7 | F7 | % | Bb7 | % | F7 | % | C7 | Bb7 | F7 | C7"


def task(text=TUNE, key="F", seed=0, **fields):
    return improvise(chart(text, key=key), Improvise(**fields), Player(seed=seed, family="swing"))


LIMITS = st.fixed_dictionaries(
    {
        "notes": st.sampled_from(["three", "five", "chord tones", "scale"]),
        "rhythm": st.sampled_from(["free", "given"]),
        "strings": st.sampled_from([None, (2,), (1, 2, 3), (3,)]),
        "position": st.sampled_from([None, 3, 5, 7]),
        "level": st.integers(1, 6),
        "demonstrations": st.integers(0, 2),
        "turns": st.integers(1, 3),
    }
)


@given(st.integers(0, 40), LIMITS)
@settings(max_examples=80, deadline=None)
def test_the_demonstration_keeps_to_all_limits_and_the_turns_are_empty(number, limits):
    form, player = tune(number)
    exercise = Improvise(**limits)
    if exercise.strings is not None and len(exercise.strings) == 1 and exercise.position is not None:
        limits["position"] = None  # four frets of one string have no five notes
        exercise = Improvise(**limits)
    plan = improvise(form, exercise, player)
    (part,) = plan.parts
    length = form.length_beats
    assert plan.length_beats == length * (exercise.demonstrations + exercise.turns)
    assert all(note.written_end_beats <= length * exercise.demonstrations for note in part.notes)
    assert bool(part.notes) == (exercise.demonstrations > 0)
    assert line_overlaps(part) == []
    kept = {(p.string, p.fret) for _, places in plan.task.necks for p in places}
    if exercise.notes in ("three", "five"):
        assert {(n.fretting.string, n.fretting.fret) for n in part.notes} <= kept
        assert len(kept) == {"three": 3, "five": 5}[exercise.notes]
    named = {p.note.pitch_class for _, places in plan.task.necks for p in places}
    assert {note.midi % 12 for note in part.notes} <= named
    if exercise.notes == "chord tones":
        pulse = form.meter.pulse_beats
        for note in part.notes:
            chord = chord_over(plan.timeline, note.onset_beats, note.duration_beats, pulse)
            assert chord.degree_of(note.midi) is not None
    if exercise.strings is not None:
        assert {note.fretting.string for note in part.notes} <= set(exercise.strings)
    if exercise.rhythm == "given":
        own = [(n.onset_beats, n.duration_beats) for n in part.notes if n.onset_beats < length]
        assert bool(plan.task.rhythm)
        if exercise.demonstrations:
            assert tuple(own) == plan.task.rhythm
    assert [cue.kind for cue in plan.cues] == (
        ["listen"] * exercise.demonstrations + ["play"] * exercise.turns
    )


@pytest.mark.parametrize("family", FAMILIES)
def test_three_notes_are_all_used_and_none_is_worn_out(family):
    """A line that swings between two notes, or sticks to one, shows nobody anything."""
    for number in range(FAMILIES.index(family), 60, len(FAMILIES)):
        form, player = tune(number)
        notes = improvise(form, Improvise(), player).parts[0].notes
        midis = [note.midi for note in notes]
        assert len(set(midis)) == 3
        assert max(map(midis.count, set(midis))) <= 0.6 * len(midis)
        # from one breath to the next
        for group in breaths(notes):
            own = [note.midi for note in group]
            assert not any(len(set(own[n : n + 3])) == 1 for n in range(len(own) - 2))
        swings = [
            len(set(four)) == 2 and four[:2] == four[2:]
            for four in (midis[n : n + 4] for n in range(len(midis) - 3))
        ]
        assert sum(swings) <= 0.15 * len(midis)


def breaths(notes):
    groups = [[notes[0]]]
    for before, note in pairwise(notes):
        if note.onset_beats - before.written_end_beats >= 1:
            groups.append([])
        groups[-1].append(note)
    return groups


def test_phrases_end_on_chord_tones_where_the_notes_have_one():
    for number in range(30):
        form, player = tune(number)
        exercise = Improvise(notes="five")
        hold = hold_over(chords_of(form, "play"), exercise, player)
        inside, vocabulary, _ = limited(form, hold, exercise)
        phrases = phrases_of(form, inside, Etude(level=2), player, vocabulary=vocabulary)
        for phrase in from_few_notes(form, phrases, vocabulary, "x"):
            end = phrase.notes[-1]
            chord = chord_over(form, end.onset_beats, end.duration_beats, form.meter.pulse_beats)
            own = {midi % 12 for midi in vocabulary.allowed}
            assert chord.degree_of(end.midi) is not None or not own & chord.pitch_classes


@pytest.mark.parametrize(
    ("text", "key", "notes"),
    [
        ("C | G | Am | F", "C", {"C", "D", "E"}),  # the first three of the major pentatonic
        ("Am7 | Dm7 | Am7 | Em7", "A minor", {"A", "C", "D"}),
        (BLUES, "F", {"C", "Eb", "F"}),  # the minor pentatonic with its key note
    ],
)
def test_the_three_notes_that_a_teacher_would_take(text, key, notes):
    """[common practice]"""
    plan = task(text, key)
    assert {str(place.note) for place in plan.task.necks[0][1]} == notes


def test_ones_own_notes_are_those():
    plan = task(tones=("G", "Bb", "C"))
    assert [str(place.note) for place in plan.task.necks[0][1]] == ["G", "Bb", "C"]
    assert {str(note.pitch.name) for note in plan.parts[0].notes} == {"G", "Bb", "C"}
    assert plan.cues[1].text == "Turn 1: G Bb C"
    assert plan.task.rules[0] == "Play these notes alone: G Bb C."


def test_a_given_rhythm_is_two_bars_that_come_again():
    plan = task(rhythm="given")
    bars = {}
    for onset, length in plan.task.rhythm:
        bars.setdefault(onset // 8, []).append((onset % 8, length))
    assert len(bars) == 4 and len(set(map(tuple, bars.values()))) == 1


def test_another_seed_is_another_demonstration_over_the_same_notes():
    one, other = task(seed=1), task(seed=2)
    assert one.task.necks == other.task.necks and one.parts != other.parts
    assert task(seed=1) == one


def test_the_first_chorus_alone():
    form = chart(TUNE, key="F")
    assert first_chorus(form) == form


@pytest.mark.parametrize(
    ("chord", "target", "text"),
    [
        ("G7", "third", "B (3)"),
        ("G7", "guide", "B (3) F (b7)"),
        ("Csus4", "third", "F (4)"),
        ("Am7b5", "fifth", "Eb (b5)"),
    ],
)
def test_what_is_aimed_at_over_a_chord(chord, target, text):
    assert aim_text(parse_chord(chord), target) == text


@pytest.mark.parametrize("target", ["root", "third", "fifth", "seventh", "ninth", "guide"])
def test_aims_are_reached_in_the_demonstration_and_told_for_every_chord(target):
    form = chart(TUNE, key="F")
    plan = aims(form, Aims(target=target, turns=1), Player())
    assert [onset for onset, _ in plan.task.aims] == [span.onset_beats for span in form.chords]
    notes = {note.onset_beats: note for note in plan.parts[0].notes}
    for onset, text in plan.task.aims:
        assert str(notes[onset].pitch.name) in text
    texts = [cue.text for cue in plan.cues]
    assert len(texts) == 2 * len(form.chords)
    assert texts[0].startswith("Listen: Gm7, ") and texts[-1].startswith("Turn 1: F6, ")


def test_refusals():
    with pytest.raises(LineError, match="no room"):
        task(notes="five", strings=(2,), position=5)
    with pytest.raises(LineError, match="no chord"):
        task("N.C.")
