from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Etude
from genex.fretboard import HandMove
from genex.fretboard.tunings import STANDARD
from genex.lines.etude import etude
from genex.lines.placement import choose_position, chords_of
from genex.lines.rhythm import notes_wanted
from genex.score import Role
from genex.score.checks import line_overlaps
from tests.lines.line_charts import chart

TUNE = (
    "Gm7 | C7 | Fmaj7 | D7b9 | Gm7 | C7 | Fmaj7 | F6 |"
    "Am7b5 | D7b9 | Gm7 | Bbm6 | Am7 D7 | Gm7 C7 | Fmaj7 | %"
)


def without_pickup(notes, end):
    """A phrase's notes without those that lead up to a bar line after its breath."""
    if notes[-1].written_end_beats == end:
        while notes[-1].duration_beats == Fraction(1, 2) and end - notes[-1].onset_beats <= 1:
            end_of_rest = notes.pop().onset_beats
            if notes[-1].written_end_beats < end_of_rest:
                break
    return notes


def pickups(part, timeline, bars=2):
    """For each phrase but the first, the notes after the last rest before its first bar line."""
    found = []
    for bar in timeline.bars[bars::bars]:
        before = [n for n in part.notes if n.onset_beats < bar.onset_beats]
        group = hands_of(before)[-1] if before else []
        leads = bool(group) and group[-1].written_end_beats == bar.onset_beats
        found.append(group if leads else [])
    return found


@given(
    st.integers(1, 6),
    st.integers(0, 60),
    st.sampled_from(["4/4", "3/4", "6/8", "12/8"]),
)
@settings(max_examples=40, deadline=None)
def test_a_pickup_is_short_and_leaves_a_breath(level, seed, meter):
    timeline = chart(TUNE, key="F", meter=meter)
    part = etude(timeline, Etude(level=level, position=5), Player(seed=seed))
    assert part.notes[-1].written_end_beats < timeline.length_beats, "none at the end of the loop"
    onsets = {n.onset_beats for n in part.notes}
    for bar, group in zip(timeline.bars[2::2], pickups(part, timeline), strict=True):
        if not group:
            continue
        assert level >= 3
        assert bar.onset_beats in onsets, "it leads to the first beat"
        assert bar.onset_beats - group[0].onset_beats <= bar.meter.pulse_beats
        before = [n for n in part.notes if n.onset_beats < group[0].onset_beats][-1]
        assert group[0].onset_beats - before.written_end_beats >= bar.meter.pulse_beats
        first = next(n for n in part.notes if n.onset_beats == bar.onset_beats)
        assert abs(first.midi - group[-1].midi) <= 9


@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "12/8"])
def test_every_meter_has_something_to_play_over_a_long_chord(meter):
    timeline = chart("F7 | % | % | % | Bb7 | % | F7 | % | C7 | Bb7 | F7 | C7", key="F", meter=meter)
    for level in range(1, 7):
        fewest, most = notes_wanted(timeline.meter, 2, level)
        for seed in range(6):
            part = etude(timeline, Etude(level=level), Player(seed=seed))
            onsets = [n.onset_beats for n in part.notes]
            for first in timeline.bars[::2]:
                end = first.onset_beats + 2 * first.length_beats
                count = sum(first.onset_beats <= onset < end for onset in onsets)
                assert fewest <= count <= most + 3  # three for a pickup to the next phrase


def test_some_phrases_have_a_pickup():
    timeline = chart(TUNE, key="F")
    for level in (3, 4, 5, 6):
        parts = [etude(timeline, Etude(level=level), Player(seed=seed)) for seed in range(10)]
        with_pickup = sum(bool(group) for part in parts for group in pickups(part, timeline))
        assert 5 <= with_pickup <= 40  # of 70 phrases


@given(st.integers(1, 6), st.integers(0, 30))
@settings(max_examples=25, deadline=None)
def test_phrases_breathe_and_end_on_chord_tones(level, seed):
    timeline = chart(TUNE, key="F")
    part = etude(timeline, Etude(level=level, position=5), Player(seed=seed))
    assert part.role is Role.LEAD
    assert line_overlaps(part) == []
    for first in range(0, 16, 2):
        start, end = timeline.bars[first].onset_beats, timeline.bars[first + 1].end_beats
        notes = without_pickup([n for n in part.notes if start <= n.onset_beats < end], end)
        assert notes, "every two bars have a phrase"
        next_onset = next(
            (n.onset_beats for n in part.notes if n.onset_beats > notes[-1].onset_beats), end
        )
        assert min(next_onset, end) - notes[-1].written_end_beats >= 1, "and a breath"
        chord = timeline.chord_at(notes[-1].onset_beats).chord
        assert chord.degree_of(notes[-1].midi) is not None
    assert all(4 <= n.fretting.fret <= 9 for n in part.notes)
    assert part == etude(timeline, Etude(level=level, position=5), Player(seed=seed))


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
    part = etude(chart(TUNE, key="F"), Etude(level=2), Player())
    first, second = (
        [
            (n.onset_beats - start, n.duration_beats)
            for n in part.notes
            if start <= n.onset_beats < start + 8
        ]
        for start in (0, 8)
    )
    assert first == second


def test_one_bar_changed_leaves_the_other_phrases_as_they_were():
    before = etude(chart(TUNE, key="F"), Etude(position=5), Player())
    after = etude(chart(TUNE.replace("Bbm6", "Bb7"), key="F"), Etude(position=5), Player())
    own = [
        [(n.onset_beats, n.midi) for n in part.notes if n.onset_beats < 40] for part in (before, after)
    ]
    assert own[0] == own[1]


def test_fast_tunes_have_longer_phrases():
    fast = chart(TUNE, key="F", tempo=220)
    assert etude(fast, Etude(), Player()) == etude(fast, Etude(bars=4), Player())
    assert etude(fast, Etude(), Player()) != etude(fast, Etude(bars=2), Player())


def test_no_chord_is_a_rest():
    part = etude(chart("Gm7 | C7 | N.C. | N.C. | Gm7 | C7"), Etude(), Player())
    assert not [n for n in part.notes if 8 <= n.onset_beats < 16]


def test_slides_can_be_left_out():
    assert any(n.slide for n in etude(chart(TUNE, key="F"), Etude(), Player(seed=2)).notes)
    assert not any(
        n.slide for n in etude(chart(TUNE, key="F"), Etude(slides=False), Player(seed=2)).notes
    )


def test_refusals():
    with pytest.raises(LineError, match="seventh chords"):
        etude(chart("C | F"), Etude(level=3), Player())
    with pytest.raises(LineError, match="no chord"):
        etude(chart("N.C."), Etude(), Player())
    with pytest.raises(LineError, match="no note in position"):
        etude(chart("Gm7 | C7"), Etude(), Player(low=90))
