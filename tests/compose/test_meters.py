"""Meters beside the usual ones, from the recipe to every kind of file."""

from __future__ import annotations

import io
from fractions import Fraction
from xml.etree import ElementTree

import mido
import pytest

from genex.compose import compose
from genex.export.chord_chart import chart_text
from genex.export.midi import midi_bytes
from genex.export.musicxml import musicxml_text
from genex.export.tab import tab_text
from genex.recipe import parse_recipe
from genex.score import Role, Score

F = Fraction
METERS = {
    # bar in quarters, onsets that are counted: 3/8 in eighths, odd meters in their groups
    "3/8": (F(3, 2), ["0", "1/2", "1"]),
    "6/4": (F(6), ["0", "1", "2", "3", "4", "5"]),
    "11/8": (F(11, 2), ["0", "3/2", "3", "9/2"]),
}  # [common practice]


def score_in(meter: str) -> Score:
    recipe = parse_recipe(
        f"title: Odd\nmeter: {meter}\ntempo: 60\nchords: Dm7 | G7 | Cmaj7 | Am7 |\n"
        "parts: [drums, bass, comping, exercise, click]"
    )
    return compose(recipe).score


@pytest.mark.parametrize("meter", METERS)
def test_a_recipe_in_a_rare_meter_is_played_and_printed(meter):
    score = score_in(meter)
    bar, counted = METERS[meter]
    count, unit = (int(number) for number in meter.split("/"))
    assert score.length_beats == 4 * bar
    (click,) = [part for part in score.parts if part.role is Role.CLICK]
    for notes in ([n for n in click.notes if n.onset_beats < bar], score.lead_in.part.notes):
        assert [str(note.onset_beats) for note in notes] == counted
    for part in score.parts:
        bars = {note.onset_beats // bar for note in part.notes}
        assert bars == {0, 1, 2, 3}, part.name

    file = mido.MidiFile(file=io.BytesIO(midi_bytes(score)))  # [package: mido]
    signatures = [m for track in file.tracks for m in track if m.type == "time_signature"]
    assert {(m.numerator, m.denominator) for m in signatures} == {(count, unit)}
    length = max(sum(message.time for message in track) for track in file.tracks)
    assert F(length, file.ticks_per_beat) == 4 * bar

    root = ElementTree.fromstring(musicxml_text(score))
    assert (root.findtext(".//beats"), root.findtext(".//beat-type")) == (str(count), str(unit))
    for part in root.iter("part"):
        divisions = int(part.findtext(".//divisions"))
        for measure in part.iter("measure"):
            lengths = [
                int(note.findtext("duration"))
                for note in measure.iter("note")
                if note.find("chord") is None and note.findtext("staff") in (None, "1")
            ]
            assert F(sum(lengths), divisions) == bar

    assert f"Meter: {meter}" in chart_text(score)
    tab = tab_text(score)
    assert f"Meter: {meter}" in tab and "Am7" in tab
