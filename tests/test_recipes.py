"""The example recipes, built whole and read back with readers that share no code with genex.

Sources: pretty_midi and mido read the MIDI, the tab is read by ``tests/export/tab_reader.py``,
librosa listens to the sound [package: librosa 0.11.0], soundfile reads it. Tempos and tunings are
those of the recipes; A4 = 440 Hz [published: ISO 16].
"""

from __future__ import annotations

import io
import json
from fractions import Fraction as F
from itertools import accumulate, groupby, pairwise
from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest
import soundfile

from genex.audio import Renderer
from genex.compose import compose
from genex.export.midi import midi_bytes
from genex.export.tab import tab_text
from genex.recipe import parse_recipe, read_recipe
from genex.resources import default_soundfont
from tests.export.tab_reader import read_tab
from tests.export.test_midi import written_by_mido
from tests.publishing.builds import build_all

FOLDER = Path(__file__).parents[1] / "recipes"
NAMES = ["kettle-on", "lantern-street", "paper-carousel", "tide-table", "window-seat"]
RECIPES = [FOLDER / f"{name}.yaml" for name in NAMES]
SERIES = ["book-of-sevenths", "first-term", "triads-in-three-keys"]
OTHERS = [
    one
    for path in sorted(FOLDER.glob("*.yaml"))
    if path.stem not in (*NAMES, *SERIES)
    for recipe in [read_recipe(path)]
    for one in recipe.exercises or [recipe]
]
RATE = 48_000


@pytest.fixture(scope="module")
def lessons(tmp_path_factory):
    """Folder of each built example."""
    out = tmp_path_factory.mktemp("lessons")
    for _ in build_all(RECIPES, out, report=lambda text: None):
        pass
    return {name: out / name for name in NAMES}


@pytest.fixture(scope="module")
def recipes():
    return {path.stem: read_recipe(path) for path in RECIPES}


def loud(folder, name):
    sound, rate = soundfile.read(folder / name, dtype="float32", always_2d=True)
    assert rate == RATE
    return sound


@pytest.mark.parametrize("name", NAMES)
def test_midi_opens_with_the_recipes_tempo_meter_key_and_length(lessons, recipes, name):
    recipe = recipes[name]
    midi = pretty_midi.PrettyMIDI(str(lessons[name] / f"{name}.mid"))
    _, tempos = midi.get_tempo_changes()
    quarters = float(recipe.versions[0].tempo * recipe.meter.pulse_beats)
    assert tempos == pytest.approx([quarters] * len(tempos), rel=1e-4)
    (signature,) = midi.time_signature_changes
    assert f"{signature.numerator}/{signature.denominator}" == str(recipe.meter)
    (key,) = midi.key_signature_changes
    assert pretty_midi.key_number_to_key_name(key.key_number).lower() == str(recipe.key).lower()
    bars = recipe.fields.repeats * sum(len(section.bars) for section in recipe.form)
    data = (lessons[name] / f"{name}.mid").read_bytes()
    assert written_by_mido(data) == data
    ends = {sum(m.time for m in t) for t in mido.MidiFile(lessons[name] / f"{name}.mid").tracks}
    assert ends == {int(bars * recipe.meter.bar_beats * 960)}


@pytest.mark.parametrize("name", NAMES)
def test_tab_read_back_gives_the_pitches_of_the_midi(lessons, recipes, name):
    midi = pretty_midi.PrettyMIDI(str(lessons[name] / f"{name}.mid"))
    pages = (lessons[name] / f"{name}.tab.txt").read_text().split("\n\n\n")
    tracks = {i.name: i for i in midi.instruments}
    for page in pages:
        part = page.partition("\n")[0].rpartition(": ")[2]
        played = [note.midi for note in read_tab(page)]
        assert played and played == [note.pitch for note in tracks[part].notes], part


@pytest.mark.parametrize("recipe", OTHERS, ids=lambda recipe: recipe.slug)
def test_every_other_example_has_tab_that_is_its_midi(recipe):
    """Lines, studies, calls and drills, without the time it takes to render them."""
    piece = compose(recipe)
    data = midi_bytes(piece.score)
    assert written_by_mido(data) == data
    midi = pretty_midi.PrettyMIDI(io.BytesIO(data))
    tracks = {instrument.name: instrument for instrument in midi.instruments}
    for part in piece.score.lead_parts:
        played = [note.midi for note in read_tab(tab_text(piece.score, [part.name]))]
        heard = [note.pitch for note in tracks[part.name].notes]
        # Of notes together tab has the highest string first, sound the one that is struck first.
        sizes = [len(list(group)) for _, group in groupby(n.onset_beats for n in part.notes)]
        played, heard = _by_stroke(played, sizes), _by_stroke(heard, sizes)
        assert played and played == heard


def _by_stroke(midis, sizes):
    ends = list(accumulate(sizes, initial=0))
    assert ends[-1] == len(midis)
    return [sorted(midis[start:end]) for start, end in pairwise(ends)]


@pytest.mark.parametrize("name", NAMES)
def test_a_loop_has_the_length_of_its_beats_and_no_seam(lessons, recipes, name):
    recipe = recipes[name]
    manifest = json.loads((lessons[name] / "manifest.json").read_text())
    beats = F(manifest["length_beats"])
    exact = beats * 60 / (recipe.versions[0].tempo * recipe.meter.pulse_beats) * RATE
    for suffix in (".wav", ".band.wav"):
        sound = loud(lessons[name], name + suffix)
        assert len(sound) == int(exact + F(1, 2))
        assert abs(clicks_at_seam(sound)) <= 1, suffix


def clicks_at_seam(sound):
    """Largest jump of the second difference across the seam against the 99.9 % quantile inside."""
    around = np.concatenate([sound[-3:], sound[:3]])
    inside = np.abs(np.diff(sound, n=2, axis=0)).max(axis=1)
    seam = np.abs(np.diff(around, n=2, axis=0)).max()
    return seam / inside.max()


@pytest.mark.parametrize("name", NAMES)
def test_only_the_take_has_the_count_in(lessons, recipes, name):
    recipe = recipes[name]
    if "take" not in recipe.outputs:
        assert not (lessons[name] / f"{name}.take.wav").exists()
        return
    loop, take = loud(lessons[name], f"{name}.wav"), loud(lessons[name], f"{name}.take.wav")
    bars = recipe.fields.count_in
    quarters = recipe.versions[0].tempo * recipe.meter.pulse_beats
    lead_in = int(bars * recipe.meter.bar_beats * 60 / quarters * RATE)
    assert len(take) > len(loop) + lead_in
    # A click on the first pulse, and a pulse later in a count of one bar.
    head = np.abs(take[: lead_in // bars]).max(axis=1)
    assert head[:2400].max() > 0.02
    assert np.abs(take[-480:]).max() < 1e-3


@pytest.mark.parametrize("name", NAMES)
def test_librosa_finds_the_tempo(lessons, recipes, name):
    """Within 1 % of the recipe's beat. A tempogram cannot tell a beat from its half or double or,
    in swung and bossa patterns, from its dotted value, so the beat's own neighbourhood is searched."""
    import librosa

    tempo = float(recipes[name].versions[0].tempo)
    sound = loud(lessons[name], f"{name}.band.wav").mean(axis=1)
    slow = librosa.resample(sound, orig_sr=RATE, target_sr=22_050, res_type="polyphase")
    onsets = librosa.onset.onset_strength(y=slow, sr=22_050, hop_length=128)
    strength = librosa.autocorrelate(onsets - onsets.mean())
    # Eight beats later the pattern is in step again: a long lag gives a fine reading.
    lags = np.arange(len(strength)) * 128 / 22_050
    near = (lags > 8 * 60 / (tempo * 1.08)) & (lags < 8 * 60 / (tempo * 0.92))
    found = 8 * 60 / lags[near][np.argmax(strength[near])]
    assert found == pytest.approx(tempo, rel=0.01)


def test_the_exercise_sounds_at_its_pitches():
    """pyin on the exercise alone: every note within 15 cents of equal temperament."""
    import librosa

    recipe = parse_recipe(
        "chords: Gm7 | C7 | Fmaj7 | Dm7\ntempo: 90\nswing: 1\nparts: exercise\n"
        "exercise: {kind: arpeggio, rhythm: quarters, sound: nylon guitar}"
    )
    score = compose(recipe).score
    with Renderer(default_soundfont(), RATE) as renderer:
        sound = renderer.loop(score).samples.mean(axis=1)
    pitch, voiced, _ = librosa.pyin(
        sound, fmin=70, fmax=900, sr=RATE, frame_length=4096, hop_length=2048, resolution=0.05
    )
    times = librosa.times_like(pitch, sr=RATE, hop_length=2048)
    notes = score.part("exercise").notes
    assert len(notes) == 16
    for note in notes:
        start, end = (
            float(score.tempo.seconds_at(beats)) for beats in (note.start_beats, note.end_beats)
        )
        inside = voiced & (times > start + 0.1) & (times < end - 0.1)
        cents = 1200 * np.log2(np.median(pitch[inside]) / (440 * 2 ** ((note.midi - 69) / 12)))
        assert abs(cents) <= 15, note
