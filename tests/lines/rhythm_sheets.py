"""Studies of rhythm as a score, and what independent readers find in it."""

from __future__ import annotations

import io
from fractions import Fraction

import mido

from genex.export.midi import midi_bytes
from genex.export.musicxml import musicxml_text
from genex.lines.study_plan import StudyPlan
from genex.score import Score
from genex.score.checks import require_sound
from tests.export.test_musicxml import read, sounding, valid


def score_of(plan: StudyPlan) -> Score:
    score = Score("Sheet", "as written", plan.timeline, plan.parts)
    require_sound(score)
    return score


def assert_reads_back(plan: StudyPlan) -> None:
    """MusicXML by its schema and by music21, MIDI by mido, each with the times as written.

    [published: MusicXML 4.0] [package: music21 10.5.1] [package: mido 1.3.3]
    """
    score = score_of(plan)
    (part,) = score.parts
    text = musicxml_text(score)
    valid(text)
    wanted = [(note.onset_beats, note.midi, note.duration_beats) for note in part.notes]
    assert sounding(text) == wanted
    bar = plan.timeline.meter.bar_beats
    for staff in read(text).parts:
        for measure in staff.getElementsByClass("Measure"):
            lengths = [
                Fraction(each.quarterLength).limit_denominator(1000) for each in measure.notesAndRests
            ]
            assert sum(lengths) == bar
    counts = [n.lyric for n in read(text).parts[0].flatten().notes if n.lyric]
    assert counts == [note.syllable for note in part.notes]
    at, onsets = 0, []
    for message in mido.MidiFile(file=io.BytesIO(midi_bytes(score))).tracks[1]:
        at += message.time
        if message.type == "note_on" and message.velocity:
            onsets.append(Fraction(at, 960))
    assert onsets == [note.onset_beats for note in part.notes]
