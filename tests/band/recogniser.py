"""An independent ear: chords from audio by chroma templates, judged with mir_eval.

Knows nothing of genex but the chart it is compared with. Chroma from a constant-Q transform of the
harmonic part (librosa), summed by beat; cosine similarity with templates of five chord qualities
that include overtones (Gómez 2006, Tonal description of music audio signals [memory]); the bass
heard once more; and a Viterbi path that changes chord reluctantly.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from genex.score import Timeline
from genex.theory import Chord

RATE_HZ = 22050
HOP = 2048
_NAMES = "C Db D Eb E F Gb G Ab A Bb B".split()
_QUALITIES = {
    "maj": (0, 4, 7),
    "min": (0, 3, 7),
    "7": (0, 4, 7, 10),
    "maj7": (0, 4, 7, 11),
    "min7": (0, 3, 7, 10),
}
LABELS = [f"{name}:{quality}" for quality in _QUALITIES for name in _NAMES]
_PARTIALS = (0, 0, 7, 0, 4, 7)
_DECAY = 0.7
"""Overtones of each chord tone as pitch classes, each weaker than the one before."""

_STAY = 0.75
_SHARPNESS = 30.0
_BASS_SHARE = 0.15
_COMPRESSION = 0.4


def _templates() -> Any:
    rows = []
    for tones in _QUALITIES.values():
        for root in range(12):
            row = np.zeros(12)
            for tone in tones:
                for partial, interval in enumerate(_PARTIALS):
                    row[(root + tone + interval) % 12] += _DECAY**partial
            rows.append(row / np.linalg.norm(row))
    return np.array(rows)


def recognise(samples: Any, rate_hz: int, beat_seconds: float) -> tuple[Any, list[str]]:
    """Interval matrix in seconds and a label for each interval; a chord may change on any beat.

    ``beat_seconds`` is the length of a beat; the first lies at 0.
    """
    import librosa

    mono = librosa.resample(np.asarray(samples, dtype=np.float32), orig_sr=rate_hz, target_sr=RATE_HZ)
    harmonic = librosa.effects.harmonic(mono, margin=2.0)
    high, low = _semitones(harmonic, "E2", 4), _semitones(harmonic, "E1", 2)
    seconds = len(mono) / RATE_HZ
    beats = round(seconds / beat_seconds)
    edges = np.round(np.arange(beats + 1) * beat_seconds * RATE_HZ / HOP).astype(int)
    chroma, bass = _by_beat(_folded(high, 4), edges), _by_beat(_folded(low, 4), edges)
    likelihood = _SHARPNESS * (_templates() @ chroma + _BASS_SHARE * np.tile(bass, (len(_QUALITIES), 1)))
    path = _viterbi(likelihood)
    starts = [0, *(np.flatnonzero(np.diff(path)) + 1), beats]
    bounds = np.array(list(pairwise(starts))) * beat_seconds
    return bounds, [LABELS[path[start]] for start in starts[:-1]]


def _by_beat(chroma: Any, edges: Any) -> Any:
    """Chroma summed over each beat and its neighbours' edges, of unit length."""
    columns = [chroma[:, start : max(end, start + 1)].sum(axis=1) for start, end in pairwise(edges)]
    summed = np.array(columns).T
    return summed / (np.linalg.norm(summed, axis=0) + 1e-9)


def _semitones(samples: Any, lowest: str, octaves: int) -> Any:
    """Magnitudes by semitone: the middle one of three bins, whose filters do not hear the neighbours."""
    import librosa

    bins = librosa.cqt(
        samples,
        sr=RATE_HZ,
        hop_length=HOP,
        fmin=librosa.note_to_hz(lowest),
        n_bins=36 * octaves,
        bins_per_octave=36,
        tuning=0.0,
    )
    return np.abs(bins)[::3]


def _folded(semitones: Any, lowest_pitch_class: int) -> Any:
    """Chroma with pitch class 0 first; loud notes are compressed."""
    folded = (semitones**_COMPRESSION).reshape(-1, 12, semitones.shape[1]).sum(axis=0)
    return np.roll(folded, lowest_pitch_class, axis=0)


def _viterbi(likelihood: Any) -> Any:
    states, frames = likelihood.shape
    stay, leave = np.log(_STAY), np.log((1 - _STAY) / (states - 1))
    score = likelihood[:, 0].copy()
    back = np.zeros((frames, states), dtype=int)
    for frame in range(1, frames):
        best = int(np.argmax(score))
        moved = score[best] + leave
        kept = score + stay
        back[frame] = np.where(kept >= moved, np.arange(states), best)
        score = np.maximum(kept, moved) + likelihood[:, frame]
    path = np.zeros(frames, dtype=int)
    path[-1] = int(np.argmax(score))
    for frame in range(frames - 1, 0, -1):
        path[frame - 1] = back[frame, path[frame]]
    return path


def reference(line: Timeline) -> tuple[Any, list[str]]:
    """Intervals in seconds and labels in the syntax of mir_eval for a timeline."""
    spans = line.merged_chords
    intervals = [
        [float(line.tempo.seconds_at(span.onset_beats)), float(line.tempo.seconds_at(span.end_beats))]
        for span in spans
    ]
    return np.array(intervals), [label(span.chord) for span in spans]


def label(chord: Chord | None) -> str:
    """Root and triad of a chord, which is all that the metric looks at."""
    if chord is None:
        return "N"
    tones = {degree.semitones % 12 for degree in chord.degrees}
    kind = "maj" if 4 in tones else "min" if 3 in tones else "sus4"
    if 7 not in tones:
        kind = {"maj": "aug", "min": "dim"}.get(kind, kind)
    return f"{_NAMES[chord.root.pitch_class]}:{kind}"


def majmin_accuracy(samples: Any, rate_hz: int, line: Timeline) -> float:
    """Weighted accuracy over major and minor triads (mir_eval's ``majmin``)."""
    import mir_eval

    intervals, labels = reference(line)
    beat = float(line.tempo.seconds_at(line.meter.pulse_beats))
    found, found_labels = recognise(samples, rate_hz, beat)
    found, found_labels = mir_eval.util.adjust_intervals(
        found, found_labels, intervals.min(), intervals.max(), "N", "N"
    )
    merged, ours, theirs = mir_eval.util.merge_labeled_intervals(intervals, labels, found, found_labels)
    comparisons = mir_eval.chord.majmin(ours, theirs)
    return float(
        mir_eval.chord.weighted_accuracy(comparisons, mir_eval.util.intervals_to_durations(merged))
    )
