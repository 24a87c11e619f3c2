from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Etude
from genex.fretboard import HandMove
from genex.fretboard.tunings import STANDARD
from genex.lines.etude import etude, phrases_of
from genex.lines.phrase_places import chord_over
from genex.lines.placement import choose_position, chords_of, hold_over
from genex.lines.rhythm import notes_wanted
from genex.score.checks import line_overlaps
from tests.lines.line_charts import chart

TUNE = (
    "Gm7 | C7 | Fmaj7 | D7b9 | Gm7 | C7 | Fmaj7 | F6 |"
    "Am7b5 | D7b9 | Gm7 | Bbm6 | Am7 D7 | Gm7 C7 | Fmaj7 | %"
)


def of_seed(level, seed, **fields):
    """An etude over the tune, in position 5."""
    timeline = chart(TUNE, key="F", meter=fields.pop("meter", "4/4"))
    exercise = Etude(level=level, position=5, **fields)
    player = Player(seed=seed, title=f"Tune {seed}", family="swing")
    return timeline, exercise, player


def phrases(level, seed, **fields):
    timeline, exercise, player = of_seed(level, seed, **fields)
    hold = hold_over(chords_of(timeline, "play"), exercise, player)
    return timeline, phrases_of(timeline, hold, exercise, player)


@given(
    st.integers(1, 6),
    st.integers(0, 60),
    st.sampled_from(["4/4", "3/4", "6/8", "12/8"]),
)
@settings(max_examples=60, deadline=None)
def test_phrases_breathe_and_end_on_chord_tones(level, seed, meter):
    timeline, found = phrases(level, seed, meter=meter)
    pulse = timeline.meter.pulse_beats
    for before, phrase in pairwise(found):
        # the breath lies before the pickup, if there is one
        assert phrase.notes[0].onset_beats - before.notes[-1].written_end_beats >= pulse
        lead = [note for note in phrase.notes if note.onset_beats < phrase.start_beats]
        if lead:
            assert level >= 3
            assert phrase.start_beats - lead[0].onset_beats <= 2 * pulse
            assert phrase.notes[len(lead)].onset_beats == phrase.start_beats, "it leads to the beat"
            assert abs(phrase.notes[len(lead)].midi - lead[-1].midi) <= 9
    assert found[0].notes[0].onset_beats >= 0, "a loop does not begin in mid-air"
    for phrase in found:
        last = phrase.notes[-1]
        chord = chord_over(timeline, last.onset_beats, last.duration_beats, pulse)
        assert chord.degree_of(last.midi) is not None


@given(st.integers(1, 6), st.integers(0, 60), st.sampled_from(["4/4", "3/4", "6/8", "12/8", "7/8"]))
@settings(max_examples=60, deadline=None)
def test_the_last_note_is_a_chord_tone_held_to_the_end(level, seed, meter):
    timeline, exercise, player = of_seed(level, seed, meter=meter)
    part = etude(timeline, exercise, player)
    last = part.notes[-1]
    assert last.written_end_beats == timeline.length_beats
    assert timeline.chords[-1].chord.degree_of(last.midi) is not None
    assert last.degree.number in (1, 3, 5)
    assert line_overlaps(part) == []
    assert part == etude(timeline, exercise, player)
    assert all(4 <= n.fretting.fret <= 9 for n in part.notes)


@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "12/8"])
def test_every_meter_has_something_to_play_over_a_long_chord(meter):
    timeline = chart("F7 | % | % | % | Bb7 | % | F7 | % | C7 | Bb7 | F7 | C7", key="F", meter=meter)
    for level in range(1, 7):
        aim = notes_wanted(timeline.meter, 12, level)
        counts = [len(etude(timeline, Etude(level=level), Player(seed=seed)).notes) for seed in range(6)]
        assert all(0.65 * aim <= count <= 1.5 * aim for count in counts)


def test_some_phrases_have_a_pickup():
    for level in (3, 4, 5, 6):
        found = [p for seed in range(10) for p in phrases(level, seed)[1]]
        with_pickup = sum(p.notes[0].onset_beats < p.start_beats for p in found)
        assert 0.05 <= with_pickup / len(found) <= 0.5


def hands_of(notes):
    """The notes between rests: groups that are played without lifting the hand."""
    groups = []
    for before, note in zip([None, *notes], notes, strict=False):
        if before is None or note.onset_beats - before.written_end_beats >= Fraction(1, 2):
            groups.append([])
        groups[-1].append(note)
    return groups


def is_held(group, place):
    """Whether a finger a fret at a place takes a group, no finger rolling from string to string."""
    ways = [
        {(string, note.midi - midi) for string, midi in enumerate(STANDARD.open_midi)} for note in group
    ]
    ways = [{way for way in found if place <= way[1] <= place + 3} for found in ways]
    reached = ways[0]
    for following in ways[1:]:
        reached = {b for b in following if any(a == b or a[1] != b[1] for a in reached)}
    return bool(reached)


@given(st.integers(1, 6), st.integers(0, 60), st.sampled_from([None, 2, 5, 7, 9]))
@settings(max_examples=40, deadline=None)
def test_the_hand_shifts_in_rests_and_within_a_phrase_only_for_a_pitch_or_a_roll(level, seed, position):
    timeline = chart(TUNE, key="F")
    part = etude(timeline, Etude(level=level, position=position), Player(seed=seed))
    home = position or choose_position(chords_of(timeline, "play"), STANDARD)
    for group in hands_of(part.notes):
        held = [place for place in (home - 1, home, home + 1) if is_held(group, place)]
        if any(note.fretting.move is HandMove.SHIFT for note in group[1:]):
            assert not held


def test_shifts_within_phrases_are_rare():
    parts = [
        etude(chart(TUNE, key="F"), Etude(level=level), Player(seed=seed))
        for level in range(1, 7)
        for seed in range(5)
    ]
    shifts = sum(
        note.fretting.move is HandMove.SHIFT
        for part in parts
        for group in hands_of(part.notes)
        for note in group[1:]
    )
    assert shifts <= len(parts)  # sixteen bars each


@pytest.mark.parametrize("strings", [(1, 2, 3), (2, 3, 4), (3, 4, 5)])
def test_along_strings_a_phrase_lies_under_one_hand(strings):
    part = etude(chart(TUNE, key="F"), Etude(level=4, strings=strings), Player())
    assert {note.fretting.string for note in part.notes} <= set(strings)
    for group in hands_of(part.notes):
        frets = [note.fretting.fret for note in group]
        assert max(frets) - min(frets) <= 5


def test_the_second_phrase_answers_in_the_rhythm_of_the_first():
    for seed in range(10):
        _, found = phrases(2, seed, bars=2)
        first, second = found[:2]
        assert first.rhythm.words[0] == second.rhythm.words[0]
        assert second.notes[-1].degree.number in (1, 3, 5)


def test_one_bar_changed_leaves_the_other_phrases_as_they_were():
    before = etude(chart(TUNE, key="F"), Etude(position=5), Player())
    after = etude(chart(TUNE.replace("Bbm6", "Bb7"), key="F"), Etude(position=5), Player())
    own = [
        [(n.onset_beats, n.midi) for n in part.notes if n.onset_beats < 32] for part in (before, after)
    ]
    assert own[0] == own[1]


def test_fast_tunes_have_longer_phrases():
    fast = chart(TUNE, key="F", tempo=220)
    for seed in range(10):
        hold = hold_over(chords_of(fast, "play"), Etude(), Player())
        found = phrases_of(fast, hold, Etude(), Player(seed=seed))
        assert all(len(phrase.rhythm.words) >= 4 for phrase in found)


def test_fast_tunes_have_no_notes_shorter_than_eighths():
    """At 220 quarter notes a minute triplets would be eleven notes a second."""
    fast = chart(TUNE, key="F", tempo=220)
    for level in range(3, 7):
        hold = hold_over(chords_of(fast, "play"), Etude(level=level), Player())
        found = phrases_of(fast, hold, Etude(level=level), Player(seed=level, family="swing"))
        notes = [note for phrase in found for note in phrase.notes]
        assert all(b.onset_beats - a.onset_beats >= Fraction(1, 2) for a, b in pairwise(notes))


def test_no_chord_is_a_rest():
    part = etude(chart("Gm7 | C7 | N.C. | N.C. | Gm7 | C7"), Etude(), Player())
    assert not [n for n in part.notes if 8 <= n.onset_beats < 16]


def test_slides_can_be_left_out():
    assert any(n.slide for n in etude(chart(TUNE, key="F"), Etude(), Player(seed=2)).notes)
    assert not any(
        n.slide for n in etude(chart(TUNE, key="F"), Etude(slides=False), Player(seed=2)).notes
    )


def test_the_tune_makes_the_etude_and_not_the_key():
    def shape(key, title):
        moved = TUNE if key == "F" else TUNE.replace("b9", "7")
        part = etude(chart(moved, key="F"), Etude(), Player(title=title))
        return [(note.onset_beats, note.duration_beats) for note in part.notes]

    assert shape("F", "Kettle") == shape("F", "Kettle") != shape("F", "Lantern")


@pytest.mark.parametrize("level", range(1, 7))
@pytest.mark.parametrize(
    "text", ["C | G | Am | F", "E5 | A5 | B5 | E5", "Gsus4 | G | Csus2 | C", "Am | %"]
)
def test_charts_of_triads_have_all_levels(level, text):
    part = etude(chart(text), Etude(level=level), Player(family="straight"))
    assert len(part.notes) >= 4


def test_refusals():
    with pytest.raises(LineError, match="no chord"):
        etude(chart("N.C."), Etude(), Player())
    with pytest.raises(LineError, match="no note in position"):
        etude(chart("Gm7 | C7"), Etude(), Player(low=90))
