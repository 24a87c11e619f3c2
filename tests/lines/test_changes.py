from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Changes
from genex.fretboard.shapes import chord_shape, chord_shapes
from genex.fretboard.tunings import STANDARD
from genex.lines.changes import arpeggio_line, go_on
from genex.lines.placement import in_position
from genex.score.checks import line_overlaps
from tests.lines.line_charts import chart

SYMBOLS = ("C", "Gm", "F#7", "Abmaj7", "Em7", "Bm7b5", "Bbdim7", "D6", "A7sus4", "Ebaug", "G9", "B7b9")


@given(
    st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=8),
    st.sampled_from(["quarters", "eighths", "triplets", "sixteenths"]),
    st.sampled_from(["4/4", "3/4", "12/8"]),
    st.sampled_from([None, 2, 5, 8]),
    st.booleans(),
)
@settings(max_examples=80, deadline=None)
def test_properties_of_the_line(symbols, rhythm, meter, position, falling):
    timeline = chart(" | ".join(symbols), meter=meter)
    wanted = Changes(rhythm=rhythm, position=position, falling=falling), Player()
    part = arpeggio_line(timeline, *wanted)

    assert line_overlaps(part) == []
    assert part.notes[-1].written_end_beats == timeline.length_beats
    for note in part.notes:
        chord = timeline.chord_at(note.onset_beats).chord
        assert note.degree == chord.degree_of(note.midi)
    for before, after in pairwise(part.notes):
        assert before.written_end_beats == after.onset_beats
        assert before.midi != after.midi
        old, new = (timeline.chord_at(n.onset_beats).chord for n in (before, after))
        if old != new and before.midi % 12 not in new.pitch_classes:
            # the nearest tone of a chord of three or more is never further than a third away,
            # unless the position ends between
            limits = in_position(STANDARD, position) if position else None
            if limits is None or limits[0] + 4 < before.midi < limits[-1] - 4:
                assert abs(after.midi - before.midi) <= 4


def test_at_a_change_the_line_goes_to_the_nearest_tone_and_keeps_its_direction():
    # up the A minor seventh; F#3 is nearer to G3 than A3 is, and the line still rises from there
    part = arpeggio_line(chart("Am7 D7 | Gmaj7"), Changes(position=5), Player())
    assert " ".join(str(n.pitch) for n in part.notes[:10]) == "A2 C3 E3 G3 F#3 A3 C4 D4 F#4 G4"


@pytest.mark.parametrize(
    ("before", "direction", "expected"),
    [
        (60, 1, (64, 1)),  # on the ladder: the next rung
        (67, 1, (64, -1)),  # at its top: turn
        (60, -1, (64, 1)),  # at its bottom: turn
        (62, 1, (64, 1)),  # two equally near: the one ahead
        (62, -1, (60, -1)),
        (65, -1, (64, -1)),
        (65, 1, (64, 1)),  # a nearer one behind does not turn the line round
        (70, 1, (67, -1)),  # above the ladder
        (55, -1, (60, 1)),  # below it
    ],
)
def test_going_on(before, direction, expected):
    assert go_on((60, 64, 67), before, direction) == expected


@pytest.mark.parametrize("form", ["E", "A", None])
def test_moving_by_form(form):
    timeline = chart("Gm7 | C7 | Fmaj7 | %", key="F")
    part = arpeggio_line(timeline, Changes(moving=True, form=form), Player())
    for span in timeline.merged_chords:
        shapes = (
            [chord_shape(span.chord, STANDARD, form)] if form else chord_shapes(span.chord, STANDARD)
        )
        own = {
            (n.fretting.string, n.fretting.fret)
            for n in part.notes
            if span.onset_beats <= n.onset_beats < span.end_beats
        }
        assert any(own <= {(n.string, n.fret) for n in shape.notes} for shape in shapes)
    if form is None:
        assert max(n.fretting.fret for n in part.notes) <= 10, "it stays near the fifth position"


@pytest.mark.parametrize("strings", [(1, 2), (3,), (2, 3, 4)])
def test_on_chosen_strings(strings):
    part = arpeggio_line(chart("Gm7 | C7 | Fmaj7 | %", key="F"), Changes(strings=strings), Player())
    assert {n.fretting.string for n in part.notes} <= set(strings)
    assert all(1 <= n.fretting.fret <= 15 for n in part.notes)


NEAR_FRETS = 6


@given(
    st.lists(st.sampled_from((*SYMBOLS, "F", "Dm", "E7", "Cm7")), min_size=2, max_size=8),
    st.sampled_from(["quarters", "eighths", "triplets", "sixteenths"]),
    st.sampled_from([(1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (1, 2, 3), (4, 5, 6)]),
    st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_on_chosen_strings_the_hand_never_jumps(symbols, rhythm, strings, falling):
    timeline = chart(" | ".join(symbols))
    part = arpeggio_line(timeline, Changes(rhythm=rhythm, strings=strings, falling=falling), Player())
    for before, after in pairwise(part.notes):
        assert abs(after.fretting.fret - before.fretting.fret) <= NEAR_FRETS
        assert before.midi != after.midi


def test_refusals():
    with pytest.raises(LineError, match="no chord"):
        arpeggio_line(chart("N.C."), Changes(), Player())
    with pytest.raises(LineError, match="no position"):
        arpeggio_line(chart("C"), Changes(position=24), Player())
    with pytest.raises(LineError, match="no set of strings '7'"):
        arpeggio_line(chart("C"), Changes(strings=(7,)), Player())
    with pytest.raises(LineError, match="no form 'X'"):
        arpeggio_line(chart("C"), Changes(form="X", moving=True), Player())
