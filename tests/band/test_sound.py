"""The rendered band, heard by tools that know nothing of genex."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from genex.audio import Renderer
from genex.band import play_band
from genex.resources import default_soundfont
from genex.score import Score, Timeline
from tests.band.charts import GROOVES, TUNES, for_groove
from tests.band.recogniser import majmin_accuracy

HEARD = (("swing", "minor"), ("bossa", "cycle"), ("straight", "pop"), ("two-beat", "blues"))


def rendered(renderer: Renderer, name: str, line: Timeline) -> tuple[Any, int]:
    sound = renderer.loop(Score("t", name, line, play_band(line, GROOVES[name], seed=1)))
    return np.asarray(sound.planes, dtype=np.float64).mean(axis=0), sound.rate_hz


@pytest.mark.slow
def test_the_chords_of_the_rendered_loop_are_recognised():
    # chroma templates over librosa's constant-Q transform, judged by the majmin metric
    # [package: mir_eval 0.8.2, librosa 0.11.0]
    accuracies = {}
    with Renderer(default_soundfont()) as renderer:
        for name, tune_name in HEARD:
            line = for_groove(name, TUNES[tune_name][1], key=TUNES[tune_name][0])
            accuracies[name] = majmin_accuracy(*rendered(renderer, name, line), line)
    assert sum(accuracies.values()) / len(accuracies) >= 0.85, accuracies


@pytest.mark.slow
@pytest.mark.parametrize("name", ["straight", "swing"])
def test_the_tempo_of_the_rendered_loop_is_found(name):
    # [package: librosa 0.11.0]
    import librosa

    line = for_groove(name, TUNES["pop"][1], key="G", choruses=2)
    with Renderer(default_soundfont()) as renderer:
        samples, rate_hz = rendered(renderer, name, line)
    assert len(samples) == line.tempo.sample_at(line.length_beats, rate_hz)
    mono = librosa.resample(samples, orig_sr=rate_hz, target_sr=22050)
    envelope = librosa.onset.onset_strength(y=mono, sr=22050, hop_length=128)
    found = librosa.beat.beat_track(onset_envelope=envelope, sr=22050, hop_length=128, trim=False)[0]
    ratio = float(np.atleast_1d(found)[0]) / GROOVES[name].tempo_usual
    assert min(abs(ratio / level - 1) for level in (0.5, 1, 2)) <= 0.01
