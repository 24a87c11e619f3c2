"""The sounds of a page: recordings of the soundfont, each once, and how its voices are played.

A voice is what the soundfont says of it, worked out as genex's own synthesizer works it out: pitch,
level, place, low-pass and envelope. So the page plays any note, at any length and in any key, and
differs from a rendered file by little more than the coding of its recordings (MP3). Tests hold that
against rendered loops, part by part.

Lengths are seconds, levels decibels. Recordings are cut where no note of the lessons can reach,
played at ``SLOWEST`` and in all keys.
"""

from __future__ import annotations

import base64
import io
import math
from collections import OrderedDict, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import soundfile

from genex.audio.envelope import RANGE_CB, Envelope, shared_envelope
from genex.audio.key_levels import KeyLevels
from genex.audio.presets import Presets, Recording, Voice
from genex.audio.room import Room, tail_samples
from genex.audio.sf2 import content_digest
from genex.audio.sound import BLOCK_SAMPLES, DEFAULT_RATE_HZ, Samples
from genex.audio.synth import SYNTH_GAIN
from genex.page.moves import shifts_of
from genex.score import Part, Score

SLOWEST = 0.5
"""The slowest practice tempo, as a share of the lesson's own."""

PILOT_FRAMES = 4096
PILOT_AT = 2048
"""Where the impulse of a pilot lies: what a browser's decoder moves it by, it moves recordings by."""

_MP3_EFFORT = 0.5  # libsndfile's scale from 0, best, to 1, smallest
_LENGTH_STEP_SECONDS = 0.25
_HEARD_OF_RELEASE = 0.7  # of the time for 96 dB: then it is 67 dB down
_CHANNEL_VOLUME_DB = 40 * math.log10(100 / 127)
"""What a channel's default volume of 100 takes off [published: General MIDI level 1]."""
_UNFILTERED_CENTS = 13_000
_ROOM_RATE_HZ = 12_000
_ROOM_SCALE = 0.5


class Need(NamedTuple):
    """How long a voice has to sound at the most: of a recording so many frames."""

    voice: Voice
    frames: int


def sounds_of(
    scores: Iterable[Score], soundfont: Path, *, moved: bool = True, digest: str | None = None
) -> dict[str, Any]:
    """All that plays some scores: recordings, presets, levels of keys, the room. As plain data.

    ``moved`` asks for what they need in all twelve keys. Raises SoundfontError.
    """
    scores = list(scores)
    presets = Presets(soundfont)
    try:
        digest = digest or content_digest(soundfont)
        levels = KeyLevels(soundfont, digest)
        longest = _longest(scores, moved=moved)
        needs: dict[str, list[Need]] = {}
        for (kit, program), strikes in sorted(longest.items()):
            voices = presets.voices(program, kit=kit)
            needs[f"{'kit' if kit else 'program'} {program}"] = list(_needs(voices, strikes))
        frames: dict[Recording, int] = {}
        for need in (need for some in needs.values() for need in some):
            frames[need.voice.recording] = max(need.frames, frames.get(need.voice.recording, 0))
        samples = {one: presets.samples(one)[:count] for one, count in frames.items()}
    finally:
        presets.close()
    rates = sorted({recording.rate_hz for recording in frames})
    return {
        "font": digest[:16],
        "pilots": {str(rate): _text(mp3(_pilot(), rate)) for rate in rates},
        "pilot_at": PILOT_AT,
        "recordings": {
            str(recording.number): {
                "rate": recording.rate_hz,
                "frames": len(samples[recording]),
                "data": _text(data),
            }
            for recording, data in _packed(samples, digest).items()
        },
        "presets": {
            name: {
                "voices": [_voice(need.voice) for need in some],
                "levels": None if name.startswith("kit") else _levels(levels, int(name.split()[1])),
            }
            for name, some in needs.items()
        },
        "room": _room(),
    }


def preset_name(part: Part) -> str:
    """The name of a part's preset among the sounds."""
    return f"{'kit' if part.is_percussion else 'program'} {part.program}"


def _longest(
    scores: Sequence[Score], *, moved: bool
) -> dict[tuple[bool, int], dict[tuple[int, int, int], float]]:
    """For each preset the longest time in seconds that each key and velocity is held.

    The third number is by how many half steps it is bent up: then its recording runs faster.
    """
    found: dict[tuple[bool, int], dict[tuple[int, int, int], float]] = defaultdict(dict)
    for score in scores:
        parts = [*score.parts, *([score.lead_in.part] if score.lead_in else [])]
        for part in parts:
            strikes = found[part.is_percussion, part.program]
            shifts = set(shifts_of(part)) if moved else {0}
            for note in part.notes:
                beats = float(note.end_beats - note.start_beats)
                held = beats * 60 / float(score.tempo.tempo_at(note.onset_beats)) / SLOWEST
                highest = (note.bend.semitones if note.bend else 0) + note.vibrato
                for shift in shifts:
                    strike = note.midi + shift, note.velocity, highest
                    strikes[strike] = max(held, strikes.get(strike, 0.0))
    return found


def _needs(voices: Sequence[Voice], strikes: dict[tuple[int, int, int], float]) -> Iterator[Need]:
    for voice in voices:
        frames = 0
        for (key, velocity, highest), held in strikes.items():
            if voice.sounds(key, velocity):
                frames = max(frames, _frames(voice, key + highest, held))
        if frames:
            yield Need(voice, frames)


def _frames(voice: Voice, key: int, held_seconds: float) -> int:
    """Frames of the recording that a note of a length plays."""
    whole = voice.recording.end - voice.recording.start
    if voice.recording.is_vorbis:
        whole = 1 << 40
    if voice.loop:
        return min(whole, voice.start + voice.loop[1] + 8)
    seconds = held_seconds + _HEARD_OF_RELEASE * 2 ** (voice.value(38) / 1200)
    steps = -(-seconds * 2 ** (voice.cents(key) / 1200) // _LENGTH_STEP_SECONDS)
    return min(whole, voice.start + int(steps * _LENGTH_STEP_SECONDS * voice.recording.rate_hz))


_coded: OrderedDict[tuple[str, int, int], bytes] = OrderedDict()
"""Recordings as MP3, by soundfont, number and frames: a lesson that is built again has them still."""
_MOST_CODED = 200


def _packed(recordings: dict[Recording, Samples], digest: str) -> dict[Recording, bytes]:
    """Every recording as MP3. The encoder lets other threads work."""
    names = {one: (digest, one.number, len(samples)) for one, samples in recordings.items()}
    found = {one: data for one, name in names.items() if (data := _coded.pop(name, None))}
    new = [one for one in recordings if one not in found]
    with ThreadPoolExecutor() as pool:
        found |= zip(new, pool.map(lambda one: mp3(recordings[one], one.rate_hz), new), strict=True)
    _coded.update((name, found[one]) for one, name in names.items())
    while len(_coded) > _MOST_CODED:
        _coded.popitem(last=False)
    return {one: found[one] for one in recordings}


def mp3(samples: Samples, rate_hz: int) -> bytes:
    """One channel as MP3 with a variable bit rate."""
    out = io.BytesIO()
    soundfile.write(
        out, samples, rate_hz, format="MP3", subtype="MPEG_LAYER_III", compression_level=_MP3_EFFORT
    )
    return out.getvalue()


def _pilot() -> Samples:
    pilot = np.zeros(PILOT_FRAMES, np.float32)
    pilot[PILOT_AT] = 0.9
    return pilot


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")


def _levels(levels: KeyLevels, program: int) -> dict[str, Any] | None:
    table = levels.table(program)
    if table is None:
        return None
    lowest, velocities, gains = table
    return {"lowest": lowest, "velocities": velocities, "gains": gains}


def _voice(voice: Voice) -> dict[str, Any]:
    """A voice as the page plays it.

    cents     pitch of key 0, and how much a key adds
    at, loop  where the recording begins, and its loop, in frames
    db        level at full velocity
    low_pass  cutoff in Hz and resonance in dB; None where nothing is taken away
    envelope  see ``_envelope``
    choke     exclusive class, 0 for none, and how long what is cut off takes to fall by 96 dB
    """
    middle = (max(voice.keys[0], 21) + min(voice.keys[1], 108)) // 2
    blocks = shared_envelope([lambda number: float(voice.value(number))], middle, DEFAULT_RATE_HZ)
    rate = voice.recording.rate_hz
    found: dict[str, Any] = {
        "keys": list(voice.keys),
        "velocities": list(voice.velocities),
        "recording": str(voice.recording.number),
        "cents": [voice.cents(0), voice.value(56)],
        "at": voice.start / rate,
        "loop": [(voice.start + frame) / rate for frame in voice.loop] if voice.loop else None,
        "db": round(_level_db(voice), 3),
        "pan": max(-1.0, min(1.0, voice.value(17) / 500)),
        "low_pass": _low_pass(voice),
        "envelope": _envelope(blocks) if blocks else None,
        "choke": voice.value(57),
    }
    waves = [_wave(voice, 21, 22, 5, 13), _wave(voice, 23, 24, 6, None)]
    if any(waves):
        found["waves"] = [wave for wave in waves if wave]
    return found


def _wave(voice: Voice, delay: int, rate: int, pitch: int, level: int | None) -> dict[str, float] | None:
    """A slow triangle wave on pitch (cents) or level (dB), after a delay; by generators' numbers."""
    cents, db = voice.value(pitch), 0.0 if level is None else voice.value(level) / 10
    if not cents and not db:
        return None
    return {
        "delay": _seconds(voice.value(delay)),
        "hz": round(_hertz(voice.value(rate)), 4),
        "cents": cents,
        "db": db,
    }


def _level_db(voice: Voice) -> float:
    gain_db = 20 * math.log10(SYNTH_GAIN)
    resonance = _resonance_db(voice)
    # The synthesizer turns a voice down by half its resonance [published: libfluidsynth, iir filter].
    return gain_db + _CHANNEL_VOLUME_DB - voice.attenuation_db - resonance / 2


def _resonance_db(voice: Voice) -> float:
    return max(0.0, min(96.0, voice.value(9) / 10)) - 3.01


def _low_pass(voice: Voice) -> dict[str, Any] | None:
    cents, moves = voice.value(8), voice.value(11)
    if cents >= _UNFILTERED_CENTS and not moves:
        return None
    found: dict[str, Any] = {"hz": round(_hertz(cents), 2), "db": round(_resonance_db(voice), 3)}
    if moves:
        # The modulation envelope: by so many cents, over these stages.
        found["moves"] = {
            "cents": moves,
            "delay": _seconds(voice.value(25)),
            "attack": _seconds(voice.value(26)),
            "hold": _seconds(voice.value(27)),
            "decay": _seconds(voice.value(28)),
            "sustain": 1 - max(0, min(1000, voice.value(29))) / 1000,
            "release": _seconds(voice.value(30)),
        }
    return found


def _seconds(timecents: int) -> float:
    return 0.0 if timecents <= -12000 else round(2 ** (timecents / 1200), 6)


def _hertz(cents: int) -> float:
    """Absolute cents, counted from 8.176 Hz."""
    return float(440 * 2 ** ((cents - 6900) / 1200))


def _envelope(blocks: Envelope) -> dict[str, float]:
    """Stages in seconds; ``sustain`` is a share of ``RANGE_CB``, as are the falls."""
    second = DEFAULT_RATE_HZ / BLOCK_SAMPLES
    stages = ("delay", "attack", "hold", "decay", "release", "choke")
    found = {name: round(getattr(blocks, name) / second, 6) for name in stages}
    return found | {"sustain": blocks.sustain, "range_db": RANGE_CB / 10}


@lru_cache(maxsize=1)
def _room() -> dict[str, Any]:
    """The room's answer to an impulse on its send: two channels, little above 5 kHz."""
    frames = tail_samples(DEFAULT_RATE_HZ)
    planes, send = np.zeros((2, frames), np.float32), np.zeros(frames, np.float32)
    send[0] = 1.0
    room = Room(DEFAULT_RATE_HZ, planes, wrap=False)
    room.hear(send)
    room.ring_out()
    step = DEFAULT_RATE_HZ // _ROOM_RATE_HZ
    short = planes[:, ::step] * np.float32(step)
    top = float(np.abs(short).max())
    out = io.BytesIO()
    soundfile.write(out, (short / top * _ROOM_SCALE).T, _ROOM_RATE_HZ, format="FLAC", subtype="PCM_16")
    return {"data": _text(out.getvalue()), "scale": top / _ROOM_SCALE, "rate": _ROOM_RATE_HZ}
