from fractions import Fraction

import pytest

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Arpeggio
from genex.lines.arpeggio import arpeggio_exercise
from genex.lines.every_position import every_position
from genex.score import Note
from genex.score.checks import line_overlaps
from genex.theory import Pitch
from tests.lines.line_charts import chart


def test_a_phrase_is_fingered_in_each_place_on_the_neck():
    timeline = chart("Dm7 | G7")
    phrase = arpeggio_exercise(timeline, Arpeggio(position=5), Player())
    plan = every_position(phrase.notes, timeline, Player())
    (part,) = plan.parts
    count = len(plan.cues)
    assert count >= 2
    assert plan.length_beats == count * timeline.length_beats
    assert [n.midi for n in part.notes] == [n.midi for n in phrase.notes] * count
    assert line_overlaps(part) == []
    ways = set()
    size = len(phrase.notes)
    for turn in range(count):
        notes = part.notes[turn * size : (turn + 1) * size]
        frets = [n.fretting.fret for n in notes if n.fretting.fret]
        assert max(frets) - min(frets) <= 5
        ways.add(tuple((n.fretting.string, n.fretting.fret) for n in notes))
    assert len(ways) == count
    assert plan.timeline.chord_at(timeline.length_beats).chord == timeline.chords[0].chord


def test_a_phrase_too_wide_for_a_hand_is_refused():
    timeline = chart("Dm")
    wide = [Note(Fraction(n), Fraction(1), Pitch.parse(p)) for n, p in enumerate(("F2", "D6"))]
    with pytest.raises(LineError, match="too wide"):
        every_position(wide, timeline, Player())
    with pytest.raises(LineError, match="no phrase"):
        every_position([], timeline, Player())
    with pytest.raises(LineError, match="compass"):
        every_position([Note(Fraction(0), Fraction(1), Pitch.parse("C2"))], timeline, Player())
