"""Standard MIDI File output, read back by mido, pretty_midi and music21 and byte by byte."""

from __future__ import annotations

import io
import struct
from dataclasses import replace
from fractions import Fraction

import mido
import pretty_midi
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import InputError
from genex.export.midi import DRIFT_LIMIT_US, midi_bytes, tempo_events
from genex.score import Bend, Mix, Note, Part, Role, Score, Slide, TempoChange, TempoMap
from genex.theory import Pitch

from .builders import beats, drums, fretted, lead, small_score, timeline


def read(data: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(data), charset="utf-8")


def written_by_mido(data: bytes) -> bytes:
    """A file read and written again by another program [package: mido 1.3.3]."""
    buffer = io.BytesIO()
    read(data).save(file=buffer)
    return buffer.getvalue()


def absolute(track: mido.MidiTrack) -> list[tuple[int, mido.Message]]:
    at, found = 0, []
    for message in track:
        at += message.time
        found.append((at, message))
    return found


def meta(data: bytes, kind: str) -> list[tuple[int, mido.MetaMessage]]:
    return [(at, message) for at, message in absolute(read(data).tracks[0]) if message.type == kind]


def notes_of(track: mido.MidiTrack) -> list[tuple[int, int, int, int]]:
    """(start tick, end tick, key, velocity) of each note."""
    open_notes: dict[int, tuple[int, int]] = {}
    found = []
    for at, message in absolute(track):
        if message.type == "note_on":
            assert message.note not in open_notes
            open_notes[message.note] = (at, message.velocity)
        elif message.type == "note_off":
            start, velocity = open_notes.pop(message.note)
            found.append((start, at, message.note, velocity))
    assert not open_notes
    return sorted(found)


def test_header_is_format_1_with_960_ticks():
    data = midi_bytes(small_score())
    # [published: MMA RP-001, Standard MIDI File 1.0] MThd, length 6, format, tracks, division
    assert data[:4] == b"MThd"
    assert struct.unpack(">IHHH", data[4:14]) == (6, 1, 4, 960)


def test_chunks_fill_the_file_and_each_ends_with_end_of_track():
    data = midi_bytes(small_score())
    at, tracks = 14, 0
    while at < len(data):
        name, length = struct.unpack(">4sI", data[at : at + 8])
        assert name == b"MTrk"
        at += 8 + length
        assert data[at - 3 : at] == b"\xff\x2f\x00"
        tracks += 1
    assert (at, tracks) == (len(data), 4)


def test_conductor_bytes_of_tempo_meter_and_key():
    data = midi_bytes(small_score(tempo=120, key="Bb"))
    # [published: MMA RP-001] 120 bpm is 07A120 µs; 4/4 is 04 02 18 08; B flat major is FE 00
    assert b"\xff\x51\x03\x07\xa1\x20" in data
    assert b"\xff\x58\x04\x04\x02\x18\x08" in data
    assert b"\xff\x59\x02\xfe\x00" in data
    assert b"\xff\x51\x03\x09\x70\x3d" in midi_bytes(small_score(tempo=97))  # 618557 µs


def test_compound_meter_clicks_on_the_dotted_quarter():
    data = midi_bytes(Score("Waves", "straight", timeline("C | F", meter="6/8"), (drums(0),)))
    # [published: MMA RP-001] 36 MIDI clocks are a dotted quarter
    assert b"\xff\x58\x04\x06\x03\x24\x08" in data


def test_titles_symbols_and_sections_stand_in_the_first_track():
    data = midi_bytes(small_score(sections=(("Verse", 2), ("Coda", 2))))
    assert [(at, m.name) for at, m in meta(data, "track_name")] == [(0, "Lamps on the Canal")]
    assert [(at // 960, m.text) for at, m in meta(data, "marker")] == [
        (0, "Gm7"), (4, "C7"), (8, "Fmaj7"), (12, "N.C."),
    ]  # fmt: skip
    assert [(at // 960, m.text) for at, m in meta(data, "cue_marker")] == [(0, "Verse"), (8, "Coda")]


def test_a_chord_that_goes_on_is_marked_once():
    score = Score("Hold", "straight", timeline("Am7 | Am7 | D7 D7 | G6"), (drums(0),))
    assert [(at // 960, m.text) for at, m in meta(midi_bytes(score), "marker")] == [
        (0, "Am7"), (8, "D7"), (12, "G6"),
    ]  # fmt: skip


def test_text_beyond_ascii_survives():
    data = midi_bytes(replace(small_score(), title="Über den Dächern ♭"))
    assert meta(data, "track_name")[0][1].name == "Über den Dächern ♭"


def test_notes_are_those_of_the_score():
    score = small_score()
    for part, track in zip(score.parts, read(midi_bytes(score)).tracks[1:], strict=True):
        wanted = [
            (int(n.start_beats * 960), int(n.end_beats * 960), n.midi, n.velocity) for n in part.notes
        ]
        assert notes_of(track) == sorted(wanted)
        assert track[0].name == part.name


def test_every_track_ends_on_the_last_bar_line():
    late = Note(beats("15.75"), beats("0.25"), Pitch.parse("C4"), offset_beats=beats("0.05"))
    score = Score("Edge", "swing", timeline(), (Part.of("piano", Role.COMPING, 0, [late]), drums(0)))
    for track in read(midi_bytes(score)).tracks:
        assert absolute(track)[-1][0] == 16 * 960
        assert track[-1].type == "end_of_track"


def test_a_note_early_on_bar_1_starts_with_the_file_or_in_the_count_in():
    early = Note(beats(0), beats(1), Pitch.parse("C4"), offset_beats=beats("-0.025"))
    score = replace(small_score(), parts=(Part.of("piano", Role.COMPING, 0, [early]),))
    assert notes_of(read(midi_bytes(score)).tracks[1])[0][:2] == (0, 936)
    with_count = read(midi_bytes(score, include_lead_in=True))
    assert notes_of(with_count.tracks[2])[0][:2] == (4 * 960 - 24, 5 * 960 - 24)


def test_the_count_in_moves_everything_else():
    score = small_score(sections=(("Verse", 2), ("Coda", 2)))
    data = midi_bytes(score, include_lead_in=True)
    file = read(data)
    assert [track.name for track in file.tracks[1:]] == ["count-in", "exercise", "bass", "drums"]
    assert [at // 960 for at, _ in meta(data, "marker")] == [4, 8, 12, 16]
    assert [at // 960 for at, _ in meta(data, "time_signature")] == [0, 4]
    assert absolute(file.tracks[0])[-1][0] == 20 * 960
    plain = notes_of(read(midi_bytes(score)).tracks[1])
    moved = [(a + 3840, b + 3840, key, v) for a, b, key, v in plain]
    assert notes_of(file.tracks[2]) == moved
    # The kit of channel 10 is the drums', not the count-in's.
    programs = [(t.name, m.program) for t in file.tracks for m in t if m.type == "program_change"]
    assert programs == [("exercise", 26), ("bass", 32), ("drums", 32)]


def test_at_one_tick_a_note_ends_before_the_next_begins():
    part = lead([fretted(at, 1, 3, 5) for at in range(4)])
    track = read(midi_bytes(Score("Same", "straight", timeline("C"), (part,)))).tracks[1]
    kinds = [message.type for message in track if message.type.startswith("note_")]
    assert kinds == ["note_on", "note_off"] * 4


def test_mix_becomes_volume_and_pan():
    def controls(mix: Mix) -> dict[int, int]:
        part = lead([fretted(0, 1, 3, 5)], mix=mix)
        track = read(midi_bytes(Score("Mix", "straight", timeline("C"), (part,)))).tracks[1]
        return {m.control: m.value for m in track if m.type == "control_change"}

    assert controls(Mix(0.0, 0.0)) == {7: 100, 10: 64}
    # [published: General MIDI level 2] 40 log10: -12.04 dB halves the value
    assert controls(Mix(-12.0412, -1.0)) == {7: 50, 10: 1}
    assert controls(Mix(24.0, 1.0)) == {7: 127, 10: 127}


def test_a_slide_bends_from_its_start_and_is_over_before_the_next_note():
    track = read(midi_bytes(small_score())).tracks[1]
    events = absolute(track)
    bends = [(at, message.pitch) for at, message in events if message.type == "pitchwheel"]
    # [published: MIDI 1.0] RPN 0 range of 2 semitones: -8192 is two semitones down
    assert bends[0] == (960, -8192)
    assert bends[-1] == (960 + 240, 0)
    assert [value for _, value in bends] == sorted(value for _, value in bends)
    controls = [(at, m.control, m.value) for at, m in events if m.type == "control_change"]
    rpn = [(101, 0), (100, 0), (6, 2), (38, 0), (101, 127), (100, 127)]
    assert [c[1:] for c in controls[2:8]] == rpn
    assert [c[1:] for c in controls[8:]] == rpn
    assert all(at == 16 * 960 for at, *_ in controls[8:])


def test_a_wide_slide_widens_the_bend_range():
    notes = [fretted(0, 1, 3, 12, slide=Slide(7, beats("0.5")))]
    track = read(midi_bytes(Score("Wide", "straight", timeline("C"), (lead(notes),)))).tracks[1]
    ranges = [m.value for m in track if m.type == "control_change" and m.control == 6]
    assert ranges == [7, 2]
    assert max(m.pitch for m in track if m.type == "pitchwheel") == 8191


def test_a_bent_string_and_vibrato_turn_the_pitch_wheel():
    notes = [
        fretted(0, 2, 3, 7, bend=Bend(2, releases=True)),
        fretted(2, 2, 3, 7, vibrato=True),
        fretted(4, 4, 3, 5),
    ]
    data = midi_bytes(Score("Bent", "straight", timeline("C"), (lead(notes),)))
    (instrument,) = pretty_midi.PrettyMIDI(io.BytesIO(data)).instruments
    # [published: MIDI 1.0] RPN 0 range of 3 semitones: two of them are 5461 of 8192
    assert [c.value for c in instrument.control_changes if c.number == 6] == [3, 2]
    second = 60 / float(timeline("C").tempo.tempo_at(beats(0)))
    bends = [(bend.time / second, bend.pitch * 3 / 8192) for bend in instrument.pitch_bends]
    up = [height for at, height in bends if 0.55 < at < 0.95]
    assert all(abs(height - 2) < 0.01 for height in up)
    assert [height for at, height in bends if abs(at - 1.5) < 0.01] == [0]
    swaying = [height for at, height in bends if 2 < at < 4]
    assert 0.3 < max(swaying) < 0.35 and min(swaying) >= 0
    assert bends[-1][1] == 0


def test_sixteen_melodic_parts_are_one_too_many():
    note = [Note(beats(0), beats(1), Pitch.parse("C4"))]
    parts = tuple(Part.of(f"voice {n}", Role.COMPING, 0, note) for n in range(16))
    assert len(read(midi_bytes(Score("Choir", "straight", timeline("C"), parts[:15]))).tracks) == 16
    with pytest.raises(InputError, match="15 melodic parts"):
        midi_bytes(Score("Choir", "straight", timeline("C"), parts))


def test_channel_10_is_for_percussion_alone():
    note = [Note(beats(0), beats(1), Pitch.parse("C4"))]
    parts = tuple(Part.of(f"voice {n}", Role.COMPING, 0, note) for n in range(15))
    file = read(midi_bytes(Score("Choir", "straight", timeline("C"), (*parts, drums(0)))))
    channels = [{m.channel for m in t if hasattr(m, "channel")} for t in file.tracks[1:]]
    assert [c for s in channels for c in s] == [*range(9), *range(10, 16), 9]


def test_same_score_same_bytes():
    assert midi_bytes(small_score()) == midi_bytes(small_score())


@given(
    bpm=st.fractions(min_value=20, max_value=400, max_denominator=100),
    bars=st.integers(1, 400),
    bar_beats=st.sampled_from([Fraction(3), Fraction(4), Fraction(7, 2), Fraction(6)]),
)
@settings(max_examples=60, deadline=None)
def test_tempo_events_keep_in_step_with_the_audio(bpm, bars, bar_beats):
    tempo = TempoMap.constant(bpm)
    points = [index * bar_beats for index in range(bars + 1)]
    events = tempo_events(tempo, points)
    times = dict(events)
    value, total = 0, Fraction(0)
    for point in points[:-1]:
        value = times.get(point, value)
        total += value * bar_beats
        exact = tempo.seconds_at(point + bar_beats) * 1_000_000
        assert abs(total - exact) <= DRIFT_LIMIT_US
    if (60_000_000 / bpm).denominator == 1:
        assert len(events) == 1


def test_tempo_events_follow_a_tempo_map():
    tempo = TempoMap((TempoChange(Fraction(0), Fraction(80)), TempoChange(Fraction(16), Fraction(100))))
    points = [Fraction(4 * index) for index in range(9)]
    assert tempo_events(tempo, points) == [(0, 750_000), (16, 600_000)]


def test_pretty_midi_finds_notes_tempo_meter_key_and_programs():
    score = small_score(tempo=97)
    file = pretty_midi.PrettyMIDI(io.BytesIO(midi_bytes(score)))
    assert file.get_tempo_changes()[1][0] == pytest.approx(97, abs=1e-3)
    assert (file.time_signature_changes[0].numerator, file.time_signature_changes[0].denominator) == (
        4,
        4,
    )
    assert pretty_midi.key_number_to_key_name(file.key_signature_changes[0].key_number) == "F Major"
    by_name = {instrument.name: instrument for instrument in file.instruments}
    for part in score.parts:
        instrument = by_name[part.name]
        assert (instrument.program, instrument.is_drum) == (part.program, part.is_percussion)
        found = sorted((note.start, note.pitch, note.end) for note in instrument.notes)
        wanted = sorted((n.start_beats, n.midi, n.end_beats) for n in part.notes)
        for (start, pitch, end), (start_beats, midi, end_beats) in zip(found, wanted, strict=True):
            assert pitch == midi
            assert start == pytest.approx(float(score.tempo.seconds_at(start_beats)), abs=2e-5)
            assert end == pytest.approx(float(score.tempo.seconds_at(end_beats)), abs=2e-5)


def test_music21_finds_notes_tempo_meter_and_key(tmp_path):
    import music21

    path = tmp_path / "piece.mid"
    path.write_bytes(midi_bytes(small_score(tempo=96, meter="4/4")))
    opened = music21.converter.parse(path, quantizePost=False)
    (mark, *_) = opened.flatten().getElementsByClass(music21.tempo.MetronomeMark)
    assert mark.getQuarterBPM() == pytest.approx(96)
    (meter, *_) = opened.flatten().getElementsByClass(music21.meter.TimeSignature)
    assert meter.ratioString == "4/4"
    (key, *_) = opened.flatten().getElementsByClass(music21.key.KeySignature)
    assert key.sharps == -1
    line = opened.parts[0].stripTies().flatten().notes
    assert [note.pitch.midi for note in line] == [note.midi for note in small_score().parts[0].notes]
    assert [Fraction(note.offset).limit_denominator(960) for note in line] == [
        note.onset_beats for note in small_score().parts[0].notes
    ]


@pytest.mark.parametrize("key", ["C", "F# minor", "Cb", "C#", "Ab minor", "D dorian", "E phrygian"])
def test_scores_are_written_as_mido_writes_them(key):
    data = midi_bytes(small_score(tempo=97, key=key))
    assert written_by_mido(data) == data
