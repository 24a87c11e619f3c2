"""Events and tracks of MIDI files by the byte, beside those of another program."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from genex.export import midi_events
from genex.export.midi_events import TrackEvents

from .test_midi import absolute, read, written_by_mido

EVENTS = st.one_of(
    st.builds(midi_events.note_on, st.integers(0, 15), st.integers(0, 127), st.integers(1, 127)),
    st.builds(midi_events.note_off, st.integers(0, 15), st.integers(0, 127)),
    st.builds(midi_events.pitch_wheel, st.integers(0, 15), st.integers(-8192, 8191)),
    st.builds(midi_events.program_change, st.integers(0, 15), st.integers(0, 127)),
    st.builds(midi_events.text, st.sampled_from(["track_name", "marker"]), st.text(max_size=200)),
    st.builds(midi_events.set_tempo, st.integers(1, 0xFFFFFF)),
)


@given(found=st.lists(st.tuples(st.integers(0, 1 << 22), st.integers(0, 2), EVENTS), max_size=12))
@settings(max_examples=60, deadline=None)
def test_tracks_are_those_that_mido_writes(found):
    """Long texts, long waits, and channel messages in a row, with and without their status."""
    events = TrackEvents()
    for tick, rank, event in found:
        events.add(tick, rank, event)
    data = midi_events.midi_file([events.track(1 << 22)], 960)
    assert written_by_mido(data) == data
    (track,) = read(data).tracks
    assert [at for at, _ in absolute(track)] == [*sorted(tick for tick, _, _ in found), 1 << 22]
