"""Small scores and measuring tools for the audio tests."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from genex.audio.sound import Sound
from genex.score import (
    Bar,
    ChordSpan,
    LeadIn,
    Meter,
    Mix,
    Note,
    Part,
    Role,
    Score,
    SectionSpan,
    Slide,
    TempoChange,
    TempoMap,
    Timeline,
)
from genex.theory import Key, Pitch

DRY = Mix(room=0.0)
GRID_TEMPO = Fraction(120 * 375, 375)  # at 48 kHz a beat is 24 000 samples, 375 blocks of 64


def note(
    onset: str | Fraction, beats: str | Fraction, midi: int, velocity: int = 90, **more: object
) -> Note:
    return Note(Fraction(onset), Fraction(beats), Pitch.from_midi(midi), velocity, **more)  # type: ignore[arg-type]


def slide(semitones: int, beats: str) -> Slide:
    return Slide(semitones, Fraction(beats))


def timeline(beats: int | str = 4, tempo: Fraction | int | TempoMap = 120) -> Timeline:
    length = Fraction(beats)
    tempo_map = tempo if isinstance(tempo, TempoMap) else TempoMap.constant(Fraction(tempo))
    bars = tuple(Bar(n + 1, n + 1, 1, Fraction(n), Meter(1, 4), "A") for n in range(int(length)))
    spans = tuple(ChordSpan(bar.onset_beats, bar.length_beats, None) for bar in bars)
    return Timeline(Key.parse("C"), tempo_map, bars, spans, (SectionSpan(Fraction(0), length, "A", 1),))


def score(
    *parts: Part, beats: int = 4, tempo: Fraction | int | TempoMap = 120, lead_in: LeadIn | None = None
) -> Score:
    return Score("test", "straight", timeline(beats, tempo), parts, lead_in)


def part(
    *notes: Note, name: str = "line", program: int = 24, role: Role = Role.LEAD, mix: Mix = DRY
) -> Part:
    return Part.of(name, role, program, notes, mix=mix)


def drums(*notes: Note, kit: int = 0, mix: Mix = DRY) -> Part:
    return Part.of("drums", Role.DRUMS, kit, notes, mix=mix)


def count_in(beats: int = 2) -> LeadIn:
    clicks = (note(Fraction(n), "1/4", 76) for n in range(beats))
    return LeadIn(Fraction(beats), Part.of("count-in", Role.CLICK, 0, clicks, mix=DRY))


def tempo_ramp(*changes: tuple[str, int]) -> TempoMap:
    return TempoMap(tuple(TempoChange(Fraction(beat), Fraction(bpm)) for beat, bpm in changes))


def decibels(value: float) -> float:
    return float(20 * np.log10(max(value, 1e-30)))


def signal_to_difference_db(reference: np.ndarray, other: np.ndarray) -> float:
    """Energy of the reference over that of the difference, in dB; the shorter one is padded."""
    frames = max(len(reference), len(other))
    a, b = (np.zeros((frames, 2)) for _ in range(2))
    a[: len(reference)], b[: len(other)] = reference, other
    difference = ((a - b) ** 2).sum()
    return float(10 * np.log10((a**2).sum() / difference)) if difference else float("inf")


def sine(
    hertz: float, level_db: float, seconds: float, rate_hz: int = 48_000, phase: float = 0.0
) -> np.ndarray:
    time = np.arange(round(seconds * rate_hz)) / rate_hz
    return (10 ** (level_db / 20) * np.sin(2 * np.pi * hertz * time + phase)).astype(np.float32)


def both(channel: np.ndarray, rate_hz: int = 48_000) -> Sound:
    """The same signal on both sides."""
    return Sound(np.stack((channel, channel), axis=1), rate_hz)


def power_share(sound: Sound, low_hz: float, high_hz: float) -> float:
    """Power between two frequencies over all power."""
    spectrum = np.abs(np.fft.rfft(sound.planes.astype(np.float64))) ** 2
    spectrum[:, 1:] *= 2  # its other half, which is not kept
    hertz = np.fft.rfftfreq(sound.length_samples, 1 / sound.rate_hz)
    inside = (hertz >= low_hz) & (hertz < high_hz)
    return float(spectrum[:, inside].sum() / max(spectrum.sum(), 1e-30))
