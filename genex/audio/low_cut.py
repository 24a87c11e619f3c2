"""What cannot be heard and only moves the wave off its centre is taken out: all below 20 Hz.

Recordings carry direct current (the soundfont's pads as much as they carry sound), strokes and
envelopes leave power below the lowest tone. The band is computed at a low rate, where a few
hundred taps tell 20 from 30 Hz, brought back to the full rate and subtracted, so nothing else is
touched: the phase of what stays is as it was, in a loop round the seam as well, and stems still add
up to their mix. What rings before a stroke lies below 30 Hz and 30 dB and more below it, where no ear
follows [published: ISO 226:2003, threshold of hearing].
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from genex.audio.sound import Doubles, Samples
from genex.audio.tape import let_go, stretches

LOWEST_HZ = 20.0
"""Below this nothing is left."""
_UNTOUCHED_HZ = 30.0  # the lowest string of a bass with five is at 30.9 Hz
_REJECTION_DB = 72.0
_STRIDE = 128
_ROWS_A_PIECE = 128
_ROWS_AT_ONCE = 1 << 15


def cut_lows(planes: Samples, rate_hz: int, *, wrap: bool) -> float:
    """Take what lies below 20 Hz out of some planes, shape (n_planes, n_samples), where they lie.

    Returns the largest value that was taken out.

    With ``wrap`` they are taken as endlessly repeated, else with silence on either side.
    """
    frames = planes.shape[1]
    if not frames:
        return 0.0
    most = 0.0
    low_pass, taps = _low_pass(rate_hz), _steep(rate_hz)
    reach = (len(low_pass) - 1) // 2  # rows on either side
    context = 2 * reach + len(taps) // 2
    rows = -(-frames // _STRIDE)
    whole = frames // _STRIDE
    for plane in planes:
        before = _around(plane, -context * _STRIDE, context * _STRIDE, wrap=wrap)
        after = _around(plane, whole * _STRIDE, (rows - whole + context) * _STRIDE, wrap=wrap)
        low, at = np.zeros(rows + 2 * reach + len(taps) - 1), 0
        for piece in (before, *_in_pieces(plane[: whole * _STRIDE]), after):
            products = piece.reshape(-1, _STRIDE) @ low_pass.T
            let_go(planes)
            for shift in range(2 * reach + 1):
                first, end = max(0, at - shift), min(len(low), at + len(products) - shift)
                low[first:end] += products[first + shift - at : end + shift - at, shift]
            at += len(products)
        deep = np.convolve(low, taps, mode="valid").astype(np.float32)
        windows = np.lib.stride_tricks.sliding_window_view(deep, 2 * reach + 1)
        for start, end in stretches(planes):
            last = -(-end // _STRIDE)
            for first in range(start // _STRIDE, last, _ROWS_A_PIECE):
                drawn = (windows[first : min(first + _ROWS_A_PIECE, last)] @ _spread(rate_hz)).reshape(
                    -1
                )
                place = plane[first * _STRIDE : first * _STRIDE + len(drawn)]
                place -= drawn[: len(place)]
        most = max(most, float(np.abs(deep).max()))
    return most


def _in_pieces(plane: Samples) -> Iterator[Samples]:
    """A plane of whole rows, so many of them at once that memory does not grow with it."""
    for first in range(0, len(plane), _ROWS_AT_ONCE * _STRIDE):
        yield plane[first : first + _ROWS_AT_ONCE * _STRIDE]


def _around(plane: Samples, start: int, count: int, *, wrap: bool) -> Samples:
    """Samples of the repeated plane, or of the plane in silence."""
    index = np.arange(start, start + count)
    found = np.take(plane, index, mode="wrap")
    if not wrap:
        found[(index < 0) | (index >= len(plane))] = 0
    return found


def _kaiser(reach: int, cutoff: float, rejection_db: float) -> Doubles:
    """A low-pass of linear phase, shape (2 * reach + 1,); ``cutoff`` in cycles a sample."""
    at = np.arange(-reach, reach + 1)
    taps: Doubles = np.sinc(2 * cutoff * at) * np.kaiser(len(at), 0.1102 * (rejection_db - 8.7))
    taps /= taps.sum()
    return taps


def _length(width: float, rejection_db: float) -> int:
    """Taps on either side for a transition of so many cycles a sample (Kaiser's estimate)."""
    return math.ceil((rejection_db - 7.95) / (2.285 * 2 * math.pi * width) / 2)


@lru_cache(maxsize=4)
def _steep(rate_hz: int) -> Doubles:
    """The filter at the low rate that passes what is to be taken out."""
    low_rate = rate_hz / _STRIDE
    reach = _length((_UNTOUCHED_HZ - LOWEST_HZ) / low_rate, _REJECTION_DB)
    return _kaiser(reach, (_UNTOUCHED_HZ + LOWEST_HZ) / 2 / low_rate, _REJECTION_DB)


@lru_cache(maxsize=4)
def _low_pass(rate_hz: int) -> Samples:
    """The low-pass between both rates, cut in rows: shape (2 * reach + 1, stride).

    The sum of products of rows -reach … +reach around a row with these is the low-passed value at
    the row's first sample.
    """
    # What the low rate folds onto the band below 30 Hz has to be gone.
    width = (rate_hz / _STRIDE - 2 * _UNTOUCHED_HZ) / rate_hz
    taps = _kaiser(_length(width, _REJECTION_DB + 10), 0.5 / _STRIDE, _REJECTION_DB + 10)
    half = len(taps) // 2
    reach = -(-half // _STRIDE)
    line = np.zeros((2 * reach + 1) * _STRIDE)
    line[reach * _STRIDE - half : reach * _STRIDE + half + 1] = taps
    return line.reshape(-1, _STRIDE).astype(np.float32)


@lru_cache(maxsize=4)
def _spread(rate_hz: int) -> Samples:
    """From values of the low rate around a row to the row: shape (2 * reach + 1, stride)."""
    rows = _low_pass(rate_hz)
    reach = (len(rows) - 1) // 2
    line = rows.reshape(-1)  # symmetric about its sample reach * stride
    centre = reach * _STRIDE
    spread = np.zeros_like(rows)
    for row in range(len(rows)):
        distance = np.abs(np.arange(_STRIDE) - (row - reach) * _STRIDE)
        inside = distance <= centre
        spread[row, inside] = line[centre + distance[inside]] * _STRIDE
    return spread
