"""What is heard of a rendered band: its beats, and how bright it is."""

from __future__ import annotations

import numpy as np

WINDOW_SECONDS, TRIMMED_SECONDS = 0.07, 5.0


def beat_f_measure(samples: np.ndarray, rate_hz: int, pulses_a_minute: float) -> float:
    """How well the tracker's beats meet the pulses."""
    import librosa

    mono = librosa.resample(samples, orig_sr=rate_hz, target_sr=22050)
    envelope = librosa.onset.onset_strength(y=mono, sr=22050, hop_length=128)
    prior = librosa.beat.beat_track(
        onset_envelope=envelope,
        sr=22050,
        hop_length=128,
        bpm=pulses_a_minute,
        units="time",
        trim=False,
    )[1]
    found = [beat for beat in prior if beat >= TRIMMED_SECONDS]
    length = len(samples) / rate_hz
    wanted = np.arange(0, length - 0.01, 60 / pulses_a_minute)
    wanted = wanted[wanted >= TRIMMED_SECONDS]
    hits = sum(bool(np.min(np.abs(wanted - beat)) <= WINDOW_SECONDS) for beat in found)
    return 2 * hits / max(1, len(found) + len(wanted))


def air(samples: np.ndarray, rate_hz: int) -> float:
    power = np.abs(np.fft.rfft(samples)) ** 2
    return float(100 * power[np.fft.rfftfreq(len(samples), 1 / rate_hz) > 4000].sum() / power.sum())
