"""When the chords of an exercise are struck."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.exercises import Struck
from genex.exercises.models.comping import CompingRhythm
from genex.lines.comping_rhythm import RHYTHMS, named_rhythm, strokes_over
from genex.score import Meter, Stroke
from tests.lines.line_charts import chart


def played(name: str, meter: str) -> str:
    """Onset and length of each stroke in beats."""
    strokes = named_rhythm(name, Meter.parse(meter))
    return " ".join(f"{s.onset_beats}:{s.length_beats}" for s in strokes)


@pytest.mark.parametrize(
    ("name", "meter", "expected"),
    [
        # [common practice]
        ("whole", "4/4", "0:4"),
        ("half", "4/4", "0:2 2:2"),
        ("half", "3/4", "0:2 2:1"),
        ("quarters", "4/4", "0:1 1:1 2:1 3:1"),
        ("two and four", "4/4", "1:1 3:1"),
        ("two and four", "3/4", "1:1"),
        ("off-beats", "4/4", "1/2:1/2 3/2:1/2 5/2:1/2 7/2:1/2"),
        ("off-beats", "6/8", "1:1/2 5/2:1/2"),
        ("charleston", "4/4", "0:3/2 3/2:1/2"),
        ("charleston", "3/4", "0:3/2 3/2:1/2"),
        ("charleston", "12/8", "0:5/2 5/2:1/2"),
        ("anticipated", "4/4", "0:7/2 7/2:1/2"),
    ],
)
def test_rhythms_by_name(name: str, meter: str, expected: str) -> None:
    assert played(name, meter) == expected


def test_the_recipes_words_are_the_rhythms_that_there_are() -> None:
    assert set(CompingRhythm.__args__) == {"feel", *RHYTHMS}


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["feel", *RHYTHMS]),
    st.sampled_from(["2/2", "2/4", "3/4", "4/4", "5/4", "6/8", "7/8", "9/8", "12/8"]),
    st.lists(st.sampled_from(["Dm7", "G7", "C", "N.C.", "Am7 D7", "Dm7 G7"]), min_size=1, max_size=6),
)
def test_every_chord_is_struck_and_none_after_it_is_over(
    rhythm: str, meter: str, bars: list[str]
) -> None:
    timeline = chart(" | ".join(bars), meter=meter)
    strokes = strokes_over(timeline, rhythm, ())
    spans = timeline.merged_chords
    for span in spans:
        inside = [s for s in strokes if span.onset_beats <= s.chord_beats < span.end_beats]
        assert bool(inside) == (span.chord is not None)
        assert all(s.end_beats <= span.end_beats for s in inside)
    for before, after in pairwise(strokes):
        assert before.onset_beats < before.end_beats <= after.onset_beats


def test_a_chord_struck_ahead_takes_the_place_of_the_stroke_there() -> None:
    strokes = strokes_over(chart("Dm7 | G7 | C"), "anticipated", ())
    assert [(s.onset_beats, s.length_beats, s.chord_beats) for s in strokes] == [
        (0, F(7, 2), 0), (F(7, 2), 4, 4), (F(15, 2), 4, 8), (F(23, 2), F(1, 2), 12),
    ]  # fmt: skip


FEEL = (
    (Struck(F(0), F(1)), Struck(F(3, 2), F(1, 2), is_muted=True)),
    (Struck(F(1), F(1)), Struck(F(7, 2), F(1, 2), is_ahead=True)),
)


def test_a_feels_bars_go_round_from_the_beginning_of_each_section() -> None:
    strokes = strokes_over(chart("C | F | G | C"), "feel", FEEL)
    heard = [(s.onset_beats, s.is_muted) for s in strokes]
    assert heard == [
        (0, False), (F(3, 2), True), (5, False), (F(15, 2), False), (F(19, 2), True), (13, False),
        (F(31, 2), False),
    ]  # fmt: skip
    assert strokes[3].chord_beats == 8 and strokes[3].length_beats == F(3, 2)


def test_strums_go_down_on_the_pulse_and_up_between() -> None:
    ways = {s.onset_beats % 1: s.way for s in strokes_over(chart("C"), "feel", FEEL)}
    assert ways == {0: Stroke.DOWN, F(1, 2): Stroke.UP}
    sixteenths = (tuple(Struck(F(k, 4), F(1, 4)) for k in range(16)),)
    found = [s.way for s in strokes_over(chart("C"), "feel", sixteenths)]
    assert found == [Stroke.DOWN, Stroke.UP] * 8


def test_without_chords_of_the_feel_the_bars_are_whole() -> None:
    assert [s.length_beats for s in strokes_over(chart("C | F"), "feel", ())] == [4, 4]


@pytest.mark.parametrize("rhythm", ["quarters", "whole", "charleston", "off-beats"])
def test_pushed_chords_are_struck_an_eighth_early_and_held(rhythm):
    """[common practice] the stroke before the beat goes up."""
    plain = chart("G | C | D7 | G")
    spans = [replace(span, push_beats=F(1, 2)) for span in plain.chords[1:]]
    pushed = replace(plain, chords=(plain.chords[0], *spans))
    strokes = strokes_over(pushed, rhythm, ())
    for beat in (F(4), F(8), F(12)):
        inside = [s for s in strokes if beat - F(1, 2) <= s.onset_beats < beat]
        if any(s.onset_beats == beat for s in strokes_over(plain, rhythm, ())):
            (stroke,) = inside
            assert (stroke.onset_beats, stroke.chord_beats) == (beat - F(1, 2), beat)
            assert stroke.way is Stroke.UP and stroke.end_beats > beat
    assert all(a.end_beats <= b.onset_beats for a, b in pairwise(strokes))
