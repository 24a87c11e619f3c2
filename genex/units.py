"""The only conversions between beats, ticks, seconds and samples.

Units
-----
beats    quarter notes, exact, as ``Fraction``
ticks    ``TICKS_PER_BEAT`` to a quarter note, integer (Standard MIDI File division)
seconds  exact ``Fraction`` here; only display and file formats turn them into ``float``
samples  frames at a sample rate in hertz, integer, rounded half up
tempo    quarter notes a minute, exact ``Fraction``

Nothing stores seconds or samples: they are derived from beats and a tempo when needed.
"""

from __future__ import annotations

from genex.exact import Fraction

TICKS_PER_BEAT = 960
"""Divisible by 2^6, 3 and 5: every note value in use lies on a tick."""

MICROSECONDS_PER_MINUTE = 60_000_000


def round_half_up(value: Fraction) -> int:
    """Nearest integer; one half goes up (Python's ``round`` would go to even)."""
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)


def beats_to_ticks(beats: Fraction) -> int:
    """Ticks nearest to a time in beats; one half goes up."""
    doubled = 2 * beats.denominator
    return (2 * TICKS_PER_BEAT * beats.numerator + beats.denominator) // doubled


def ticks_to_beats(ticks: int) -> Fraction:
    """Beats of a time in ticks, exact."""
    return Fraction(ticks, TICKS_PER_BEAT)


def beats_to_seconds(beats: Fraction, tempo_bpm: Fraction) -> Fraction:
    """Seconds that ``beats`` last at a constant tempo, exact."""
    return beats * 60 / tempo_bpm


def seconds_to_samples(seconds: Fraction, rate_hz: int) -> int:
    """Sample frame nearest to a time in seconds."""
    return round_half_up(seconds * rate_hz)


def tempo_to_microseconds(tempo_bpm: Fraction) -> int:
    """Microseconds a quarter note, as the MIDI tempo event holds them."""
    return round_half_up(MICROSECONDS_PER_MINUTE / tempo_bpm)
