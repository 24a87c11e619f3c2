"""Exercises over charts that change their meter, heard and read by others.

[package: pretty_midi 0.2] tells the meters of MIDI, [package: music21 10.5] the bars of MusicXML.
"""

from __future__ import annotations

import io
from fractions import Fraction as F
from itertools import groupby

import pretty_midi
import pytest

from genex.compose import compose
from genex.errors import ChartFileError, InputError
from genex.export.captions import timeline_rows
from genex.export.midi import midi_bytes
from genex.export.musicxml import musicxml_text
from genex.export.tab import tab_text
from genex.fretboard import STANDARD
from genex.lines.form_plan import plan_of
from genex.readers.lines.places import in_file
from genex.readers.lines.tab_line import read_tab_line
from genex.recipe import parse_recipe
from genex.score import FileClock, Score
from tests.export.test_musicxml import read

HEAD = """
title: Ferry Steps
key: C
tempo: 90
sections:
  A: C | Am7 | (2/4) G7 | (4/4) C |
  B: {meter: 3/4, chords: "Fmaj7 | Em7 | Dm7 | G7 |"}
  C: {meter: 6/8, chords: "Am7 | Dm7 G7 | (7/8) C | (4/4) C |"}
"""
METERS = "4/4 4/4 2/4 4/4 3/4 3/4 3/4 3/4 6/8 6/8 7/8 4/4".split()
LINE = "c2BA G2E2 | A8 | G2B2 | c8 | A2GF E2 | G6 | F2ED C2 | B,6 | A3 c3 | d3 B3 | c2E2G3 | C8 |"
SAID = (
    "c2BA G2E2 | A8 | [M:2/4] G2B2 | [M:4/4]c8 | \nM:3/4\nA2GF E2 | G6 | F2ED C2 | B,6 | [M:6/8] A3 c3 |"
)
SAID += " d3 B3 | [M:7/8] c2E2G3 | [M:4/4] C8 |"
EXERCISES = {
    "etude": "{kind: etude, level: 4}",
    "etude in long phrases": "{kind: etude, level: 5, bars: 4}",
    "improvise": "{kind: improvise, level: 3}",
    "a given rhythm": "{kind: improvise, rhythm: given}",
    "positions": "{kind: positions, level: 2}",
    "a line": f"{{kind: line, abc: {LINE!r}, strokes: alternate}}",
    "a line that says its meters": "\n  kind: line\n  abc: |\n"
    + "\n".join(f"    {row}" for row in SAID.splitlines()),
    "a phrase in every position": f"{{kind: positions, abc: {LINE!r}}}",
    "a lick": '{kind: lick, abc: "[M:4/4] cBAG E4 | [M:2/4] D2 C2 |", chord: C}',
}


def scored(exercise: str) -> Score:
    return compose(parse_recipe(f"{HEAD}exercise: {exercise}\n")).score


@pytest.mark.parametrize("name", EXERCISES)
def test_every_file_has_the_bars_of_the_chart(name: str) -> None:
    score = scored(EXERCISES[name])
    bars = score.timeline.bars
    meters = [str(bar.meter) for bar in bars]
    played = ["4/4", "2/4"] if name == "a lick" else METERS
    assert meters == played * (len(meters) // len(played))
    heard = pretty_midi.PrettyMIDI(io.BytesIO(midi_bytes(score)))
    wanted = [
        (meter, next(run).onset_beats) for meter, run in groupby(bars, key=lambda bar: str(bar.meter))
    ]
    assert [
        (f"{one.numerator}/{one.denominator}", F(heard.time_to_tick(one.time), heard.resolution))
        for one in heard.time_signature_changes
    ] == wanted
    seconds = score.length_beats * F(60, 90)
    assert FileClock.of(score, include_lead_in=False).sample(score.length_beats, 48_000) == round(
        seconds * 48_000
    )
    rows = [(row.bar, row.seconds) for row in timeline_rows(score, 48_000) if row.beat == 1]
    assert rows == [(bar.number, round(float(bar.onset_beats * F(60, 90)), 6)) for bar in bars]
    (part,) = [part for part in score.lead_parts if part.name == "exercise"]
    text = tab_text(score, ["exercise"])
    line = read_tab_line(text, in_file("x.tab"), (bars[0].meter,), score.timeline.key, STANDARD)
    # A tab of its own says what meters it is in, and where they change.
    end = len(line.meters)
    assert [str(meter) for meter in line.meters] == meters[:end]
    assert {(one.note.onset_beats, one.string, one.fret) for one in line.notes} == {
        (note.onset_beats, note.fretting.string, note.fretting.fret) for note in part.notes
    }


@pytest.mark.parametrize("name", ["etude", "a line that says its meters"])
def test_bars_and_notes_of_musicxml(name: str) -> None:
    score = scored(EXERCISES[name])
    part = read(musicxml_text(score, ["exercise"])).parts[0]
    measures = list(part.getElementsByClass("Measure"))
    assert [F(one.highestTime) for one in measures] == [bar.length_beats for bar in score.timeline.bars]
    said = [one.timeSignature.ratioString for one in measures if one.timeSignature]
    assert said == [meter for meter, _ in groupby(METERS)]
    (line,) = [one for one in score.lead_parts if one.name == "exercise"]
    theirs = [
        (F(note.getOffsetInHierarchy(part)).limit_denominator(96), note.pitch.midi)
        for note in part.flatten().getElementsByClass("Note")
        if not (note.tie and note.tie.type != "start")
    ]
    assert sorted(set(theirs)) == sorted((note.onset_beats, note.midi) for note in line.notes)


def test_phrases_do_not_go_from_one_lasting_meter_into_another() -> None:
    chart = "C | % | % | (2/4) C | (3/4) F | % | % | % | (4/4) C | %"
    timeline = compose(parse_recipe(f"key: C\nchords: '{chart}'\n")).score.timeline
    plan = plan_of(timeline, 3, "seed")
    starts = {phrase.first_bar for phrase in plan}
    assert sum(phrase.bars for phrase in plan) == 10
    assert 4 in starts and 3 not in starts  # a bar of 2/4 belongs to the phrase that it closes


@pytest.mark.parametrize(
    ("exercise", "said", "hint"),
    [
        ('{kind: line, abc: "[M:4/4] C8 | D8 |"}', "bar 1 of the line is in 4/4, and bar 3 of the chart "
         "in 3/4, where it begins again at bar 3", "[M:3/4]"),
        ('{kind: line, abc: "M:3/4\\nC6 |"}', "the line is in 3/4 and the chart in 4/4", "meter: 3/4"),
        ('{kind: line, abc: "C8 | D8 | E8 |"}', "the bar holds 4 quarter notes, and 3/4 has 3", "rests"),
        ('{kind: calls, abc: "C8 | D8 |", bars: 1}', "one meter throughout", "does not change"),
    ],
)  # fmt: skip
def test_a_line_in_other_meters_is_refused(exercise: str, said: str, hint: str) -> None:
    with pytest.raises(InputError) as refused:
        compose(parse_recipe(f"key: C\nchords: C | G7 | (3/4) F | C\nexercise: {exercise}\n"))
    assert said in refused.value.message and hint in refused.value.hint
    assert isinstance(refused.value, ChartFileError) == ("holds" in said)


def test_a_line_begins_at_the_top_of_the_form_behind_an_intro() -> None:
    text = "key: C\nsections: {I: G7 | G7, A: C | (3/4) F}\nintro: I\nrepeats: 2\n"
    score = compose(parse_recipe(text + 'exercise: {kind: line, abc: "L:1/4\\nC4 | F3 |"}\n')).score
    (part,) = [one for one in score.lead_parts if one.name == "exercise"]
    assert [note.onset_beats for note in part.notes] == [8, 12, 15, 19]
