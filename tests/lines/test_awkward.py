"""What a reading of forty etudes over forty charts would not practise, and how often it is left."""

import pytest

from genex.lines.awkward import awkward_places
from genex.lines.vocabulary import LEVELS
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
        ((60, 70), 1),  # wider than a major sixth
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
