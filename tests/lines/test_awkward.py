"""What a reading of forty etudes over forty charts would not practise, and how often it is left."""

from collections import Counter
from fractions import Fraction
from itertools import pairwise

import pytest

from genex.lines.awkward import awkward_places
from genex.lines.vocabulary import LEVELS, PENTATONIC_LEVEL, Kind
from genex.theory import Degree
from tests.lines.drawn_charts import drawn_phrases
from tests.lines.etude_tunes import phrases
from tests.lines.read_as_a_player import faults_of


@pytest.mark.parametrize(
    ("midis", "count"),
    [
        ((60, 62, 64, 65), 0),
        ((60, 62, 60, 62), 1),  # hovers
        ((60, 62, 60, 62, 60), 2),
        ((60, 67, 72), 1),  # leaps on in the same direction
        ((60, 67, 65), 0),
        ((60, 60, 60), 1),
        ((60, 60, 62, 62), 0),
        ((60, 70), 1),  # a seventh
        ((60, 72), 0),
        ((60, 72, 60), 1),  # out and back
        ((60,), 0),
    ],
)
def test_awkward_places_counted_by_hand(midis, count):
    assert len(awkward_places(midis)) == count


@pytest.mark.parametrize(
    ("midis", "lengths", "count"),
    [
        ((60, 60), "1 1", 0),
        ((60, 60), "1/2 1/2", 1),  # a short note struck twice
        ((60, 60), "1/2 1", 0),  # and held the second time
        ((60, 72, 71), "1/2 1/2 1", 1),  # an octave in eighths
        ((60, 72, 71), "1 1/2 1", 0),
        ((60, 72, None, 71), "1 1/2 1/2 1", 1),  # and left alone before a rest
        ((60, 72, 71), "1/2 1 1", 0),
    ],
)
def test_hasty_places_counted_by_hand(midis, lengths, count):
    """None is a rest."""
    onset, times, struck = Fraction(0), [], []
    for midi, length in zip(midis, map(Fraction, lengths.split()), strict=True):
        if midi is not None:
            times.append((onset, length))
            struck.append(midi)
        onset += length
    assert len(awkward_places(struck, times)) == count


def test_eight_notes_that_circle_about_one_or_have_three_pitches_only():
    assert awkward_places((60, 62, 60, 64, 60, 65, 67, 60)) == []
    assert awkward_places((60, 62, 60, 64, 60, 65, 60, 60)) == [7]
    three = (60, 64, 62, 60, 62, 64, 60, 64)
    assert awkward_places(three) == [7] and awkward_places(three, few_tones=True) == []


@pytest.mark.parametrize("level", [level for level in LEVELS if level > 2])
def test_few_places_of_etudes_are_awkward(level):
    """One in a hundred notes at the most. [common practice]"""
    notes = awkward = 0
    for number in range(14):
        for phrase in phrases(number, level)[1]:
            midis = [note.midi for note in phrase.notes]
            notes += len(midis)
            awkward += len(awkward_places(midis))
    assert awkward <= notes / 100, (awkward, notes)


@pytest.mark.parametrize("level", [level for level in LEVELS if level > 2])
def test_what_is_foreign_to_a_chord_leads_on_and_is_no_wrong_third(level):
    """Before a rest a foreign note hangs in the air; one that leads is short, and none is the major
    third over a minor chord. [common practice]"""
    for number in range(0, 28, 4):
        timeline, found = phrases(number, level)
        for phrase in found:
            for (note, after), kind in zip(pairwise(phrase.notes), phrase.kinds, strict=False):
                if kind is Kind.CHORD:
                    continue
                assert after.onset_beats - note.written_end_beats <= Fraction(1, 2)
                if kind is not Kind.APPROACH:
                    continue
                chord = timeline.chord_at(note.onset_beats).chord
                assert note.duration_beats < 1
                assert chord is None or Degree(3, -1) not in chord.degrees or note.degree != Degree(3)


def test_notes_are_let_go_where_they_can_be_read():
    """A note before a rest ends on a beat or its half, not on a triplet of another beat, in bars of
    quarters. [common practice]"""
    for number in range(0, 56, 8):
        timeline, found = phrases(number, 5)
        notes = [note for phrase in found for note in phrase.notes]
        for note, after in pairwise(notes):
            end = note.written_end_beats
            if end < after.onset_beats and not timeline.meter.is_compound and end % 1 != 0:
                assert end.denominator % 3 or after.onset_beats < end // 1 + 1 or note.duration_beats < 1


@pytest.mark.parametrize(("number", "level"), [(1001, 6), (1007, 6), (1008, 1), (1029, 4)])
def test_no_phrase_begins_far_from_the_last_nor_is_a_bar_silent_in_between(number, level):
    """What a reading of etudes found: leaps of up to 19 semitones over a rest, and in the jazz waltz
    1007 a bar that was cut down to nothing. [common practice]"""
    faults = faults_of(*drawn_phrases(number, level), level)
    assert faults["far over a rest"] == faults["hole"] == 0


@pytest.mark.parametrize("level", LEVELS)
def test_what_a_player_would_not_practise_is_seldom_in_etudes_over_drawn_charts(level):
    """Chorales, blues, vamps and chains of chords that nobody chose, in all feels. [common practice]"""
    found = Counter()
    for number in range(level, 50, 10):
        found += faults_of(*drawn_phrases(number, level), level)
    assert found["etudes"] == 5
    assert found["again"] <= (0.11 if level < PENTATONIC_LEVEL else 0.05) * found["notes"]
    assert found["quick again"] + found["wild leap"] + found["circles"] <= 0.01 * found["notes"]
    assert found["three bars alike"] + found["one bar all over"] <= 0.01 * found["bars"]
    assert found["hanging"] == found["far over a rest"] == 0
    assert found["early peak"] <= 1 and found["weak peak"] <= 2
