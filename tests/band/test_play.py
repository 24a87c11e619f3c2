"""The band as a whole: repeatable, local, in form."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.band import BAND_PARTS, count_in, groove_names, load_groove, play_band, trading
from genex.errors import GrooveError
from genex.score import Note, Part, Role, Score, Timeline
from genex.score.checks import equal_pitch_overlaps, require_sound
from genex.theory import parse_chord
from tests.band.charts import (
    GROOVES,
    TUNES,
    charts,
    for_groove,
    keys,
    notes_by_bar,
    symbols,
    timeline,
    tune,
)

F = Fraction


def play(name: str, line: Timeline, seed: int = 1, **changes: object) -> dict[str, Part]:
    return {part.name: part for part in play_band(line, GROOVES[name], seed=seed, **changes)}


@settings(max_examples=60)
@given(st.sampled_from(groove_names()), charts, keys, st.integers(0, 10**6), st.sampled_from([1, 2]))
def test_every_feel_makes_a_sound_score(name, chart, key, seed, choruses):
    line = for_groove(name, chart, key=str(key), choruses=choruses)
    parts = play_band(line, GROOVES[name], seed=seed)
    assert tuple(part.name for part in parts) == GROOVES[name].parts
    require_sound(Score("t", name, line, parts))
    for part in parts:
        assert part.notes
        assert equal_pitch_overlaps(part) == []
        for note in part.notes:
            assert note.onset_beats >= 0 and note.written_end_beats <= line.length_beats
            assert 0 <= note.start_beats < line.length_beats


@settings(max_examples=20)
@given(st.sampled_from(groove_names()), charts, st.integers(0, 10**6))
def test_the_same_seed_gives_the_same_notes(name, chart, seed):
    line = for_groove(name, chart, choruses=2)
    assert play_band(line, GROOVES[name], seed=seed) == play_band(line, GROOVES[name], seed=seed)


@pytest.mark.parametrize("name", [n for n in groove_names() if n != "click"])
def test_another_seed_gives_other_notes(name):
    line = for_groove(name, TUNES["blues"][1], key="F")
    one, other = play(name, line, 1), play(name, line, 2)
    assert all(one[part].notes != other[part].notes for part in BAND_PARTS)


def edited(line: Timeline, number: int, symbol: str) -> Timeline:
    """The timeline with the chords of one bar replaced by one symbol (``-`` for no chord)."""
    bar = line.bars[number - 1]
    inside = [span for span in line.chords if bar.onset_beats <= span.onset_beats < bar.end_beats]
    chord = None if symbol == "-" else parse_chord(symbol)
    new = replace(inside[0], length_beats=bar.length_beats, chord=chord)
    place = line.chords.index(inside[0])
    chords = (*line.chords[:place], new, *line.chords[place + len(inside) :])
    return replace(line, chords=chords)


@settings(max_examples=60)
@given(st.sampled_from(groove_names()), charts, keys, st.integers(0, 999), st.data())
def test_editing_a_bar_leaves_the_notes_of_all_others(name, chart, key, seed, data):
    line = for_groove(name, chart, key=str(key))
    number = data.draw(st.integers(1, len(line.bars)))
    other = edited(line, number, data.draw(st.one_of(symbols, st.just("-"))))
    before = number - 1 or len(line.bars)
    one, two = play(name, line, seed), play(name, other, seed)
    for part in one:
        first, second = notes_by_bar(one[part], line), notes_by_bar(two[part], other)
        for bar in first:
            if part == "bass" and bar == number + 1 and bar != before:
                assert [n.onset_beats for n in first[bar]] == [n.onset_beats for n in second[bar]]
            elif part == "drums" or bar not in (number, before):
                assert first[bar] == second[bar]
        # What leads into the edited bar: the last note of the bass, a chord struck ahead. Whether the
        # bass may begin the bar after it on a third or fifth depends on whether the chord goes on.
        assert without_last(first[before]) == without_last(second[before]) or before == number


def without_last(notes: list[Note]) -> list[Note]:
    """The notes but for those struck at the last onset."""
    last = max((note.onset_beats for note in notes), default=F(0))
    return [note for note in notes if note.onset_beats < last]


def test_a_longer_form_keeps_the_bars_it_had():
    short, long = timeline("C | F | G | C"), timeline("C | F | G | C", choruses=2)
    once, twice = play("rock", short)["drums"], play("rock", long, build=0)["drums"]
    assert notes_by_bar(once, short)[2] == notes_by_bar(twice, long)[2]


def test_parts_can_be_left_out_or_be_alone():
    line = tune("pop")
    assert set(play("straight", line, parts=("bass",))) == {"bass"}
    assert set(play("straight", line, parts=("drums", "comping"))) == {"drums", "comping"}
    whole = play("straight", line)
    assert play("straight", line, parts=("bass",))["bass"] == whole["bass"]


def test_a_section_can_be_left_by_some():
    line = tune("pop", sections=(4, 4))
    parts = play("straight", line, mutes={"B": ("drums", "comping")})
    assert all(note.onset_beats < 16 for part in ("drums", "comping") for note in parts[part].notes)
    assert any(note.onset_beats >= 16 for note in parts["bass"].notes)


def test_trading_fours_leaves_every_other_four_bars_open():
    line = timeline(" | ".join(["C7"] * 16))
    parts = play("swing", line, bar_mutes=trading(line, 4, ("bass", "comping")))
    heard = {note.onset_beats // 16 for note in parts["bass"].notes}
    assert heard == {0, 2}
    assert {note.onset_beats // 16 for note in parts["drums"].notes} == {0, 1, 2, 3}
    with pytest.raises(ValueError):
        trading(line, 0)


def test_a_stop_is_one_stroke_together():
    line = timeline("C7 | C7 | C7 | C7")
    for part in play("shuffle", line, stops=(2,)).values():
        onsets = {note.onset_beats for note in part.notes if 4 <= note.onset_beats < 8}
        assert onsets == {4}


@pytest.mark.parametrize("name", [n for n in groove_names() if n != "click"])
def test_an_ending_ends(name):
    line = for_groove(name, "C | F | G | C")
    last = line.bars[-1].onset_beats
    parts = play(name, line, ending=True)
    for part in parts.values():
        assert {note.onset_beats for note in part.notes if note.onset_beats >= last} == {last}
    assert parts["bass"].notes[-1].duration_beats == line.bars[-1].length_beats
    assert str(parts["bass"].notes[-1].pitch.name) == "C"
    assert any(note.midi == 36 for note in parts["drums"].notes if note.onset_beats == last)


def mean_velocity(part: Part, start: int, end: int) -> float:
    inside = [note.velocity for note in part.notes if start <= note.onset_beats < end]
    return sum(inside) / len(inside)


def test_choruses_build_up_and_come_down():
    line = timeline("C | F | G | C", choruses=5)
    drums = play("straight", line, humanise=0, build=0.4)["drums"]
    chorus = [mean_velocity(drums, 16 * index, 16 * index + 16) for index in range(5)]
    assert chorus[0] < chorus[1] < chorus[2] < chorus[3] > chorus[4] > chorus[0]


def test_a_section_can_be_softer():
    line = tune("pop", sections=(4, 4))
    drums = play("straight", line, humanise=0, dynamics={"B": 0.6})["drums"]
    assert mean_velocity(drums, 16, 32) < 0.75 * mean_velocity(drums, 0, 16)


def test_levels_and_places_are_set_for_every_part():
    for name in groove_names():
        for part in play(name, for_groove(name, "C | C")).values():
            assert -16 <= part.mix.level_db <= 4
            assert 0 <= part.mix.room <= 0.5
            if part.role is Role.BASS:
                assert part.mix.pan == 0


def test_a_feel_in_a_meter_without_patterns_is_refused():
    with pytest.raises(GrooveError) as caught:
        play_band(timeline("C", meter="3/4"), load_groove("rock"), seed=1)
    assert caught.value.hint is not None and "waltz" in caught.value.hint


@pytest.mark.parametrize(
    ("feel", "meter", "bars", "tempo", "onsets"),
    [
        ("swing", "4/4", 1, 120, ["0", "1", "2", "3"]),
        ("swing", "4/4", 2, 120, ["0", "2", "4", "5", "6", "7"]),
        ("jazz-waltz", "3/4", 2, 120, ["0", "1", "2", "3", "4", "5"]),
        ("jazz-waltz", "3/4", 2, 210, ["0", "3", "4", "5"]),
        ("slow-blues", "12/8", 1, 60, ["0", "3/2", "3", "9/2"]),
        ("ballad-6-8", "6/8", 1, 60, ["0", "3/2"]),
        ("seven-eight", "7/8", 1, 120, ["0", "1", "2"]),
        ("click", "5/8", 1, 120, ["0", "3/2"]),
        ("click", "3/8", 1, 60, ["0", "1/2", "1"]),
        ("three-eight", "3/8", 1, 60, ["0", "1/2", "1"]),
        ("six-four", "6/4", 1, 120, ["0", "1", "2", "3", "4", "5"]),
        ("eleven-eight", "11/8", 1, 120, ["0", "3/2", "3", "9/2"]),
    ],
)
def test_the_count_in_clicks_the_pulses(feel, meter, bars, tempo, onsets):
    line = timeline("C | C", meter=meter, tempo=tempo)
    lead_in = count_in(line, bars, load_groove(feel))
    assert [str(note.onset_beats) for note in lead_in.part.notes] == onsets
    assert lead_in.length_beats == bars * line.meter.bar_beats
    assert lead_in.part.role is Role.CLICK


def test_the_count_in_leans_on_one_with_the_side_stick():
    lead_in = count_in(timeline("C"), 1, load_groove("bossa"))
    first, *others = lead_in.part.notes
    assert all(first.velocity > note.velocity for note in others)
    # General MIDI level 1 percussion map: 37 side stick [published: MMA 1991]
    assert {note.midi for note in lead_in.part.notes} == {37}
    with pytest.raises(ValueError):
        count_in(timeline("C"), 0, load_groove("bossa"))
