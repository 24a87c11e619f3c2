"""Several takes, one after another, as one Standard MIDI File: what ``midi.py`` writes of each.

A part that has one name in several takes has one track and one channel; program, level and pan are set
where each take begins. The pause before a take is a bar of as many quarter notes as it has seconds, at
the tempo that ends it where the sound of the take begins, to a few microseconds.
"""

from __future__ import annotations

from collections.abc import Sequence

from genex.exact import Fraction
from genex.export import midi_events as midi
from genex.export.captions import Turn
from genex.export.midi import add_part, add_piece, channels_of, kit_part_of
from genex.export.midi_events import TrackEvents
from genex.score import FileClock, Part, Score
from genex.units import TICKS_PER_BEAT, beats_to_ticks, round_half_up

_MICROSECONDS = 1_000_000


def joined_midi(title: str, turns: Sequence[Turn]) -> bytes:
    """The bytes of one file. Takes start in order, each behind the last bar line of the one before.

    Raises InputError for more than 15 melodic parts of different names.
    """
    conductor, tracks = TrackEvents(), _Tracks(turns)
    conductor.add(0, TrackEvents.SETTING, midi.text("track_name", title))
    at, reached_us = Fraction(0), Fraction(0)
    for turn in turns:
        pause_us = turn.start_seconds * _MICROSECONDS - reached_us
        beats = max(1, round_half_up(pause_us / _MICROSECONDS))
        tempo_us = round_half_up(pause_us / beats)
        if pause_us > 0:
            told = at + beats - (turn.start_seconds - turn.announced_seconds) * _MICROSECONDS / tempo_us
            tick = beats_to_ticks(at)
            conductor.add(tick, TrackEvents.SETTING, midi.time_signature(beats, 4, 24))
            conductor.add(tick, TrackEvents.SETTING, midi.set_tempo(tempo_us))
            announced = midi.text("cue_marker", turn.announcement)
            conductor.add(beats_to_ticks(max(at, told)), TrackEvents.SETTING, announced)
            at, reached_us = at + beats, reached_us + beats * tempo_us
        clock = FileClock.of(turn.score, include_lead_in=True)
        reached_us += add_piece(conductor, turn.score, clock, at)
        end = at + clock.beats(turn.score.length_beats)
        tracks.add(turn.score, at, clock.lead_in_beats, end)
        at = end
    end_tick = beats_to_ticks(at)
    return midi.midi_file([conductor.track(end_tick), *tracks.written(end_tick)], TICKS_PER_BEAT)


def _parts_of(score: Score) -> list[Part]:
    """The parts of a take, its count-in first."""
    return [*([score.lead_in.part] if score.lead_in else []), *score.parts]


class _Tracks:
    """The tracks of all parts by their names."""

    def __init__(self, turns: Sequence[Turn]) -> None:
        parts: dict[tuple[str, bool], Part] = {}
        for turn in turns:
            for part in _parts_of(turn.score):
                parts.setdefault((part.name, part.is_percussion), part)
        self.channels = dict(zip(parts, channels_of(list(parts.values())), strict=True))
        self.events = {name: TrackEvents() for name in parts}
        for (name, _), events in self.events.items():
            events.add(0, TrackEvents.SETTING, midi.text("track_name", name))

    def add(self, score: Score, at: Fraction, lead_in: Fraction, end: Fraction) -> None:
        """The parts of a take that lasts from ``at`` to ``end``."""
        parts = _parts_of(score)
        kit = kit_part_of(parts)
        for part in parts:
            is_lead_in = score.lead_in is not None and part is score.lead_in.part
            shift = beats_to_ticks(at if is_lead_in else at + lead_in)
            name = part.name, part.is_percussion
            sets_channel = not part.is_percussion or part is kit
            within = beats_to_ticks(at), beats_to_ticks(end)
            channel = self.channels[name]
            add_part(self.events[name], part, channel, shift, within, sets_channel, score.tempo)

    def written(self, end_tick: int) -> list[bytes]:
        """The bytes of each track."""
        return [events.track(end_tick) for events in self.events.values()]
