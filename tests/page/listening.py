"""How far two sounds are apart, for an ear and for a ruler."""

from __future__ import annotations

import librosa
import numpy as np
from numpy.typing import NDArray

RATE_HZ = 48_000
RANGE_DB = 50.0
"""What lies further below the loudest cell than this is not compared: other sounds cover it."""


def log_mel(mono: NDArray[np.float32]) -> NDArray[np.float64]:
    """[package: librosa] 64 mel bands, frames of 43 ms, in dB."""
    power = librosa.feature.melspectrogram(
        y=np.ascontiguousarray(mono), sr=RATE_HZ, n_fft=2048, hop_length=512, n_mels=64
    )
    return np.asarray(10 * np.log10(power + 1e-12), np.float64)


def distance_db(heard: NDArray[np.float32], meant: NDArray[np.float32]) -> float:
    """Mean difference of two sounds, shape (2, frames), over all cells that can be heard in either."""
    one, other = log_mel(heard.mean(axis=0)), log_mel(meant.mean(axis=0))
    floor = other.max() - RANGE_DB
    one, other = np.maximum(one, floor), np.maximum(other, floor)
    loud = (one > floor) | (other > floor)
    return float(np.abs(one - other)[loud].mean())


def lag_frames(heard: NDArray[np.float32], meant: NDArray[np.float32]) -> int:
    """By how many frames the first sound is later, by the peak of their correlation."""
    one, other = heard.mean(axis=0), meant.mean(axis=0)
    size = 1 << (len(one) + len(other) - 1).bit_length()
    found = np.fft.irfft(np.fft.rfft(one, size) * np.conj(np.fft.rfft(other, size)), size)
    peak = int(np.argmax(found))
    return peak if peak < size // 2 else peak - size
