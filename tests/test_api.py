"""The Python face: what it gives equals what the command line writes, and it keeps to itself."""

from __future__ import annotations

import ast
import gc
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from threadpoolctl import threadpool_info, threadpool_limits

import genex as face
from genex.audio import render
from genex.audio.one_thread import one_thread
from genex.resources import example_recipes
from genex.score import Note

HARBOUR = example_recipes() / "harbour-lights.yaml"
TEXT = "title: Two Bars\nchords: Dm7 G7 | Cmaj7 |\ntempo: 120\nexercise: arpeggio\n"


def blas_threads() -> set[int]:
    """Threads of the library that numpy multiplies with; scipy, which tests load, has its own."""
    return {
        pool["num_threads"]
        for pool in threadpool_info()
        if pool["user_api"] == "blas" and Path(pool["filepath"]).parent.name != "scipy.libs"
    }


def test_every_name_of_the_face_is_there_and_named_to_type_checkers():
    assert sorted(face.__all__) == face.__all__
    for name in face.__all__:
        assert getattr(face, name) is not None
        assert name in dir(face)
    tree = ast.parse(Path(face.__file__).read_text("utf-8"))
    typed = {
        alias.name for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for alias in node.names
    }
    assert set(face.__all__) - {"__version__"} <= typed
    with pytest.raises(AttributeError, match="nothing_of_the_kind"):
        _ = face.nothing_of_the_kind


def test_no_name_of_the_face_is_that_of_a_room():
    """A room that is loaded becomes an attribute of the package, in place of a function of its name."""
    rooms = {path.stem for path in Path(face.__file__).parent.iterdir()}
    assert not rooms & set(face.__all__)


def test_a_score_is_plain_objects():
    piece = face.compose_recipe(face.parse_recipe(TEXT))
    part = piece.score.part("exercise")
    assert all(isinstance(note, Note) and note.fretting is not None for note in part.notes)
    assert sum(note.duration_beats for note in part.notes) == piece.score.length_beats == 8


def test_another_key_and_tempo_is_the_same_music_elsewhere():
    recipe = face.parse_recipe(TEXT + "key: C\n")
    here, there = (face.compose_recipe(recipe, key=key, tempo=90).score for key in ("C", "D"))
    assert str(there.timeline.key) == "D major" and there.tempo.changes[0].tempo_bpm == 90
    bass = [[note.midi % 12 for note in score.part("guide").notes] for score in (here, there)]
    assert [(midi + 2) % 12 for midi in bass[0]] == bass[1]


@pytest.mark.parametrize(
    ("wish", "told"),
    [
        ({"key": "H"}, "Bb or G minor"),
        ({"key": "D minor"}, "major tune goes into major keys"),
        ({"tempo": 1000}, "from 20 to 400"),
    ],
)
def test_a_wrong_wish_is_an_input_error_with_a_hint(wish, told):
    with pytest.raises(face.InputError) as caught:
        face.compose_recipe(face.parse_recipe(TEXT + "key: C\n"), **wish)
    assert told in str(caught.value)


def test_errors_have_the_place_in_the_text():
    with pytest.raises(face.InputError) as caught:
        face.parse_recipe("chords: Gm7 | Hm7 |\n", file="week 3.yaml")
    assert (caught.value.place.line, caught.value.place.column) == (1, 15)
    assert str(caught.value).startswith("week 3.yaml:1:15:")


def test_a_series_is_no_recipe_of_one_lesson():
    with pytest.raises(face.InputError, match="series"):
        face.parse_recipe("matrix: {types: maj7}\n")
    with pytest.raises(face.InputError, match="no output 'mid'"):
        face.lesson_files(face.parse_recipe(TEXT), "mid")


def test_a_rendered_loop_is_what_the_loop_file_holds(tmp_path):
    recipe = face.parse_recipe(TEXT)
    samples = face.render_score(face.compose_recipe(recipe).score)
    assert samples.dtype == np.float32 and samples.shape == (4 * 48_000, 2)
    (data,) = face.lesson_files(recipe, "loop").values()
    (tmp_path / "loop.wav").write_bytes(data)
    stored, rate = soundfile.read(tmp_path / "loop.wav", dtype="float64")
    assert rate == 48_000
    assert np.abs(stored - samples).max() <= 2**-23  # one step of 24 bit
    plain = face.render_score(face.compose_recipe(recipe).score, loudness_lufs=None)
    assert not np.array_equal(plain, samples)


def test_a_take_begins_with_the_count_in_and_rings_out():
    recipe = face.parse_recipe(TEXT)
    score = face.compose_recipe(recipe, ending=True).score
    take = face.render_score(score, take=True, rate_hz=44_100)
    assert len(take) >= (2 + 4) * 44_100


def of_manifest(folder: Path) -> dict[str, str]:
    manifest = json.loads((folder / "manifest.json").read_text("utf-8"))
    return {file["name"]: file["sha256"] for file in manifest["files"]}


@pytest.mark.slow
def test_the_command_line_writes_the_same_bytes_as_a_program_whose_numpy_has_many_threads(
    genex, tmp_path
):
    recipe = HARBOUR
    assert genex("build", recipe, "--out", tmp_path / "shell", "--rebuild").code == 0
    program = (
        "import numpy as np, genex, sys\n"
        "a = np.ones((900, 900), np.float32); a @ a\n"
        "genex.write_lesson(sys.argv[1], sys.argv[2])\n"
    )
    environment = {"OPENBLAS_NUM_THREADS": "8", "XDG_CACHE_HOME": os.environ["XDG_CACHE_HOME"]}
    words = [sys.executable, "-c", program, recipe, tmp_path / "python"]
    root = Path(face.__file__).parents[1]
    subprocess.run(words, check=True, env=environment, cwd=root)
    assert of_manifest(tmp_path / "python" / recipe.stem) == of_manifest(
        tmp_path / "shell" / recipe.stem
    )


def test_bytes_and_folder_are_the_same_files(tmp_path):
    recipe = face.parse_recipe(TEXT + "outputs: midi tab timeline chart\nkeys: [C, F]\n")
    files = face.lesson_files(recipe)
    written = {path.name: path for path in face.write_lesson(recipe, tmp_path / "in one")}
    assert written.keys() == files.keys() | {"manifest.json"}
    for name, data in files.items():
        assert written[name].read_bytes() == data
    again = face.write_lesson(recipe, tmp_path / "in two", processes=2)
    for path in again:
        data, first = (
            path.read_text("utf-8", "replace"),
            written[path.name].read_text("utf-8", "replace"),
        )
        if path.name == "manifest.json":  # names the recipe's place as seen from each folder
            data, first = (re.sub('"owner": ".*"', "", text) for text in (data, first))
        assert data == first


def test_a_series_is_written_whole_and_a_faulty_one_not_at_all(tmp_path):
    path = tmp_path / "pair.yaml"
    path.write_text("matrix: {types: major m, lesson: {exercise: tour, outputs: tab}}\n", "utf-8")
    written = face.write_lesson(path, tmp_path / "out")
    assert [one.name for one in written if one.suffix == ".zip"] == ["pair.zip"]
    assert all(one.is_file() for one in written)
    path.write_text("matrix: {types: major, lesson: {exercise: tour, capo: 99}}\n", "utf-8")
    with pytest.raises(face.InputError):
        face.write_lesson(path, tmp_path / "none")
    assert not (tmp_path / "none").exists()


def test_sound_is_made_by_one_thread_and_the_program_keeps_its_own(monkeypatch):
    seen = []
    mix_down = render.mix_down

    def watched(*args, **options):
        seen.append(blas_threads())
        return mix_down(*args, **options)

    monkeypatch.setattr(render, "mix_down", watched)
    with threadpool_limits(limits=2, user_api="blas"):
        before = blas_threads()
        assert before == {2}, "numpy's own library can be asked for two"
        face.render_score(face.compose_recipe(face.parse_recipe(TEXT)).score)
        assert blas_threads() == before
        with one_thread(), one_thread():
            assert blas_threads() == {1}
        assert blas_threads() == before
    assert seen == [{1}]


def test_loudness_is_measured_by_one_thread(monkeypatch):
    from genex.audio import Sound, integrated_lufs, loudness, mastering, true_peak_dbtp

    seen = []
    for room, name in ((loudness, "PeakMeter"), (loudness, "LoudnessMeter"), (mastering, "PeakMeter")):
        meter = getattr(room, name)

        def watched(*args, meter=meter, **options):
            seen.append(blas_threads())
            return meter(*args, **options)

        monkeypatch.setattr(room, name, watched)
    sound = Sound(np.full((48_000, 2), 0.1, np.float32), 48_000)
    with threadpool_limits(limits=2, user_api="blas"):
        integrated_lufs(sound)
        true_peak_dbtp(sound)
        mastering.master(sound)
    assert len(seen) >= 3 and all(threads == {1} for threads in seen)


def test_the_garbage_collector_is_left_as_it_was(tmp_path):
    before = gc.get_threshold()
    recipe = face.parse_recipe(TEXT)
    face.compose_recipe(recipe)
    face.lesson_files(recipe, "midi")
    face.write_lesson(face.parse_recipe(TEXT + "outputs: midi\n"), tmp_path)
    assert gc.get_threshold() == before


def test_an_output_that_makes_no_file_is_told():
    recipe = face.parse_recipe("title: No Line\nchords: Dm7 G7 | Cmaj7 |\nparts: drums bass\n")
    for word, hint in (("tab", "needs a line"), ("answers", "calls and drills")):
        with pytest.raises(face.InputError, match=f"'{word}' makes no file of 'No Line'") as caught:
            face.lesson_files(recipe, "midi", word)
        assert hint in str(caught.value)
    assert list(face.lesson_files(recipe, "midi")) == ["no-line.mid"]
