"""Lines that come to rest."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.exercises import Player, Struck
from genex.exercises.models.comping import Grips
from genex.exercises.models.over_the_chart import Arpeggio, Etude, Scales
from genex.fretboard.tunings import STANDARD
from genex.lines.arpeggio import arpeggio_exercise
from genex.lines.closing import closed_line, held_chord
from genex.lines.comping import grips_through
from genex.lines.etude import etude
from genex.lines.scale_lines import scale_line
from genex.score.checks import chord_faults, line_overlaps
from tests.lines.line_charts import chart

CHANGES = ("Dm7 | G7 | Cmaj7 | Cmaj7", "C | Am | F G | C", "Am | Dm | E7 | Am6", "C7 | F7 | G7 F7 | C7")


def lines(timeline):
    yield arpeggio_exercise(timeline, Arpeggio(), Player())
    yield scale_line(timeline, Scales(), Player())
    yield etude(timeline, Etude(level=1), Player())


@pytest.mark.parametrize("changes", CHANGES)
@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8"])
def test_the_last_bar_is_one_chord_tone_held_to_its_end(changes, meter):
    timeline = chart(changes, meter=meter)
    for line in lines(timeline):
        closed = closed_line(line, timeline, STANDARD)
        last = closed.notes[-1]
        bar = timeline.bars[-1]
        assert last.onset_beats == bar.onset_beats
        assert last.written_end_beats == timeline.length_beats
        assert last.degree.number in (1, 3, 5)
        assert last.pitch.name == timeline.chords[-1].chord.root.degree(last.degree)
        assert last.midi == closed.strings[last.fretting.string - 1].midi + last.fretting.fret
        assert line_overlaps(closed) == []


@pytest.mark.parametrize("changes", CHANGES)
def test_the_hand_stays_where_it_is(changes):
    timeline = chart(changes)
    for line in lines(timeline):
        *_, before, last = closed_line(line, timeline, STANDARD).notes
        assert abs(before.fretting.fret - last.fretting.fret) <= 4
        if before.written_end_beats == last.onset_beats:
            assert abs(before.midi - last.midi) <= 9


def test_what_comes_before_the_last_bar_is_left_alone():
    timeline = chart("Dm7 | G7 | Cmaj7 | Cmaj7")
    line = arpeggio_exercise(timeline, Arpeggio(), Player())
    closed = closed_line(line, timeline, STANDARD)
    assert closed.notes[:-1] == tuple(note for note in line.notes if note.onset_beats < 12)


def test_a_line_that_rests_in_the_last_bar_and_a_bar_without_chord_are_left_alone():
    for changes in ("Dm7 | G7 | N.C.", "Cmaj7 | N.C. | N.C."):
        timeline = chart(changes)
        line = arpeggio_exercise(timeline, Arpeggio(), Player())
        assert closed_line(line, timeline, STANDARD) == line


@given(st.lists(st.sampled_from("C Dm7 G7 Am F Em7 Bm7b5".split()), min_size=1, max_size=6))
@settings(max_examples=40, deadline=None)
def test_every_line_over_any_chart_ends_on_a_held_chord_tone(symbols):
    timeline = chart(" | ".join(symbols))
    closed = closed_line(arpeggio_exercise(timeline, Arpeggio(), Player()), timeline, STANDARD)
    assert closed.notes[-1].duration_beats == Fraction(4)
    assert closed.notes[-1].degree in timeline.chords[-1].chord.degrees


PICKS = tuple(Struck(Fraction(k, 2), Fraction(1, 2), voice=k % 4) for k in range(8))


@pytest.mark.parametrize("rhythm", ["whole", "quarters", "charleston", "anticipated", "feel"])
def test_a_part_of_chords_holds_its_last_chord(rhythm):
    timeline = chart("Dm7 | G7 | C6")
    part = grips_through(timeline, Grips(rhythm=rhythm), Player(comping=(PICKS,)))
    closed = held_chord(part, timeline)
    last = [note for note in closed.notes if note.written_end_beats == timeline.length_beats]
    assert len(last) == 4 and len({note.onset_beats for note in last}) == 1
    assert last[0].onset_beats == (Fraction(15, 2) if rhythm == "anticipated" else 8)
    assert closed.notes[-4:] == tuple(last) and chord_faults(closed) == []
    assert {note.degree for note in last} == set(timeline.chords[-1].chord.degrees)
    earlier = [note for note in part.notes if note.onset_beats < last[0].onset_beats]
    written = [(n.onset_beats, n.duration_beats, n.midi) for n in closed.notes[:-4]]
    assert written == [(n.onset_beats, n.duration_beats, n.midi) for n in earlier]
    assert all(n.onset_beats + n.sounding_beats <= last[0].onset_beats for n in closed.notes[:-4])


def test_a_part_of_chords_that_rests_at_the_end_is_left_alone():
    timeline = chart("Dm7 | N.C.")
    part = grips_through(timeline, Grips(rhythm="whole"), Player())
    assert held_chord(part, timeline) == part
