"""Score -> Standard MIDI File 1.0, format 1, 960 ticks a quarter note.

Track 1 holds what belongs to the whole piece: title, tempo, meter, key, chord symbols as markers
(FF 06) and section names as cue points (FF 07). Each part follows on a track of its own. All
tracks end on the last bar line, whatever still sounds there.

Channels   Melodic parts take channels 1 to 9 and 11 to 16 in the order of the score. Percussion
           parts share channel 10, as General MIDI wants; the drums (or else the first click)
           set its kit, volume and pan.
Mix        0 dB is controller 7 at 100, the General MIDI default, and level follows
           40 log10(value / 127) [published: MMA, General MIDI Level 2 specification, 1999].
Slides     Pitch bend, a straight line in semitones from the start of the note; bends of the string and
           vibrato as their curve says. The bend range is set by RPN 0 on the parts that slide or
           bend, and set back to two semitones at the end.
Tempo      A tempo event holds whole microseconds, so 97 bpm (618 556.70 µs) would run away from
           the audio by 0.3 µs a beat. Once the next bar line would be off by more than
           ``DRIFT_LIMIT_US``, that one bar gets the tempo that brings it back. Tempos that are
           whole microseconds, such as 120, need one event for the whole piece.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from genex.errors import InputError
from genex.exact import Fraction
from genex.export import midi_events as midi
from genex.export.midi_events import TrackEvents
from genex.score import (
    PERCUSSION_CHANNEL,
    FileClock,
    Meter,
    Mix,
    Note,
    Part,
    Role,
    Score,
    TempoMap,
    height_at,
    pitch_curve,
    program_name,
)
from genex.units import (
    MICROSECONDS_PER_MINUTE,
    TICKS_PER_BEAT,
    beats_to_ticks,
    round_half_up,
    tempo_to_microseconds,
    ticks_to_beats,
)

DRIFT_LIMIT_US = 10
"""Half a sample at 48 kHz is 10.4 µs. Bars of more than 20 quarter notes may drift by half a
microsecond a quarter note instead."""

CLOCKS_PER_BEAT = 24
BEND_STEP_TICKS = 10
DEFAULT_BEND_RANGE = 2
_MELODIC_CHANNELS = tuple(channel for channel in range(16) if channel != PERCUSSION_CHANNEL)


def midi_bytes(score: Score, *, include_lead_in: bool = False) -> bytes:
    """The bytes of a Standard MIDI File; the same score always gives the same bytes.

    With ``include_lead_in`` the count-in stands before bar 1 and everything else is later by its
    length. Raises InputError for more than 15 melodic parts.
    """
    lead_in = score.lead_in if include_lead_in else None
    clock = FileClock.of(score, include_lead_in=include_lead_in)
    end_tick = beats_to_ticks(clock.beats(score.length_beats))
    parts = [(part, clock.lead_in_beats) for part in score.parts]
    if lead_in:
        parts.insert(0, (lead_in.part, Fraction(0)))
    channels = channels_of([part for part, _ in parts])
    kit_part = kit_part_of([part for part, _ in parts])

    conductor = TrackEvents()
    conductor.add(0, TrackEvents.SETTING, midi.text("track_name", score.title))
    add_piece(conductor, score, clock)
    tracks = [conductor.track(end_tick)]
    for (part, offset), channel in zip(parts, channels, strict=True):
        sets_channel = not part.is_percussion or part is kit_part
        events = TrackEvents()
        events.add(0, TrackEvents.SETTING, midi.text("track_name", part.name))
        within = (0, end_tick)
        add_part(events, part, channel, beats_to_ticks(offset), within, sets_channel, score.tempo)
        tracks.append(events.track(end_tick))
    return midi.midi_file(tracks, TICKS_PER_BEAT)


def tempo_events(tempo: TempoMap, points: Sequence[Fraction]) -> list[tuple[Fraction, int]]:
    """``(beats, microseconds a quarter note)`` of the tempo events that keep step with ``tempo``.

    ``points`` are the rising times at which a tempo event may stand (bar lines and tempo
    changes), the end of the piece last. At each the sum of the rounding errors is within
    ``DRIFT_LIMIT_US``.
    """
    events: list[tuple[Fraction, int]] = []
    error_us = Fraction(0)
    for start, end in pairwise(points):
        tempo_bpm = tempo.tempo_at(start)
        exact_us = MICROSECONDS_PER_MINUTE / tempo_bpm
        length = end - start
        value = tempo_to_microseconds(tempo_bpm)
        if abs(error_us + (value - exact_us) * length) > DRIFT_LIMIT_US:
            value = round_half_up(exact_us - error_us / length)
        error_us += (value - exact_us) * length
        if not events or events[-1][1] != value:
            events.append((start, value))
    return events


def controller_volume(mix: Mix) -> int:
    """Controller 7 for a level in dB."""
    return min(127, max(0, round(100 * 10 ** (mix.level_db / 40))))


def controller_pan(mix: Mix) -> int:
    """Controller 10 for a pan of -1 to 1: 1 left, 64 centre, 127 right."""
    return min(127, max(1, 64 + round(63 * mix.pan)))


def add_piece(
    events: TrackEvents, score: Score, clock: FileClock, offset_beats: Fraction = Fraction(0)
) -> Fraction:
    """Meter, keys, tempo, sections and chords of a piece, in a file where it begins at an offset.

    Returns how long it lasts by its tempo events, in microseconds.
    """

    def add(beats: Fraction, event: bytes) -> None:
        events.add(beats_to_ticks(offset_beats + beats), TrackEvents.SETTING, event)

    timeline = score.timeline
    if clock.lead_in_beats:
        # The count-in has the first bar's meter; repeating it at bar 1 makes bar 1 begin there.
        add(Fraction(0), _meter_event(timeline.bars[0].meter))
    meter = None
    for bar in timeline.bars:
        if bar.meter != meter:
            add(clock.beats(bar.onset_beats), _meter_event(bar.meter))
            meter = bar.meter
    key = None
    for section in timeline.sections:
        if (written := midi.key_signature(timeline.key_at(section.onset_beats))) != key:
            at = clock.beats(section.onset_beats) if section.onset_beats else Fraction(0)
            add(at, written)
            key = written
    times = {clock.beats(bar.onset_beats) for bar in timeline.bars} | {clock.beats(score.length_beats)}
    times |= {change.onset_beats for change in clock.tempo.changes} | {Fraction(0)}
    tempos = tempo_events(clock.tempo, sorted(times))
    for beats, value in tempos:
        add(beats, midi.set_tempo(value))
    for section in timeline.sections:
        if section.name.strip():
            add(clock.beats(section.onset_beats), midi.text("cue_marker", section.name))
    for span in timeline.merged_chords:
        if label := timeline.chord_label(span):
            add(clock.beats(span.struck_beats), midi.text("marker", label))
    ends = [*(beats for beats, _ in tempos[1:]), clock.beats(score.length_beats)]
    lasting = (value * (end - start) for (start, value), end in zip(tempos, ends, strict=True))
    return sum(lasting, Fraction(0))


def _meter_event(meter: Meter) -> bytes:
    click = int(CLOCKS_PER_BEAT * min(meter.pulse_beats, meter.bar_beats))
    return midi.time_signature(meter.count, meter.unit, click)


def channels_of(parts: Sequence[Part]) -> list[int]:
    """The channel of each part, counted from 0. Raises InputError."""
    melodic = [part for part in parts if not part.is_percussion]
    if len(melodic) > len(_MELODIC_CHANNELS):
        raise InputError(
            f"a MIDI file holds {len(_MELODIC_CHANNELS)} melodic parts, this piece has {len(melodic)}",
            hint="leave some parts out",
        )
    free = iter(_MELODIC_CHANNELS)
    return [PERCUSSION_CHANNEL if part.is_percussion else next(free) for part in parts]


def kit_part_of(parts: Sequence[Part]) -> Part | None:
    """The part that sets up channel 10: the drums, or else the first click."""
    percussion = [part for part in parts if part.is_percussion]
    return next((part for part in percussion if part.role is Role.DRUMS), next(iter(percussion), None))


def add_part(
    events: TrackEvents,
    part: Part,
    channel: int,
    shift_ticks: int,
    within: tuple[int, int],
    sets_channel: bool,
    tempo: TempoMap,
) -> None:
    """The notes of a part, later by ``shift_ticks``, and what they need on their channel.

    No note goes beyond ``within``, the ticks where the piece begins and ends in the file.
    """
    start_tick, end_tick = within
    name = program_name(part.program, percussion=part.is_percussion)
    events.add(start_tick, TrackEvents.SETTING, midi.text("instrument_name", name))
    if sets_channel:
        settings = [(7, controller_volume(part.mix)), (10, controller_pan(part.mix))]
        program = midi.program_change(channel, part.program)
        events.add(start_tick, TrackEvents.SETTING, program)
        _add_controls(events, start_tick, channel, settings)
    slides = [abs(note.slide.from_semitones) for note in part.notes if note.slide]
    bends = [note.bend.semitones + 1 for note in part.notes if note.bend is not None]
    bend_range = max([DEFAULT_BEND_RANGE, *slides, *bends])
    if slides or bends:
        _add_controls(events, start_tick, channel, _bend_range_controls(bend_range))
    for note, ticks in zip(part.notes, part.sounding_ticks, strict=True):
        start, end = _note_ticks(ticks, shift_ticks, within)
        key = note.midi
        events.add(start, TrackEvents.NOTE_ON, midi.note_on(channel, key, note.velocity))
        events.add(end, TrackEvents.NOTE_OFF, midi.note_off(channel, key))
        moves = (*_slide(note, start, end, bend_range), *_curve(note, start, end, bend_range, tempo))
        for tick, value in moves:
            events.add(tick, TrackEvents.SETTING, midi.pitch_wheel(channel, value))
    if slides or bends:
        _add_controls(events, end_tick, channel, _bend_range_controls(DEFAULT_BEND_RANGE))


def _note_ticks(sounding: tuple[int, int], shift: int, within: tuple[int, int]) -> tuple[int, int]:
    """First and last tick of a note, kept between the start of the file and its last bar line."""
    start_tick, end_tick = within
    start = min(max(start_tick, shift + sounding[0]), end_tick - 1)
    return start, min(max(start + 1, shift + sounding[1]), end_tick)


def _slide(note: Note, start: int, end: int, bend_range: int) -> Iterator[tuple[int, int]]:
    """``(tick, pitch wheel value)`` of a slide; the last value is 0, before the note is over."""
    if note.slide is None:
        return
    length = min(beats_to_ticks(note.slide.length_beats), end - start)
    full = Fraction(8192 * note.slide.from_semitones, bend_range)
    for tick in range(0, length, BEND_STEP_TICKS):
        value = round_half_up(full * (length - tick) / length)
        yield start + tick, min(8191, value)
    yield start + length, 0


def _curve(
    note: Note, start: int, end: int, bend_range: int, tempo: TempoMap
) -> Iterator[tuple[int, int]]:
    """``(tick, pitch wheel value)`` of a bend or vibrato; the wheel is at rest when the note is over."""
    if note.bend is None and not note.vibrato:
        return
    curve = pitch_curve(note, ticks_to_beats(end - start), tempo.tempo_at(note.start_beats))
    begin = beats_to_ticks(note.slide.length_beats) if note.slide is not None else 0
    before = 0
    for tick in range(begin, end - start, BEND_STEP_TICKS):
        value = min(8191, round_half_up(8192 * height_at(curve, ticks_to_beats(tick)) / bend_range))
        if value != before:
            yield start + tick, value
        before = value
    if before:
        yield end, 0


def _bend_range_controls(semitones: int) -> list[tuple[int, int]]:
    """RPN 0 set to ``semitones``, then the null RPN so that later data entry does no harm."""
    return [(101, 0), (100, 0), (6, semitones), (38, 0), (101, 127), (100, 127)]


def _add_controls(
    events: TrackEvents, tick: int, channel: int, controls: Iterable[tuple[int, int]]
) -> None:
    for control, value in controls:
        event = midi.control_change(channel, control, value)
        events.add(tick, TrackEvents.SETTING, event)
