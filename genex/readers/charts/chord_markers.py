"""Chord symbols in a Standard MIDI File: markers, texts or lyrics that are chords, at their times.

Standard MIDI Files have no event for chords; markers are what sequencers and genex itself write
them as [common practice]. Notes are not read: what they sound like is a guess, a marker is not. That
they are left away is said.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from genex.errors import MidiFileError, NotationError, Place
from genex.exact import Fraction
from genex.lazy import lazy
from genex.plain_text import clean
from genex.readers.charts.foreign_chart import ForeignBar, ForeignChart, quoted
from genex.readers.charts.symbols import add_symbol, is_symbol
from genex.score import Meter
from genex.theory import Key

if TYPE_CHECKING:
    import mido
else:
    mido = lazy("mido")

_TEXTS = ("marker", "text", "lyrics")
_MOST_EVENTS = 200_000
_NAMED = 4
"""So many tracks are named of those whose notes are left away."""


def read_chord_markers(path: Path, data: bytes) -> ForeignChart:
    """The chart that the markers of a file tell. Raises MidiFileError and ChartFileError."""
    file = str(path)
    chart = ForeignChart(file, "MIDI")
    place = Place(file)
    events, ticks_per_beat, end, played = _events(path, data)
    kind = next((kind for kind in _TEXTS if _chords_of(events, kind)), None)
    chords = _chords_of(events, kind) if kind else []
    first = min((at for at, _ in chords), default=0)
    meters = [(0, Meter(4, 4))]
    sections: list[tuple[int, str]] = []
    for at, message in events:
        if message.type == "time_signature":
            meters.append((at, _meter(message, chart, place)))
        elif message.type == "key_signature":
            key = Key.parse(message.key)
            if chart.key is None:
                chart.key = key
            elif chart.key != key:
                chart.leave(f"the change of key to {key}", place)
        elif message.type == "set_tempo":
            tempo = Fraction(60_000_000, message.tempo)
            if chart.tempo is None:
                chart.tempo = tempo
        elif message.type == "track_name" and not chart.title:
            chart.title = " ".join(clean(message.name).split())
        elif message.type == "cue_marker":
            sections.append((at, " ".join(clean(message.text).split())))
        elif message.type in _TEXTS and not (message.type == kind and is_symbol(message.text)):
            chart.leave(f"the {message.type} {quoted(message.text)}", place)
    # The last chord has its bar, also where the file ends with it.
    end = max([end, *(at + 1 for at, _ in chords)])
    starts = _bar_starts(chart, meters, ticks_per_beat, end)
    _fill(chart, starts, chords, ticks_per_beat)
    for at, name in sections:
        bar = next((n for n, start in enumerate(starts) if start >= at), None)
        if bar is not None and name:
            chart.bars[bar].section = name
    # A count-in has no chords: whole bars of rest before the first one are left away.
    empty = max((n for n, start in enumerate(starts) if start <= first), default=0)
    if chords and empty:
        sounds = min((at for one in played for at in one.ticks), default=first) < starts[empty]
        with_notes = ", with what is played there: a count-in or a pickup" if sounds else ""
        counted = "1 bar" if empty == 1 else f"{empty} bars"
        chart.leave(f"{counted} before the first chord{with_notes}", place)
        del chart.bars[:empty]
    if played:
        names = ", ".join(quoted(one.name) for one in played[:_NAMED])
        more = f" and {len(played) - _NAMED} more" if len(played) > _NAMED else ""
        chart.leave(f"the notes of {names}{more}: a melody is read of ABC and MusicXML", place)
    return chart


@dataclass
class _Played:
    """A track with notes: its name, and the ticks at which they begin."""

    name: str
    ticks: list[int]


def _events(
    path: Path, data: bytes
) -> tuple[list[tuple[int, mido.MetaMessage]], int, int, list[_Played]]:
    """The meta events of all tracks in order of time in ticks, ticks of a quarter, the end, and the
    tracks with notes."""
    from mido.midifiles.meta import KeySignatureError

    try:
        read = mido.MidiFile(file=io.BytesIO(data))
        if sum(map(len, read.tracks)) > _MOST_EVENTS:
            raise ValueError
        found, end = [], 0
        played: list[_Played] = []
        for number, track in enumerate(read.tracks, start=1):
            at = 0
            struck = []
            for message in track:
                at += message.time
                if message.is_meta and message.type != "end_of_track":
                    found.append((at, message))
                elif message.type == "note_on" and message.velocity:
                    struck.append(at)
            end = max(end, at)
            if struck:
                played.append(_Played(clean(track.name).strip() or f"track {number}", struck))
        ticks = int(read.ticks_per_beat)
    except (
        EOFError, OSError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError,
        KeySignatureError,
    ):  # fmt: skip
        # What mido raises for damaged files; it promises no one kind.
        ticks = 0
    if not 1 <= ticks < 1 << 15:
        raise MidiFileError(
            f"'{path}' is not a Standard MIDI File in beats, or it is damaged",
            hint="export it as a .mid file with ticks per quarter note",
        )
    return sorted(found, key=lambda event: event[0]), ticks, end, played


def _chords_of(events: list[tuple[int, mido.MetaMessage]], kind: str) -> list[tuple[int, str]]:
    return [(at, one.text) for at, one in events if one.type == kind and is_symbol(one.text)]


def _meter(message: mido.MetaMessage, chart: ForeignChart, place: Place) -> Meter:
    try:
        return Meter(message.numerator, message.denominator)
    except NotationError as error:
        chart.leave(f"{error.message}; its bars are taken for 4/4", place)
        return Meter(4, 4)


def _bar_starts(
    chart: ForeignChart, meters: list[tuple[int, Meter]], ticks_per_beat: int, end: int
) -> list[int]:
    """Ticks at which bars begin; the bars themselves go into the chart."""
    starts: list[int] = []
    at = 0
    while at < end or not starts:
        meter = next(meter for tick, meter in reversed(meters) if tick <= at)
        chart.add_bar(ForeignBar(Place(chart.file), meter, meter.bar_beats))
        starts.append(at)
        at += max(1, int(meter.bar_beats * ticks_per_beat))
    return starts


def _fill(
    chart: ForeignChart, starts: list[int], chords: list[tuple[int, str]], ticks_per_beat: int
) -> None:
    number = 0
    for at, text in chords:
        while number + 1 < len(starts) and starts[number + 1] <= at:
            number += 1
        onset = Fraction(at - starts[number], ticks_per_beat)
        add_symbol(chart, chart.bars[number], text, onset, Place(chart.file))
