"""What stands around the notes of a measure: header, meter, tempo, chord symbols."""

from __future__ import annotations

from fractions import Fraction

from genex.export.lead_sheet import lead_sheet_text
from genex.export.musicxml import musicxml_text
from genex.score import Score, TempoChange, TempoMap
from tests.export.builders import beats, fretted, lead, small_score, timeline
from tests.export.test_musicxml import read, valid


def test_tempo_meter_key_and_title():
    score = small_score(tempo=97, key="Bb")
    opened = read(musicxml_text(score))
    assert opened.metadata.title == "Lamps on the Canal"
    flat = opened.parts[0].flatten()
    assert flat.getElementsByClass("MetronomeMark")[0].getQuarterBPM() == 97
    assert flat.getElementsByClass("TimeSignature")[0].ratioString == "4/4"
    assert flat.getElementsByClass("KeySignature")[0].sharps == -2


def test_compound_meters_count_dotted_quarters():
    part = lead([fretted(Fraction(index, 2), "1/2", 3, 5) for index in range(12)])
    text = musicxml_text(Score("Slow", "slow blues", timeline("C", meter="12/8", tempo=90), (part,)))
    root = valid(text)
    assert root.find(".//metronome/beat-unit-dot") is not None
    assert root.findtext(".//metronome/per-minute") == "60"
    beams = [n.findtext("beam") for n in root.iter("note") if n.findtext("staff") == "1"]
    assert beams == ["begin", "continue", "end"] * 4


def test_tempo_changes_stand_at_their_bars():
    tempo = TempoMap((TempoChange(beats(0), beats(80)), TempoChange(beats(8), beats(84))))
    root = valid(musicxml_text(small_score(tempo_map=tempo)))
    found = [(s.getparent().getparent().get("number"), s.get("tempo")) for s in root.iter("sound")]
    assert found == [("1", "80"), ("3", "84")]


def test_no_chord_is_written_as_such():
    root = valid(musicxml_text(small_score()))
    last = list(root.iter("harmony"))[-1]
    assert (last.findtext("kind"), last.find("kind").get("text")) == ("none", "N.C.")


def test_a_chord_inside_a_held_note_has_an_offset():
    score = Score("Held", "straight", timeline("Gm7 C7"), (lead([fretted(0, 4, 3, 5)]),))
    root = valid(musicxml_text(score))
    assert [h.findtext("offset") for h in root.iter("harmony")] == [None, "2"]


def test_a_pushed_chord_stands_an_eighth_before_its_beat():
    """Read as its time by another program [package: music21 10.5]."""
    line = timeline("G | <C <G")
    score = Score("Early", "straight", line, (lead([fretted(0, 4, 3, 5), fretted(4, 4, 3, 5)]),))
    for text in (musicxml_text(score), lead_sheet_text(score)):
        valid(text)
        chords = read(text).parts[0].recurse().getElementsByClass("ChordSymbol")
        opened = [(chord.getOffsetInHierarchy(chord.activeSite.activeSite), chord) for chord in chords]
        assert [(at, chord.root().name) for at, chord in opened] == [(0, "G"), (3.5, "C"), (5.5, "G")]
