"""The command line as a user meets it."""

import hashlib
import json
import os
import subprocess
import sys
from typing import get_args

import jsonschema
import pytest
from ruamel.yaml import YAML

from genex.recipe.fields import OutputName
from genex.resources import example_recipes

RECIPE = "title: Rain\nchords: Gm7 | C7 |\ntempo: 180\nexercise: arpeggio\ncount_in: 1\n"


@pytest.fixture
def rain(tmp_path):
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE)
    return path


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_build_writes_a_lesson_and_its_manifest(genex, rain, tmp_path):
    answer = genex("build", rain, "--out", tmp_path / "out")
    assert (answer.code, answer.err) == (0, "")
    folder = tmp_path / "out" / "rain"
    assert names(folder) == [
        "manifest.json",
        "rain.band.wav",
        "rain.mid",
        "rain.tab.txt",
        "rain.take.mid",
        "rain.take.wav",
        "rain.wav",
    ]
    for name in names(folder)[1:]:
        assert name in answer.out
    manifest = json.loads((folder / "manifest.json").read_text())
    listed = {entry["name"]: entry for entry in manifest["files"]}
    for name, entry in listed.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == entry["sha256"]
    assert listed["rain.wav"]["length_samples"] == 8 * 60 * 48_000 // 180
    assert abs(listed["rain.wav"]["integrated_lufs"] + 14) <= 0.2
    assert listed["rain.wav"]["true_peak_dbtp"] <= -1


def test_building_again_gives_the_same_bytes(genex, rain, tmp_path, monkeypatch):
    """With the notes synthesised, with notes from the cache, and with another cache."""
    for number, out in enumerate(("one", "two", "three")):
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / f"cache{number // 2}"))
        assert genex("build", rain, "--out", tmp_path / out).code == 0
    first, *others = (tmp_path / out / "rain" for out in ("one", "two", "three"))
    for name in names(first):
        for other in others:
            assert (first / name).read_bytes() == (other / name).read_bytes(), name


def test_check_says_what_a_recipe_gives_and_writes_nothing(genex, rain, tmp_path):
    answer = genex("check", rain)
    assert answer.code == 0
    assert "in order: Rain, 2 bars of 4/4" in answer.out
    assert names(tmp_path) == ["rain.yaml"]
    assert "Medium swing at 180 (made for 90 to 210)" in answer.out
    (data,) = json.loads(genex("check", rain, "--json").out)
    assert data["feel_tempo"] == {"from": 90, "to": 210} and data["notes"] == []
    assert (data["ok"], data["slug"], data["bars"]) == (True, "rain", 2)


def test_check_says_how_fast_it_gets(genex, tmp_path):
    recipe = tmp_path / "steps.yaml"
    recipe.write_text("chords: G | D\nmeter: 6/8\ntempo_steps: {start: 50, end: 70, step: 10}\n")
    assert " at 50 to 70 (" in genex("check", recipe).out
    (data,) = json.loads(genex("check", recipe, "--json").out)
    assert (data["tempo"], data["last_tempo"]) == (50, 70)


def test_a_tempo_that_the_feel_is_not_made_for_is_noted_and_is_no_error(genex, tmp_path):
    recipe = tmp_path / "fast.yaml"
    recipe.write_text("title: Fast\nchords: C\nfeel: ballad\ntempo: 260\noutputs: midi\n")
    for words in (("check", recipe), ("build", recipe, "--out", tmp_path / "out")):
        answer = genex(*words)
        assert answer.code == 0
        assert answer.err.startswith(f"{recipe}:4:8: note: tempo 260 lies outside 48 to 84")
        assert "fast-swing" in answer.err and answer.err.count("\n") == 1
    assert (tmp_path / "out" / "fast" / "fast.mid").exists()
    (data,) = json.loads(genex("check", recipe, "--json").out)
    assert len(data["notes"]) == 1


@pytest.mark.parametrize(
    ("lesson", "code", "message"),
    [
        ("{exercise: {kind: tour, forms: Q}}", 2, "s.yaml:4:11: there is no form 'Q'"),
        ("{exercise: tour, feel: bosa}", 2, "s.yaml:4:11: there is no feel 'bosa'"),
        ("{exercise: tour, feel: ballad, tempo: 260}", 0, "s.yaml:4:11: note: tempo 260"),
    ],
)
def test_what_is_to_be_said_of_a_lesson_from_a_template_is_said_at_the_template(
    genex, tmp_path, lesson, code, message
):
    (tmp_path / "s.yaml").write_text(f"title: S\nmatrix:\n  types: m7 7\n  lesson: {lesson}\n")
    answer = genex("check", tmp_path / "s.yaml")
    assert (answer.code, message in answer.err, answer.err.count("s.yaml:")) == (code, True, 1)


def test_check_reports_every_wrong_recipe(genex, rain, tmp_path):
    for name, text in (("a.yaml", "chords: Hm"), ("b.yaml", "tempo: 0\nchords: C")):
        (tmp_path / name).write_text(text)
    answer = genex("check", tmp_path / "a.yaml", rain, tmp_path / "b.yaml")
    assert answer.code == 2
    assert "a.yaml:1:9: " in answer.err and "b.yaml:1:8: " in answer.err
    assert "in order" in answer.out
    wrong = json.loads(genex("check", tmp_path / "a.yaml", "--json").out)[0]
    assert (wrong["ok"], wrong["line"], wrong["column"]) == (False, 1, 9)


BAD = [
    ("chords: Gm7 | Hm7", 2, "bad.yaml:1:15"),
    ("chords: C\ntempoo: 90", 2, "did you mean 'tempo'?"),
    ("chords: C\ntempo: 0", 2, "too small"),
    ("chords: C\ntempo: 10000", 2, "too large"),
    ("chords: ''", 2, "chart is empty"),
    ("chords: C F G A B", 2, "4 beats, and 5"),
    ("chords: [", 2, "list that begins here"),
    ("a: &a [x]\nb: [*a, *a]", 2, "anchors"),
]


@pytest.mark.parametrize(("text", "code", "message"), BAD)
def test_wrong_input_is_one_message_and_leaves_earlier_files_alone(
    genex, rain, tmp_path, text, code, message
):
    out = tmp_path / "out"
    genex("build", rain, "--out", out)
    before = {path.name: path.read_bytes() for path in (out / "rain").iterdir()}
    bad = tmp_path / "bad.yaml"
    bad.write_text(f"{text}\ntitle: Rain\n")
    answer = genex("build", bad, "--out", out)
    assert answer.code == code
    assert message in answer.err
    assert "Traceback" not in answer.err
    assert {path.name: path.read_bytes() for path in (out / "rain").iterdir()} == before
    assert names(out) == ["rain"]


def test_nothing_is_built_if_one_of_several_recipes_is_wrong(genex, rain, tmp_path):
    (tmp_path / "bad.yaml").write_text("chords: Hm")
    assert genex("build", rain, tmp_path / "bad.yaml", "--out", tmp_path / "out").code == 2
    assert not (tmp_path / "out").exists()


def test_two_recipes_of_one_title_are_refused(genex, rain, tmp_path):
    (tmp_path / "other.yaml").write_text(RECIPE)
    answer = genex("build", rain, tmp_path / "other.yaml", "--out", tmp_path / "out")
    assert answer.code == 2
    assert "also made by" in answer.err


@pytest.mark.parametrize("title", ["../../escape", "a/b/c", "..", "🎸", "C:\\con"])
def test_no_title_leads_out_of_the_output_folder(genex, tmp_path, title):
    recipe = tmp_path / "r.yaml"
    recipe.write_text(f"title: {json.dumps(title)}\nchords: C\noutputs: midi\n")
    out = tmp_path / "deep" / "out"
    assert genex("build", recipe, "--out", out).code == 0
    assert len(names(out)) == 1
    assert names(tmp_path) == ["deep", "r.yaml"] and names(tmp_path / "deep") == ["out"]


def test_missing_recipe_unwritable_folder_and_bad_soundfont(genex, rain, tmp_path):
    missing = genex("build", tmp_path / "nowhere.yaml")
    assert (missing.code, "there is no file" in missing.err) == (2, True)
    (tmp_path / "file").write_text("")
    blocked = genex("build", rain, "--out", tmp_path / "file")
    assert (blocked.code, "cannot be written" in blocked.err) == (2, True)
    (tmp_path / "noise.sf2").write_bytes(b"not a soundfont")
    silent = genex("build", rain, "--out", tmp_path / "out", "--soundfont", tmp_path / "noise.sf2")
    assert (silent.code, "noise.sf2" in silent.err) == (2, True)
    absent = genex("build", rain, "--out", tmp_path / "out", "--soundfont", tmp_path / "none.sf2")
    assert (absent.code, "none.sf2" in absent.err) == (2, True)
    assert not (tmp_path / "out" / "rain").exists()


LIMITED = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))
from genex.cli import main
sys.argv = ["genex", "build", sys.argv[1], "--out", sys.argv[2], "--rebuild"]
main()
"""


def test_every_output_can_be_asked_for(genex, tmp_path):
    recipe = tmp_path / "all.yaml"
    recipe.write_text(
        "title: All\nchords: Gm7 | C7\ntempo: 200\nexercise: arpeggio\n"
        "audio: {minus: bass, format: flac}\n"
        f"outputs: {' '.join(name for name in get_args(OutputName) if name != 'answers')}\n"
    )
    assert genex("build", recipe, "--out", tmp_path / "out").code == 0
    folder = tmp_path / "out" / "all"
    kinds = {entry["kind"] for entry in json.loads((folder / "manifest.json").read_text())["files"]}
    assert kinds >= {
        "midi", "midi take", "loop", "band loop", "loop without bass", "stem", "take", "tab", "captions",
        "captions take", "timeline", "timeline take", "handout", "chart", "diagrams", "musicxml",
        "musicxml lead sheet",
    }  # fmt: skip
    assert (folder / "all.handout.pdf").read_bytes().startswith(b"%PDF")
    assert {"all.stem-bass.flac", "all.minus-bass.flac", "all.shapes-gm7.svg"} <= set(names(folder))


def test_calls_come_with_answers_in_a_file_of_their_own(genex, tmp_path):
    recipe = tmp_path / "echo.yaml"
    recipe.write_text(
        "title: Echo\nchords: Gm7 | C7\nexercise: {kind: calls, calls: 2}\n"
        "outputs: answers captions midi\n"
    )
    assert genex("build", recipe, "--out", tmp_path / "out").code == 0
    folder = tmp_path / "out" / "echo"
    assert "1. bars 1-2 (level 1): Gm7 | C7" in (folder / "echo.answers.txt").read_text()
    captions = (folder / "echo.vtt").read_text().lower()
    assert "listen" in captions and "play" in captions


def test_no_room_for_the_sound_leaves_the_earlier_files_and_no_partial_one(genex, rain, tmp_path):
    out = tmp_path / "out"
    genex("build", rain, "--out", out)
    before = {path.name: path.read_bytes() for path in (out / "rain").iterdir()}
    run = subprocess.run(
        [sys.executable, "-c", LIMITED, str(rain), str(out)], capture_output=True, text=True, check=False
    )
    assert run.returncode == 1
    assert "rain.wav cannot be written" in run.stderr
    assert "Traceback" not in run.stderr
    assert {path.name: path.read_bytes() for path in (out / "rain").iterdir()} == before
    assert names(out) == ["rain"]


def test_schema_is_json_schema(genex):
    schema = json.loads(genex("schema").out)
    assert schema["$schema"].endswith("2020-12/schema")
    assert "swing" in schema["else"]["properties"]["feel"]["examples"]


def test_groove_files_have_a_schema_of_their_own(genex):
    schema = json.loads(genex("schema", "groove").out)
    assert schema["$schema"].endswith("2020-12/schema")
    assert "walking" in schema["$defs"]["BassFields"]["properties"]
    assert json.loads(genex("schema", "recipe").out) == json.loads(genex("schema").out)
    assert genex("schema", "song").code == 2


def test_every_example_is_valid_by_the_schema(genex):
    """[package: jsonschema] reads it as an editor does, and ruamel.yaml the recipe."""
    schema = json.loads(genex("schema").out)
    jsonschema.Draft202012Validator.check_schema(schema)
    reader = jsonschema.Draft202012Validator(schema)
    examples = sorted(example_recipes().glob("*.yaml"))
    assert len(examples) > 20
    for path in examples:
        recipe = YAML(typ="safe").load(path.read_text("utf-8"))
        assert not list(reader.iter_errors(recipe)), path.stem
        assert not reader.is_valid({**recipe, "style": "swing"}), path.stem


def test_new_writes_a_recipe_that_is_in_order_and_never_overwrites(genex, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert genex("new", "Rain in May").out == "wrote rain-in-may.yaml\n"
    assert genex("check", "rain-in-may.yaml").code == 0
    again = genex("new", "Rain in May")
    assert (again.code, "exists already" in again.err) == (2, True)
    assert genex("new", "copy.yaml", "--example", "kettle-on").code == 0
    assert "A7" in (tmp_path / "copy.yaml").read_text()
    assert "did you mean 'kettle-on'" in genex("new", "x", "--example", "kettle").err


@pytest.mark.parametrize("example", sorted(path.stem for path in example_recipes().glob("*.yaml")))
def test_a_copy_of_an_example_has_a_title_of_its_own(genex, tmp_path, monkeypatch, example):
    monkeypatch.chdir(tmp_path)
    assert genex("new", 'My "first" \\1', "--example", example).code == 0
    (path,) = tmp_path.glob("my-first*.yaml")
    (data,) = json.loads(genex("check", path, "--json").out)
    assert data["title"] == 'My "first" \\1'


def test_a_copied_series_is_not_overwritten_by_a_lesson_of_its_own(genex, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    answer = genex("new", "Lantern Street", "--example", "first-term")
    assert answer.code == 2
    assert "'lantern-street.yaml' is the name of a lesson of 'first-term' too" in answer.err
    assert not list(tmp_path.iterdir())


def test_an_example_with_a_feel_of_its_own_brings_the_groove_file(genex, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert genex("new", "mine.yaml", "--example", "harbour-lights").code == 0
    assert (tmp_path / "grooves" / "harbour-six.yaml").is_file()
    assert genex("check", "mine.yaml").code == 0


def test_examples_are_listed(genex):
    listed = json.loads(genex("examples", "--json").out)
    assert len(listed) >= 5
    assert listed[0]["name"] in genex("examples").out


def test_a_pipe_gets_plain_lines(rain, tmp_path):
    run = subprocess.run(
        [sys.executable, "-m", "genex.cli", "build", str(rain), "--out", str(tmp_path / "out")],
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stderr == ""
    assert "\r" not in run.stdout and "\x1b" not in run.stdout


def test_a_terminal_without_unicode_is_no_fault():
    run = subprocess.run(
        [sys.executable, "-m", "genex.cli", "chord", "Cø"],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        check=True,
    )
    assert b"half-diminished" in run.stdout and b"fault" not in run.stderr


def test_chords_that_differ_in_a_sign_have_pictures_of_their_own(genex, tmp_path):
    recipe = tmp_path / "signs.yaml"
    recipe.write_text(
        "title: Signs\nchords: C | C+ | C° | CΔ | Cø | Cm7 | CM7 | C+7 | C-7\noutputs: diagrams\n"
    )
    assert genex("build", recipe, "--out", tmp_path / "out").code == 0
    pictures = [name for name in names(tmp_path / "out" / "signs") if name.endswith(".svg")]
    assert len(pictures) == 7
    assert {"signs.shapes-c.svg", "signs.shapes-caug.svg", "signs.shapes-cdim.svg"} <= set(pictures)


def test_a_wrong_option_is_answered_by_usage(genex):
    answer = genex("build", "--oout", "x")
    assert answer.code == 2
    assert "Traceback" not in answer.err


def test_help_names_every_command(genex):
    text = genex("--help").out
    for command in ("build", "check", "new", "schema", "examples"):
        assert command in text


def test_importing_genex_has_no_side_effects():
    code = (
        "import sys; before = set(sys.modules); import genex; print(sorted(set(sys.modules) - before))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "['genex']"


def test_help_loads_no_heavy_library():
    code = (
        "import sys\nfrom genex import cli\nsys.argv = ['genex', '--help']\n"
        "try:\n    cli.main()\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'pydantic', 'mido', 'ruamel', 'scipy', 'fluidsynth', 'soundfile',\n"
        "    'sqlite3', 'pretty_midi', 'resvg_py', 'typst', 'verovio',\n"
        "    'genex.audio.sound', 'genex.compose'}\n"
        "print('loaded:', sorted(heavy & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.rstrip().endswith("loaded: []")


def test_chord_answers_with_notes_degrees_and_guide_tones(genex):
    data = json.loads(genex("chord", "Cdim7", "--json").out)
    assert data["notes"] == ["C", "Eb", "Gb", "Bbb"]
    assert data["degrees"] == ["1", "b3", "b5", "bb7"]
    assert (data["symbol"], data["root"], data["bass"]) == ("Cdim7", "C", "C")
    assert data["guide_tones"] == ["Eb", "Bbb"]
    assert "diminished seventh" in data["names"]
    assert len(json.loads(genex("chord", "C", "F#7alt", "--json").out)) == 2
    assert "guide tones  B (3), F (b7)" in genex("chord", "G7").out


def test_a_wrong_chord_symbol_is_answered_with_its_position(genex):
    answer = genex("chord", "Cmaj77")
    assert answer.code == 2
    assert "Cmaj77" in answer.err and "character" in answer.err


def test_shapes_as_data(genex):
    data = json.loads(genex("shapes", "C", "--json").out)
    assert data["chord"] == "C"
    assert sorted(shape["form"] for shape in data["shapes"]) == ["A", "C", "D", "E", "G", "open"]
    for shape in data["shapes"]:
        assert set(shape) == {"form", "position", "notes", "path"}
        assert {"string", "fret", "pitch", "degree", "finger"} <= set(shape["notes"][0])
        assert {note["move"] for note in shape["path"]} <= {"none", "roll", "shift"}


def test_shapes_as_text_and_picture(genex, tmp_path):
    assert "E form, 8th position" in genex("shapes", "C").out
    assert genex("shapes", "C", "--form", "E").out.count("position") == 1
    assert genex("shapes", "C", "--scale", "dorian").out.startswith("C dorian")
    for name, start in (("c.svg", b"<svg"), ("c.png", b"\x89PNG")):
        assert genex("shapes", "C", "--picture", tmp_path / name).code == 0
        assert (tmp_path / name).read_bytes().lstrip().startswith(start)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("C", "--form", "H"), "forms are C, A, G, E, D"),
        (("C", "--tuning", "drop Q"), "tuning"),
        (("C", "--tuning", "E2 X9"), "X9"),
        (("C", "--capo", "30"), "capo"),
        (("C", "--scale", "doric"), "dorian"),
        (("C", "--picture", "c.gif"), ".svg or .png"),
    ],
)
def test_shapes_that_cannot_be_shown(genex, words, message):
    answer = genex("shapes", *words)
    assert answer.code == 2
    assert message in answer.err
    assert "Traceback" not in answer.err


def test_feels_are_listed(genex):
    listed = json.loads(genex("feels", "--json").out)
    assert {"swing", "bossa"} <= {feel["name"] for feel in listed}
    assert "Bossa nova" in genex("feels").out


@pytest.fixture
def phrase(tmp_path):
    """C E G C up and down in quarters, written by mido."""
    import mido

    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    for midi in (60, 64, 67, 72, 67, 64, 60):
        track.append(mido.Message("note_on", note=midi, velocity=90, time=0))
        track.append(mido.Message("note_off", note=midi, velocity=0, time=480))
    file.save(tmp_path / "phrase.mid")
    return tmp_path / "phrase.mid"


def test_tab_of_a_midi_phrase(genex, phrase):
    from tests.export.tab_reader import read_tab

    page = genex("tab", phrase).out
    assert [note.midi for note in read_tab(page)] == [60, 64, 67, 72, 67, 64, 60]
    data = json.loads(genex("tab", phrase, "--json").out)
    assert [note["pitch"] for note in data["notes"]] == ["C4", "E4", "G4", "C5", "G4", "E4", "C4"]
    assert data["strings"][0] == "E4" and {"string", "fret", "finger", "move"} <= set(data["notes"][0])
    high = genex("tab", phrase, "--position", 8)
    assert [note.midi for note in read_tab(high.out)] == [60, 64, 67, 72, 67, 64, 60]
    assert high.err == ""


def test_a_phrase_that_does_not_lie_in_the_position_asked_for_is_noted(genex, phrase):
    answer = genex("tab", phrase, "--position", 20)
    assert answer.code == 0
    assert answer.err.startswith("note: position 20 holds frets 20 to 23, and for 2 of the 7 notes")
    assert "without a shift it lies in position" in answer.err and " 8," in answer.err
    json.loads(genex("tab", phrase, "--position", 20, "--json").out)


def test_midi_files_that_have_no_tab(genex, phrase, tmp_path):
    (tmp_path / "noise.mid").write_bytes(b"MThd noise")
    for words, message in [
        ((tmp_path / "none.mid",), "there is no file"),
        ((tmp_path / "noise.mid",), "not a Standard MIDI File"),
        ((tmp_path,), "folder"),
        ((phrase, "--track", 4), "no track 4"),
        ((phrase, "--position", 40), "position 40"),
        ((phrase, "--tuning", "four-string bass"), "E1"),
    ]:
        answer = genex("tab", *words)
        assert (answer.code, message in answer.err) == (2, True), (words, answer)
