"""The tempo map, and bars and chords on one line."""

from dataclasses import replace
from fractions import Fraction as F

import pytest

from genex.score import (
    Bar,
    ChordSpan,
    Meter,
    RepeatSpan,
    SectionSpan,
    TempoChange,
    TempoMap,
    Timeline,
)
from genex.theory import Key, parse_chord


def timeline(symbols, meter="4/4", tempo=120):
    """One chord a bar."""
    m = Meter.parse(meter)
    bars = tuple(Bar(n + 1, n + 1, 1, n * m.bar_beats, m, "A") for n in range(len(symbols)))
    chords = tuple(
        ChordSpan(bar.onset_beats, m.bar_beats, parse_chord(s))
        for bar, s in zip(bars, symbols, strict=True)
    )
    whole = SectionSpan(F(0), len(bars) * m.bar_beats, "A", 1)
    return Timeline(Key.parse("C"), TempoMap.constant(F(tempo)), bars, chords, (whole,))


def test_seconds_through_a_tempo_change():
    tempo = TempoMap((TempoChange(F(0), F(120)), TempoChange(F(4), F(60))))
    assert [tempo.seconds_at(F(b)) for b in (0, 2, 4, 6)] == [0, 1, 2, 4]
    assert tempo.seconds_at(F(-2)) == -1
    assert tempo.tempo_at(F(3)) == 120 and tempo.tempo_at(F(4)) == 60
    assert tempo.shifted(F(4)).seconds_at(F(8)) == 4


def test_a_tempo_map_starts_at_zero_and_rises():
    for onsets in ([1], [0, 0], [0, 2, 1], []):
        with pytest.raises(ValueError, match="start at beat 0"):
            TempoMap(tuple(TempoChange(F(onset), F(100)) for onset in onsets))


def test_chords_and_bars_are_found_by_time_and_wrap_round():
    line = timeline(["C", "F", "G7"])
    assert str(line.chord_at(F(5)).chord) == "F"
    assert str(line.chord_at(F(12)).chord) == "C"
    assert line.bar_at(F(-1)).number == 3
    assert [str(span.chord) for span in line.chords_in(line.bars[1])] == ["F"]


def test_equal_neighbours_merge_and_changes_wrap():
    line = timeline(["C", "C", "F"])
    assert [(str(s.chord), s.length_beats) for s in line.merged_chords] == [("C", 8), ("F", 4)]
    assert [(str(a.chord), str(b.chord)) for a, b in line.changes()] == [("C", "F"), ("F", "C")]


def test_gaps_are_refused():
    line = timeline(["C", "F"])
    with pytest.raises(ValueError, match="gap"):
        Timeline(line.key, line.tempo, line.bars, line.chords[1:], line.sections)


def test_a_repeat_with_two_endings_has_two_passes():
    # |: C F |1. G :|2. A Bb || from the second bar on: C F G C F A Bb
    repeat = RepeatSpan(F(4), F(8), (F(4), F(8)))
    assert [(p.onset_beats, p.ending_beats, p.end_beats) for p in repeat.passes] == [
        (4, 12, 16), (16, 24, 32),
    ]  # fmt: skip
    assert (repeat.length_beats, repeat.end_beats) == (28, 32)
    assert all(turn.has_ending for turn in repeat.passes)


def test_a_plain_repeat_has_no_endings():
    repeat = RepeatSpan(F(0), F(8), (F(0),) * 3)
    assert [p.onset_beats for p in repeat.passes] == [0, 8, 16]
    assert not any(turn.has_ending for turn in repeat.passes)


@pytest.mark.parametrize("lengths", [(), (F(4),), (F(4), F(-4))])
def test_what_is_no_repeat_is_refused(lengths):
    with pytest.raises(ValueError, match="two passes"):
        RepeatSpan(F(0), F(4), lengths)


@pytest.mark.parametrize(
    "repeats",
    [
        (RepeatSpan(F(0), F(2), (F(0), F(0))),),
        (RepeatSpan(F(8), F(4), (F(0), F(4))),),
        (RepeatSpan(F(0), F(4), (F(0), F(0))), RepeatSpan(F(4), F(4), (F(0), F(0)))),
    ],
)
def test_repeats_lie_on_bar_lines_one_after_another(repeats):
    with pytest.raises(ValueError, match="repeats overlap"):
        replace(timeline(["C", "C", "F"]), repeats=repeats)


def test_pulses_and_quarters_of_a_tempo():
    # 60 dotted quarters a minute are 90 quarters [common practice]
    compound, simple = Meter(12, 8), Meter(4, 4)
    tempo = TempoMap.of_pulses(F(60), compound)
    assert [(c.onset_beats, c.tempo_bpm) for c in tempo.changes] == [(0, 90)]
    assert (tempo.pulses_at(F(3), compound), tempo.pulses_at(F(3), simple)) == (60, 90)
    change = TempoChange.of_pulses(F(6), F(80), compound)
    assert (change.onset_beats, change.tempo_bpm, change.pulses(compound)) == (6, 120, 80)


def test_the_tempo_in_force():
    tempo = TempoMap((TempoChange(F(0), F(60)), TempoChange(F(4), F(120))))
    times = (F(-1), F(0), F(39, 10), F(4), F(100))
    assert [tempo.tempo_at(at) for at in times] == [60, 60, 60, 120, 120]
    assert [tempo.change_at(at).onset_beats for at in times] == [0, 0, 0, 4, 4]


def test_bars_between_two_times():
    line = timeline(["C", "F", "G"])
    assert [bar.number for bar in line.bars_between(F(0), F(12))] == [1, 2, 3]
    assert [bar.number for bar in line.bars_between(F(4), F(8))] == [2]
    assert [bar.number for bar in line.bars_between(F(1), F(9))] == [2, 3]
    assert line.bars_between(F(5), F(5)) == ()


def test_edges_of_bars_are_exact():
    line = timeline(["C", "F", "G"], meter="7/8")
    hair = F(1, 10**9)
    assert [str(span.chord) for span in line.chords_in(line.bars[1])] == ["F"]
    assert str(line.chord_at(F(7, 2) - hair).chord) == "C"
    assert str(line.chord_at(F(7, 2)).chord) == "F"
    assert str(line.chord_before(F(7, 2)).chord) == "C"
    assert str(line.chord_before(F(7, 2) + hair).chord) == "F"
    assert str(line.chord_before(F(0)).chord) == "G", "a loop leads back"


def test_no_chord_is_said_only_beside_chords():
    line = timeline(["C", "F"])
    silent = replace(line, chords=(line.chords[0], replace(line.chords[1], chord=None)))
    assert [silent.chord_label(span) for span in silent.chords] == ["C", "N.C."]
    empty = replace(line, chords=tuple(replace(span, chord=None) for span in line.chords))
    assert not empty.has_chords
    assert [empty.chord_label(span) for span in empty.chords] == ["", ""]
