"""Pushed chords: struck an eighth early by all who strike chords, in any feel.

[common practice] a push is the eighth before the beat, held over it, and swings with the feel.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from genex.band import play_band
from genex.band.pushes import with_pushes
from genex.score import PUSH_BEATS, Part, Timeline
from tests.band.charts import GROOVES, timeline

F = Fraction
HALF = F(1, 2)
CHART = "G | C | Em7 A7 | D7 | G | C | Am7 | D7"
FEELS = ("straight", "swing", "bossa", "soul", "reggae", "ballad", "tango", "disco")


def pushed(*onsets: int) -> Timeline:
    line = timeline(CHART)
    spans = [
        replace(span, push_beats=PUSH_BEATS) if span.onset_beats in onsets else span
        for span in line.chords
    ]
    return replace(line, chords=tuple(spans))


def band(line: Timeline, feel: str, *, ending: bool = False) -> dict[str, Part]:
    return {p.name: p for p in play_band(line, GROOVES[feel], seed=3, humanise=0, ending=ending)}


@pytest.mark.parametrize("feel", FEELS)
def test_bass_and_chords_strike_the_pushed_chord_and_nothing_else_there(feel: str) -> None:
    line = pushed(4, 10, 24)
    played, plain = band(line, feel), band(timeline(CHART), feel)
    assert played["drums"] == plain["drums"]
    for name in {"bass", "comping"} & set(played):
        for beat in (F(4), F(10), F(24)):
            chord = line.chord_at(beat).chord
            assert chord is not None
            inside = [n for n in played[name].notes if beat - HALF <= n.onset_beats < beat]
            assert inside, (name, beat)
            for note in inside:
                assert note.onset_beats == beat - HALF or note.written_end_beats > beat
                assert note.midi % 12 in chord.pitch_classes | {chord.bass.pitch_class} or name != "bass"
            before = [n for n in played[name].notes if n.onset_beats < beat - HALF]
            assert all(n.written_end_beats <= beat - HALF or n in plain[name].notes for n in before)


def test_bars_without_a_push_are_as_they_were() -> None:
    played, plain = band(pushed(12), "straight"), band(timeline(CHART), "straight")
    for name in ("bass", "comping"):
        kept = [n for n in plain[name].notes if not F(8) <= n.onset_beats < F(16)]
        assert kept == [n for n in played[name].notes if not F(8) <= n.onset_beats < F(16)]


def test_a_push_swings_with_the_feel() -> None:
    played = band(pushed(4), "swing")
    (note,) = [n for n in played["bass"].notes if n.onset_beats == F(7, 2)]
    assert F(1, 10) < note.offset_beats < F(1, 3)


def test_a_push_onto_the_first_beat_sounds_before_the_seam_of_a_loop_alone() -> None:
    line = pushed(0)
    looped, taken = band(line, "straight"), band(line, "straight", ending=True)
    last = line.length_beats - HALF
    assert any(n.onset_beats == last and n.written_end_beats == line.length_beats
               for n in looped["bass"].notes)  # fmt: skip
    assert all(n.onset_beats != last for n in taken["bass"].notes)
    assert any(n.onset_beats == 0 for n in taken["bass"].notes)


def test_a_part_that_rests_is_left_alone() -> None:
    silent = replace(band(pushed(4), "straight")["bass"], notes=())
    assert with_pushes(silent, pushed(4), lambda _: F(0), loops=True).notes == ()
