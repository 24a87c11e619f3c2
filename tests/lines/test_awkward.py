"""What a reading of forty etudes over forty charts would not practise, and how often it is left."""

from fractions import Fraction
from itertools import pairwise

import pytest

from genex.lines.awkward import awkward_places
from genex.lines.vocabulary import LEVELS, Kind
from genex.theory import Degree
from tests.lines.etude_tunes import phrases


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


@pytest.mark.parametrize("level", [level for level in LEVELS if level > 2])
def test_few_places_of_etudes_are_awkward(level):
    """One in a hundred notes at the most. [common practice]"""
    notes = awkward = 0
    for number in range(28):
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
