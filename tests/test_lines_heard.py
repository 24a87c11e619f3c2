"""Lines listened to: the rendered lead stem has the notes of the tab, and nothing in the gaps.

Pitches and onsets are found by librosa [package: librosa 0.11.0], which knows nothing of the Score.
"""

from __future__ import annotations

import librosa
import numpy as np
import pytest

from genex.audio import Renderer
from genex.compose import compose
from genex.recipe import parse_recipe
from genex.resources import default_soundfont

RATE = 48_000
HOP = 512
KINDS = {
    "arpeggios": "exercise: {kind: changes, sound: nylon guitar}",
    "targets": "exercise: {kind: targets, approaches: [below, enclosure], sound: nylon guitar}",
    "scales": "exercise: {kind: scales, sound: nylon guitar}",
    "etude": "exercise: {kind: etude, level: 3, slides: false, sound: nylon guitar}",
}


def stem_of(piece, name):
    """The samples of one part alone, mono."""
    with Renderer(default_soundfont(), RATE) as renderer:
        return renderer.stem(piece.score, name).samples.mean(axis=1)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_pyin_finds_the_notes_of_the_tab(kind):
    piece = compose(
        parse_recipe(
            "chords: Dm7 | G7 | Cmaj7 | A7\nkey: C\ntempo: 84\nswing: 1\nparts: exercise\n"
            "mix: {exercise: {room: 0}}\n" + KINDS[kind]
        )
    )
    stem = stem_of(piece, "exercise")
    pitch, voiced, _ = librosa.pyin(
        stem, fmin=75, fmax=1000, sr=RATE, frame_length=2048, hop_length=HOP, resolution=0.1
    )
    times = librosa.times_like(pitch, sr=RATE, hop_length=HOP)
    onsets = librosa.onset.onset_detect(y=stem, sr=RATE, hop_length=128, units="time", backtrack=False)
    in_tune = 0
    notes = piece.score.part("exercise").notes
    lags = []
    for note in notes:
        start, end = (
            float(piece.score.tempo.seconds_at(at)) for at in (note.start_beats, note.end_beats)
        )
        inside = voiced & (times > start + 0.05) & (times < end - 0.03)
        if inside.any():
            cents = 1200 * np.log2(np.median(pitch[inside]) / librosa.midi_to_hz(note.pitch.midi))
            in_tune += abs(cents) <= 50
        lags.append(min(onsets - start, key=abs))
    # The detector's own lag is the same for every note; what is left is the line's.
    in_time = sum(abs(lag - np.median(lags)) <= 0.03 for lag in lags)
    assert len(notes) >= 8
    assert in_tune >= 0.98 * len(notes)
    assert in_time >= 0.98 * len(notes)


@pytest.mark.slow
def test_the_lead_is_silent_while_the_student_answers():
    piece = compose(
        parse_recipe(
            "chords: Bbmaj7 | Gm7 | Cm7 | F7\nkey: Bb\ntempo: 100\n"
            "exercise: {kind: calls, calls: 4, bars: 2}\nmix: {exercise: {room: 0}}\n"
        )
    )
    score = piece.score
    stem = stem_of(piece, "call")
    gaps = [cue for cue in piece.cues if cue.kind == "play"]
    assert len(gaps) == 4
    for gap in gaps:
        lead = [n for n in score.part("call").notes if gap.onset_beats <= n.onset_beats < gap.end_beats]
        assert not lead
        start, end = (score.tempo.sample_at(at, RATE) for at in (gap.onset_beats, gap.end_beats))
        silence = stem[start + RATE // 4 : end - RATE // 50]
        assert 20 * np.log10(np.abs(silence).max() + 1e-12) < -60
