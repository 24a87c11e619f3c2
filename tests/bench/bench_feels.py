"""Every feel over four progressions: rendered, then read back by ear-like measures.

Run as ``python -m tests.bench.bench_feels [FEEL …]``. For each feel and progression it prints

majmin   weighted accuracy of a chroma-template chord recogniser against the chart, by the metric of
         mir_eval (major and minor triads, everything else left out)
tempo    the tempo that librosa's beat tracker finds, against the tempo asked for (octave errors
         folded: half, double, two thirds and three halves are told apart by the printed factor)
root     share of changes with the root or slash bass struck, move: mean movement a voice in
         semitones, ms: milliseconds a bar to compose
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from fractions import Fraction
from itertools import pairwise

import numpy as np

from genex.audio import Renderer
from genex.band import groove_names, play_band
from genex.band.playable_voicings import movement
from genex.resources import default_soundfont
from genex.score import Articulation, Part, Score, Timeline
from tests.band.charts import GROOVES, for_groove
from tests.band.recogniser import majmin_accuracy

PROGRESSIONS = {
    "blues": ("F", "F7 | Bb7 | F7 | F7 | Bb7 | Bb7 | F7 | D7 | Gm7 | C7 | F7 | C7"),
    "ii-V-I": ("C", "Dm7 | G7 | Cmaj7 | Cmaj7 | Cm7 | F7 | Bbmaj7 | Bbmaj7"),
    "pop": ("G", "G | D | Em | C | G | D | Em | C"),
    "vamp": ("D minor", "Dm7 | Dm7 | Dm7 | Dm7 | Ebm7 | Ebm7 | Dm7 | Dm7"),
}


def root_share(part: Part, line: Timeline) -> float:
    struck = {note.onset_beats: note.pitch.pitch_class for note in part.notes}
    hits = [struck.get(b.onset_beats) == b.chord.bass.pitch_class for _, b in line.changes() if b.chord]
    return sum(hits) / max(1, len(hits))


def mean_movement(part: Part) -> float:
    chords: dict[Fraction, list[int]] = defaultdict(list)
    for note in part.notes:
        if note.articulation is not Articulation.DEAD:
            chords[note.onset_beats].append(note.midi)
    struck = [sorted(chords[onset]) for onset in sorted(chords)]
    moves = [movement(a, b) for a, b in pairwise(struck) if a != b]
    return sum(moves) / max(1, len(moves))


def tempo_factor(samples: np.ndarray, rate_hz: int, expected: float) -> float:
    """Found tempo over expected tempo, folded to the nearest of the usual metrical levels."""
    import librosa

    mono = librosa.resample(samples, orig_sr=rate_hz, target_sr=22050)
    envelope = librosa.onset.onset_strength(y=mono, sr=22050, hop_length=128)
    found = float(
        np.atleast_1d(
            librosa.beat.beat_track(
                onset_envelope=envelope, sr=22050, hop_length=128, start_bpm=expected, trim=False
            )[0]
        )[0]
    )
    levels = (1, 2, 0.5, 1.5, 2 / 3, 3, 1 / 3, 4 / 3, 0.75)
    return min((found / expected / level for level in levels), key=lambda ratio: abs(ratio - 1))


def main(names: list[str]) -> None:
    print("feel          progression majmin  tempo  root  move ms/bar render s")
    with Renderer(default_soundfont()) as renderer:
        for name in names or groove_names():
            for title, (key, chart) in PROGRESSIONS.items():
                line = for_groove(name, chart, key=key, choruses=2)
                start = time.perf_counter()
                parts = play_band(line, GROOVES[name], seed=1)
                composed = (time.perf_counter() - start) / len(line.bars) * 1000
                start = time.perf_counter()
                sound = renderer.loop(Score(title, name, line, parts))
                rendered = time.perf_counter() - start
                mono = np.asarray(sound.planes, dtype=np.float64).mean(axis=0)
                by_name = {part.name: part for part in parts}
                accuracy = (
                    majmin_accuracy(mono, sound.rate_hz, line) if "comping" in by_name else float("nan")
                )
                factor = tempo_factor(mono, sound.rate_hz, float(GROOVES[name].tempo_usual))
                root = root_share(by_name["bass"], line) if "bass" in by_name else float("nan")
                move = mean_movement(by_name["comping"]) if "comping" in by_name else float("nan")
                print(
                    f"{name:13} {title:11} {accuracy:6.3f} {factor:6.3f} {root:5.2f} {move:5.2f} "
                    f"{composed:6.2f} {rendered:8.2f}",
                    flush=True,
                )


if __name__ == "__main__":
    main(sys.argv[1:])
