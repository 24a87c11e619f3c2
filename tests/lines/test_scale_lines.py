from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Scales
from genex.fretboard.tunings import STANDARD, tuning
from genex.lines.scale_lines import keep_on, scale_line, three_a_string
from genex.score.checks import line_overlaps
from genex.theory import find_scale, parse_chord
from tests.lines.line_charts import chart

SYMBOLS = ("C", "Gm", "F#7", "Abmaj7", "Em7", "Bm7b5", "Bbdim7", "D6", "A7sus4", "Ebaug", "G9", "B7b9")


@given(
    st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=6),
    st.sampled_from(["eighths", "triplets", "sixteenths"]),
    st.booleans(),
    st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_properties_of_the_line(symbols, rhythm, three, falling):
    timeline = chart(" | ".join(symbols))
    wanted = Scales(rhythm=rhythm, three_a_string=three, falling=falling, position=3), Player()
    part = scale_line(timeline, *wanted)
    assert line_overlaps(part) == []
    assert part.notes[-1].written_end_beats == timeline.length_beats
    for note in part.notes:
        chord = timeline.chord_at(note.onset_beats).chord
        scale = timeline.reading_at(note.onset_beats).scale
        assert note.midi % 12 in scale.pitch_classes(chord.root)
        assert note.midi == part.strings[note.fretting.string - 1].midi + note.fretting.fret
    for before, after in pairwise(part.notes):
        assert 0 < abs(after.midi - before.midi) <= 4
    turns = [
        b.midi
        for a, b, c in zip(part.notes, part.notes[1:], part.notes[2:], strict=False)
        if (b.midi - a.midi) * (c.midi - b.midi) < 0
    ]
    lowest, highest = min(n.midi for n in part.notes), max(n.midi for n in part.notes)
    # it only turns at the limits, which differ a little from scale to scale: most where one of them
    # has six notes and lies on three notes a string
    assert all(midi <= lowest + 6 or midi >= highest - 6 for midi in turns)


def test_the_line_keeps_its_direction_over_the_bar_line():
    part = scale_line(chart("Dm7 | G7", key="C"), Scales(position=5), Player())
    midis = [note.midi for note in part.notes[:12]]
    assert midis == sorted(midis)


def test_three_notes_on_every_string():
    # G major from the third fret: 6/3 6/5 6/7 5/3 5/5 5/7 4/4 4/5 4/7 … [common practice]
    places = list(three_a_string(parse_chord("G"), find_scale("major"), STANDARD, 3).values())
    assert places[:9] == [(6, 3), (6, 5), (6, 7), (5, 3), (5, 5), (5, 7), (4, 4), (4, 5), (4, 7)]
    assert [string for string, _ in places] == [s for s in (6, 5, 4, 3, 2, 1) for _ in range(3)]


def test_a_three_notes_a_string_line_uses_its_pattern():
    part = scale_line(chart("G | %", key="G"), Scales(three_a_string=True, position=3), Player())
    assert [(n.fretting.string, n.fretting.fret) for n in part.notes[:9]] == [
        (6, 3), (6, 5), (6, 7), (5, 3), (5, 5), (5, 7), (4, 4), (4, 5), (4, 7),
    ]  # fmt: skip


def test_another_scale_can_be_chosen():
    part = scale_line(chart("C7"), Scales(scales={"C7": "lydian dominant"}), Player())
    assert "#4" in {str(note.degree) for note in part.notes}


def test_keeping_on():
    assert keep_on((60, 62, 64), 62, 1) == (64, 1)
    assert keep_on((60, 62, 64), 64, 1) == (62, -1)
    assert keep_on((60, 62, 64), 61, -1) == (60, -1)


def test_refusals():
    with pytest.raises(LineError, match="run off the neck"):
        scale_line(chart("C"), Scales(three_a_string=True, position=20), Player())
    with pytest.raises(LineError, match="no chord"):
        scale_line(chart("N.C."), Scales(), Player())
    with pytest.raises(LineError, match="run off"):
        three_a_string(parse_chord("C"), find_scale("major"), tuning("ukulele"), 12)


@pytest.mark.parametrize("strings", [(1, 2), (2, 3), (4, 5), (5, 6), (2, 3, 4)])
@pytest.mark.parametrize("text", ["Gm7 | C7 | Fmaj7 | D7b9", "C7 | F7 | Bb7 | Eb7 | Ab7 | Db7"])
def test_on_chosen_strings_the_hand_walks_along_the_neck(strings, text):
    part = scale_line(chart(text, key="F"), Scales(strings=strings), Player())
    assert {note.fretting.string for note in part.notes} <= set(strings)
    # the hand goes no further at once than its own width, wherever its fingers fall
    hands = [note.fretting.fret - note.fretting.finger for note in part.notes]
    # (a first finger that reaches back is a fret further away)
    assert all(abs(after - before) <= 5 for before, after in pairwise(hands))
