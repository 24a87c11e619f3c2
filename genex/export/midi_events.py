"""Standard MIDI File 1.0 by the byte: events, their order in a track, and the file of all tracks.

An event is its bytes from the status byte on. Lengths and delta times are variable-length numbers,
seven bits a byte, the highest first; a channel message with the status of the one before it leaves
that byte away (running status), which a meta event ends [published: MMA RP-001, Standard MIDI Files
1.0]. Numbers are not checked: those of a ``Score`` are right.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable
from dataclasses import dataclass, field

from genex.theory import Key

_META = 0xFF
_END_OF_TRACK = bytes((_META, 0x2F, 0))
_TEXTS = {"track_name": 0x03, "instrument_name": 0x04, "marker": 0x06, "cue_marker": 0x07}


def note_on(channel: int, key: int, velocity: int) -> bytes:
    """A key struck."""
    return bytes((0x90 | channel, key, velocity))


def note_off(channel: int, key: int) -> bytes:
    """A key let go, as fast as keyboards say that cannot tell."""
    return bytes((0x80 | channel, key, 64))


def control_change(channel: int, control: int, value: int) -> bytes:
    """A controller set."""
    return bytes((0xB0 | channel, control, value))


def program_change(channel: int, program: int) -> bytes:
    """An instrument chosen, 0 to 127."""
    return bytes((0xC0 | channel, program))


def pitch_wheel(channel: int, value: int) -> bytes:
    """The wheel from -8192 to 8191, 0 at rest."""
    return bytes((0xE0 | channel, value + 8192 & 0x7F, value + 8192 >> 7))


def text(kind: str, words: str) -> bytes:
    """A ``track_name``, ``instrument_name``, ``marker`` or ``cue_marker``, in UTF-8."""
    return _meta(_TEXTS[kind], words.encode())


def set_tempo(microseconds: int) -> bytes:
    """Microseconds a quarter note."""
    return _meta(0x51, microseconds.to_bytes(3, "big"))


def time_signature(count: int, unit: int, clocks_per_click: int) -> bytes:
    """A meter; the unit is a power of two. A quarter note has eight 32nd notes."""
    return _meta(0x58, bytes((count, unit.bit_length() - 1, clocks_per_click, 8)))


def key_signature(key: Key) -> bytes:
    """Sharps, or flats below zero, and major 0 or minor 1. The format knows no modes, so a modal key
    has the key of its signature."""
    written = key.signature
    return _meta(0x59, struct.pack("bB", written.fifths, written.mode == "minor"))


def _meta(kind: int, data: bytes) -> bytes:
    return bytes((_META, kind)) + _number(len(data)) + data


def _number(value: int) -> bytes:
    """A variable-length number."""
    found = [value & 0x7F]
    while value := value >> 7:
        found.append(value & 0x7F | 0x80)
    return bytes(reversed(found))


@dataclass
class TrackEvents:
    """Events at ticks. At one tick, lower ranks go first: note-offs before note-ons."""

    NOTE_OFF = 0
    SETTING = 1
    NOTE_ON = 2

    found: list[tuple[int, int, int, bytes]] = field(default_factory=list)

    def add(self, tick: int, rank: int, event: bytes) -> None:
        """Put an event behind those that are there of its tick and rank."""
        self.found.append((tick, rank, len(self.found), event))

    def track(self, end_tick: int) -> bytes:
        """The chunk of the track, which ends at ``end_tick``."""
        data = bytearray()
        before, running = 0, None
        for tick, _, _, event in sorted(self.found):
            delta, before, status = tick - before, tick, event[0]
            data += bytes((delta,)) if delta < 0x80 else _number(delta)
            data += event[1:] if status == running else event
            running = None if status == _META else status
        data += _number(end_tick - before) + _END_OF_TRACK
        return _chunk(b"MTrk", bytes(data))


def midi_file(tracks: Iterable[bytes], ticks_per_beat: int) -> bytes:
    """A file of format 1: the header and the tracks' chunks."""
    chunks = list(tracks)
    return _chunk(b"MThd", struct.pack(">HHH", 1, len(chunks), ticks_per_beat)) + b"".join(chunks)


def _chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack(">I", len(data)) + data
