"""The command line as a user meets it."""

import hashlib
import json
import subprocess
import sys

import pytest

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


def test_building_twice_gives_the_same_bytes(genex, rain, tmp_path):
    for out in ("one", "two"):
        assert genex("build", rain, "--out", tmp_path / out).code == 0
    first, second = (tmp_path / out / "rain" for out in ("one", "two"))
    for name in names(first):
        assert (first / name).read_bytes() == (second / name).read_bytes(), name


def test_check_says_what_a_recipe_gives_and_writes_nothing(genex, rain, tmp_path):
    answer = genex("check", rain)
    assert answer.code == 0
    assert "in order: Rain, 2 bars of 4/4" in answer.out
    assert names(tmp_path) == ["rain.yaml"]
    (data,) = json.loads(genex("check", rain, "--json").out)
    assert (data["ok"], data["slug"], data["bars"]) == (True, "rain", 2)


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
    ("chords: [", 2, "cannot be read as YAML"),
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
sys.argv = ["genex", "build", sys.argv[1], "--out", sys.argv[2]]
main()
"""


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
    assert "swing" in schema["properties"]["feel"]["examples"]


def test_new_writes_a_recipe_that_is_in_order_and_never_overwrites(genex, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert genex("new", "Rain in May").out == "wrote rain-in-may.yaml\n"
    assert genex("check", "rain-in-may.yaml").code == 0
    again = genex("new", "Rain in May")
    assert (again.code, "exists already" in again.err) == (2, True)
    assert genex("new", "copy.yaml", "--example", "kettle-on").code == 0
    assert "A7" in (tmp_path / "copy.yaml").read_text()
    assert "did you mean 'kettle-on'" in genex("new", "x", "--example", "kettle").err


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
        "heavy = {'numpy', 'pydantic', 'mido', 'ruamel', 'scipy', 'fluidsynth'}\n"
        "print('loaded:', sorted(heavy & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.rstrip().endswith("loaded: []")
