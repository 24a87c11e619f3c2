"""A phrase read from a MIDI file, written by mido with the unevenness of a player."""

import mido
import pytest

from genex.errors import FretboardError, InputError, LineError, MidiFileError
from genex.fretboard import tuning
from genex.readers.midi_file import read_phrase

STANDARD = tuning("standard")


def write(path, notes, *, division=480, meter=None, key=None, tempo=None, name="lead", tracks=1):
    """``notes`` are (start, end, midi) in ticks."""
    file = mido.MidiFile(ticks_per_beat=division)
    for _ in range(tracks):
        track = mido.MidiTrack()
        file.tracks.append(track)
        track.append(mido.MetaMessage("track_name", name=name))
        if meter:
            track.append(mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1]))
        if key:
            track.append(mido.MetaMessage("key_signature", key=key))
        if tempo:
            track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo)))
        events = [(start, 1, midi) for start, _, midi in notes] + [
            (end, 0, midi) for _, end, midi in notes
        ]
        now = 0
        for tick, is_on, midi in sorted(events):
            kind = "note_on" if is_on else "note_off"
            track.append(mido.Message(kind, note=midi, velocity=80 if is_on else 0, time=tick - now))
            now = tick
    file.save(path)
    return path


def read(path, **more):
    score = read_phrase(path, STANDARD, **more)
    (part,) = score.parts
    return score, part.notes


def test_an_uneven_performance_lands_on_the_grid(tmp_path):
    played = [(3, 470, 60), (238, 480, 62), (485, 950, 64), (958, 1400, 65)]
    played[0] = (3, 230, 60)
    score, notes = read(write(tmp_path / "p.mid", played, tempo=96))
    assert [(str(n.onset_beats), str(n.duration_beats)) for n in notes] == [
        ("0", "1/2"),
        ("1/2", "1/2"),
        ("1", "1"),
        ("2", "1"),
    ]
    assert score.tempo.tempo_at(notes[0].onset_beats) == 96
    assert all(note.fretting for note in notes)


def test_triplets_stay_triplets(tmp_path):
    _, notes = read(write(tmp_path / "p.mid", [(0, 160, 60), (160, 320, 62), (320, 480, 64)]))
    assert [str(note.duration_beats) for note in notes] == ["1/3"] * 3


def test_meter_key_and_spelling_come_from_the_file(tmp_path):
    path = write(tmp_path / "p.mid", [(0, 480, 63), (480, 1440, 58)], meter=(3, 4), key="Eb")
    score, notes = read(path)
    assert (str(score.timeline.meter), str(score.timeline.key)) == ("3/4", "Eb major")
    assert [str(note.pitch) for note in notes] == ["Eb4", "Bb3"]


def test_bars_of_rest_before_the_phrase_are_left_away(tmp_path):
    _, notes = read(write(tmp_path / "p.mid", [(4 * 480 + 480, 4 * 480 + 960, 60)]))
    assert notes[0].onset_beats == 1


def test_a_little_overlap_is_legato_and_two_voices_are_refused(tmp_path):
    _, notes = read(write(tmp_path / "p.mid", [(0, 500, 60), (480, 960, 62)]))
    assert notes[0].written_end_beats == notes[1].onset_beats
    with pytest.raises(MidiFileError, match="sound together"):
        read(write(tmp_path / "q.mid", [(0, 960, 60), (240, 960, 64)]))


def test_notes_that_begin_together_are_a_chord_under_one_hand(tmp_path):
    chords = [
        (0, 480, 60),
        (10, 470, 64),
        (20, 480, 67),
        (480, 960, 59),
        (480, 960, 62),
        (960, 1400, 60),
    ]
    _, notes = read(write(tmp_path / "p.mid", chords))
    assert [(note.onset_beats, note.midi) for note in notes] == [
        (0, 60), (0, 64), (0, 67), (1, 59), (1, 62), (2, 60),
    ]  # fmt: skip
    for onset in (0, 1):
        together = [note for note in notes if note.onset_beats == onset]
        assert len({note.duration_beats for note in together}) == 1
        assert len({note.fretting.string for note in together}) == len(together)
        frets = [note.fretting.fret for note in together if note.fretting.fret]
        assert max(frets) - min(frets) <= 3


def test_the_track_must_be_named_where_there_are_several(tmp_path):
    path = write(tmp_path / "p.mid", [(0, 480, 60)], tracks=2)
    with pytest.raises(MidiFileError, match="2 tracks") as caught:
        read(path)
    assert "1 lead, 2 lead" in caught.value.hint
    assert read(path, track=2)[1]


def test_a_position_is_kept_or_refused(tmp_path):
    path = write(tmp_path / "p.mid", [(0, 480, 60), (480, 960, 64)])
    _, notes = read(path, position=5)
    assert all(4 <= note.fretting.fret <= 9 for note in notes)
    low = write(tmp_path / "low.mid", [(0, 480, 40), (480, 960, 43)])
    with pytest.raises((LineError, FretboardError)) as caught:
        read(low, position=7)
    assert "position" in str(caught.value)


@pytest.mark.parametrize(
    "data", [b"", b"MThd", b"MThd\0\0\0\6\0\1\0\1\1\xe0MTrk\0\0\xff\xff\0", b"RIFF" * 100, b"\0" * 1000]
)
def test_what_is_no_midi_is_refused(tmp_path, data):
    path = tmp_path / "p.mid"
    path.write_bytes(data)
    with pytest.raises(InputError):
        read(path)


def test_notes_off_the_instrument(tmp_path):
    with pytest.raises((LineError, FretboardError)) as caught:
        read(write(tmp_path / "p.mid", [(0, 480, 20)]))
    assert caught.value.hint
