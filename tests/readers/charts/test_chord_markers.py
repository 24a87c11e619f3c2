"""Chords of MIDI files: read from markers; what is left away is said."""

import io
from pathlib import Path

import mido

from genex.readers.charts.chord_markers import read_chord_markers


def file_of(*events: tuple[str, int, str], melody: list[int], name: str = "Lead") -> bytes:
    """A file in 4/4 with metas at beats, and a track of quarters at beats."""
    file = mido.MidiFile(ticks_per_beat=4)
    track, at = mido.MidiTrack(), 0
    for kind, beat, text in events:
        track.append(mido.MetaMessage(kind, text=text, time=4 * beat - at))
        at = 4 * beat
    notes, at = mido.MidiTrack([mido.MetaMessage("track_name", name=name)]), 0
    for beat in melody:
        notes.append(mido.Message("note_on", note=60, time=4 * beat - at))
        notes.append(mido.Message("note_off", note=60, time=4))
        at = 4 * beat + 4
    file.tracks += [track, notes]
    data = io.BytesIO()
    file.save(file=data)
    return data.getvalue()


def test_that_notes_and_a_pickup_are_left_away_is_said():
    data = file_of(("marker", 4, "G"), ("marker", 8, "D7"), melody=[3, 4, 8])
    chart = read_chord_markers(Path("a.mid"), data)
    assert [[one.text for one in bar.symbols] for bar in chart.bars] == [["G"], ["D7"]]
    assert chart.listed == [
        "1 bar before the first chord, with what is played there: a count-in or a pickup",
        "the notes of 'Lead': a melody is read of ABC and MusicXML",
    ]


def test_a_file_of_markers_alone_ends_with_the_bar_of_the_last():
    chart = read_chord_markers(Path("a.mid"), file_of(("marker", 4, "G"), melody=[]))
    assert chart.listed == ["1 bar before the first chord"]
    assert [[one.text for one in bar.symbols] for bar in chart.bars] == [["G"]]
